-- +goose Up

-- Addresses at which a calendar program reads what comes. What opens one is kept as a checksum.
CREATE TABLE calendar (
	cellar BLOB   NOT NULL,
	id     BLOB   NOT NULL,
	person BLOB   NOT NULL, -- whose it is; zero: of somebody at this machine who did not log in
	name   TEXT   NOT NULL,
	words  TEXT   NOT NULL, -- the units chosen when it was made, as the settings write them
	zone   TEXT   NOT NULL, -- the zone of time, the same; empty: that of each batch
	sum    BLOB   NOT NULL, -- checksum of its key
	made   BIGINT NOT NULL, -- nanoseconds since 1970
	PRIMARY KEY (cellar, id)
);
CREATE UNIQUE INDEX calendar_sum ON calendar (cellar, sum);

-- What was last told of each event of a calendar, so that one that moved is known as the same.
CREATE TABLE calendar_event (
	cellar   BLOB   NOT NULL,
	calendar BLOB   NOT NULL,
	uid      TEXT   NOT NULL,
	sum      BLOB   NOT NULL, -- checksum of what was told
	sequence BIGINT NOT NULL, -- raised with each change
	revised  BIGINT NOT NULL, -- nanoseconds since 1970
	PRIMARY KEY (cellar, calendar, uid)
);

-- What somebody wants to be reminded of later.
CREATE TABLE put_off (
	cellar BLOB   NOT NULL,
	person BLOB   NOT NULL, -- zero: somebody at this machine who did not log in
	batch  BLOB   NOT NULL,
	what   TEXT   NOT NULL, -- the key of the action
	until  BIGINT NOT NULL, -- nanoseconds since 1970
	PRIMARY KEY (cellar, person, batch, what)
);
