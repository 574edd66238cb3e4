-- +goose Up

-- How good the forecasts of days were of a batch that has ended. It can be made again from
-- them and from the last forecast; a row whose checksum does not fit counts as not there.
CREATE TABLE score (
	cellar BLOB   NOT NULL,
	batch  BLOB   NOT NULL,
	what   TEXT   NOT NULL, -- finished, gravity or ready
	days   BIGINT NOT NULL, -- forecasts that are kept
	judged BIGINT NOT NULL, -- of these, made before it came; 0 where what came was never known well enough
	held   BIGINT NOT NULL, -- of the judged, whose band held it
	scored BIGINT NOT NULL, -- of the judged, whose band had two ends
	sum    DOUBLE PRECISION NOT NULL, -- of their interval scores: seconds, or specific gravity
	seal   BLOB   NOT NULL, -- checksum of the row
	PRIMARY KEY (cellar, batch, what)
);
