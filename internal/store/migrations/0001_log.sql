-- +goose Up

-- The cellar whose logs these are. Its id leads every key.
CREATE TABLE cellar (
	id BLOB NOT NULL PRIMARY KEY
);

-- The truth: every entry in its canonical form, with a checksum chained to that of the
-- entry stored before it in the same log. The other columns repeat what the form says.
CREATE TABLE entry (
	cellar   BLOB    NOT NULL,
	id       BLOB    NOT NULL,
	batch    BLOB    NOT NULL, -- zero: the cellar's own log
	position BIGINT  NOT NULL, -- in the log, from 1, in storing order
	time     BIGINT  NOT NULL, -- nanoseconds since 1970, as first said; corrections do not change it
	form     BLOB    NOT NULL,
	sum      BLOB    NOT NULL,
	PRIMARY KEY (cellar, id)
);
CREATE UNIQUE INDEX entry_position ON entry (cellar, batch, position);
CREATE INDEX entry_time ON entry (cellar, batch, time);

-- The end of each log, raised by the transaction that stores.
CREATE TABLE batch (
	cellar BLOB   NOT NULL,
	id     BLOB   NOT NULL,
	head   BIGINT NOT NULL, -- position of the last entry
	sum    BLOB   NOT NULL, -- checksum of the last entry
	PRIMARY KEY (cellar, id)
);
