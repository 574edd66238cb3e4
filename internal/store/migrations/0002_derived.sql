-- +goose Up

-- What stands below can all be made again from the logs. Every row carries a checksum of
-- itself; one that does not fit counts as not there.

-- A batch in short, as its log up to position tells it.
CREATE TABLE brief (
	cellar   BLOB   NOT NULL,
	batch    BLOB   NOT NULL,
	position BIGINT NOT NULL, -- of the log that it knows
	name     TEXT   NOT NULL, -- empty: the batch was never made, or its making was taken back
	vessel   BLOB   NOT NULL, -- zero: none of the cellar
	yeast    TEXT   NOT NULL, -- name under which its yeast is learnt
	pitched  BIGINT NOT NULL, -- nanoseconds since 1970, 0: none
	ended    BIGINT NOT NULL, -- the same, 0: still in its vessel
	last     BIGINT NOT NULL, -- the same, of the last thing read or done
	hours    BLOB   NOT NULL, -- checksum of the rows of sample_hour
	sum      BLOB   NOT NULL,
	PRIMARY KEY (cellar, batch)
);

-- What was read of a batch, by quantity and hour, SI.
CREATE TABLE sample_hour (
	cellar   BLOB   NOT NULL,
	batch    BLOB   NOT NULL,
	quantity BIGINT NOT NULL, -- the number of a batch.Quantity
	hour     BIGINT NOT NULL, -- hours since 1970
	count    BIGINT NOT NULL,
	lowest   DOUBLE PRECISION NOT NULL,
	highest  DOUBLE PRECISION NOT NULL,
	sum      DOUBLE PRECISION NOT NULL,
	last     DOUBLE PRECISION NOT NULL,
	PRIMARY KEY (cellar, batch, quantity, hour)
);

-- What is believed of a batch, and the last forecast.
CREATE TABLE belief (
	cellar   BLOB   NOT NULL,
	batch    BLOB   NOT NULL,
	position BIGINT NOT NULL, -- of its log, that the forecast knows
	things   BIGINT NOT NULL, -- of the cellar's own log, the same
	made     BIGINT NOT NULL, -- nanoseconds since 1970
	engine   TEXT   NOT NULL, -- version of what computed it
	prior    BLOB   NOT NULL, -- checksum of what was expected beforehand
	evidence BLOB   NOT NULL, -- checksum of the records that the members know
	seed     BIGINT NOT NULL,
	upto     BIGINT NOT NULL, -- nanoseconds since 1970: the last thing that the members know
	base     BIGINT NOT NULL, -- the same: the hour that they were conditioned for
	members  BLOB   NOT NULL,
	told     BLOB   NOT NULL,
	sum      BLOB   NOT NULL,
	PRIMARY KEY (cellar, batch)
);

-- The first forecast of each day, to be scored once the end is known. It is history: it
-- cannot be made again as it was.
CREATE TABLE forecast_day (
	cellar   BLOB   NOT NULL,
	batch    BLOB   NOT NULL,
	day      BIGINT NOT NULL, -- days since 1970, UTC
	position BIGINT NOT NULL,
	made     BIGINT NOT NULL,
	engine   TEXT   NOT NULL,
	told     BLOB   NOT NULL,
	sum      BLOB   NOT NULL,
	PRIMARY KEY (cellar, batch, day)
);

-- What a finished batch taught of its yeast, its vessel and its instruments.
CREATE TABLE lesson (
	cellar   BLOB   NOT NULL,
	batch    BLOB   NOT NULL,
	evidence BLOB   NOT NULL, -- checksum of the records and of what was expected beforehand
	engine   TEXT   NOT NULL,
	taught   BLOB   NOT NULL,
	sum      BLOB   NOT NULL,
	PRIMARY KEY (cellar, batch)
);

-- Who makes the forecast of a batch just now.
CREATE TABLE lease (
	cellar BLOB   NOT NULL,
	batch  BLOB   NOT NULL,
	holder BLOB   NOT NULL,
	until  BIGINT NOT NULL, -- nanoseconds since 1970
	PRIMARY KEY (cellar, batch)
);
