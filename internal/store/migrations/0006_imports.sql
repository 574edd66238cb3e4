-- +goose Up

-- The entries with which others came in one step are few among millions. The words are those of
-- the canonical form, as bytes: "kind":"import". Within a text such marks are escaped.
CREATE INDEX entry_import ON entry (cellar, batch, position) WHERE instr(form, X'226B696E64223A22696D706F727422') > 0;
