-- +goose Up

-- Who may come in from beyond this machine, and by which key. No secret stands here as it
-- is typed: a password is an Argon2id hash, a key and a session are checksums.

CREATE TABLE person (
	cellar BLOB   NOT NULL,
	id     BLOB   NOT NULL,
	name   TEXT   NOT NULL,
	folded TEXT   NOT NULL, -- the name in small letters: no two people have one
	role   TEXT   NOT NULL, -- owner, brewer or viewer
	secret TEXT   NOT NULL, -- the password's hash with its parameters and salt
	made   BIGINT NOT NULL, -- nanoseconds since 1970
	PRIMARY KEY (cellar, id)
);
CREATE UNIQUE INDEX person_name ON person (cellar, folded);

CREATE TABLE session (
	cellar BLOB   NOT NULL,
	sum    TEXT   NOT NULL, -- checksum of what the browser keeps
	data   BLOB   NOT NULL,
	until  BIGINT NOT NULL, -- nanoseconds since 1970
	PRIMARY KEY (cellar, sum)
);

CREATE TABLE device (
	cellar BLOB   NOT NULL,
	id     BLOB   NOT NULL,
	name   TEXT   NOT NULL,
	folded TEXT   NOT NULL,
	vessel BLOB   NOT NULL, -- the only one it may add readings to; or a batch that is in none of the cellar's
	sum    BLOB   NOT NULL, -- checksum of its key
	made   BIGINT NOT NULL,
	PRIMARY KEY (cellar, id)
);
CREATE UNIQUE INDEX device_name ON device (cellar, folded);
CREATE UNIQUE INDEX device_sum ON device (cellar, sum);

-- The last messages of devices that could not be read, each with the reason.
CREATE TABLE tray (
	cellar  BLOB   NOT NULL,
	id      BLOB   NOT NULL,
	device  BLOB   NOT NULL,
	at      BIGINT NOT NULL, -- nanoseconds since 1970
	reason  TEXT   NOT NULL,
	message TEXT   NOT NULL, -- the first of it
	PRIMARY KEY (cellar, id)
);
CREATE INDEX tray_device ON tray (cellar, device, at);
