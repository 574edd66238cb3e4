-- +goose Up

-- The entries that correct or take back others are few in a log of many readings, and each page of
-- an import asks for them. The words are those of the canonical form, as bytes: "supersedes":".
-- Within a text such marks are escaped.
CREATE INDEX entry_superseding ON entry (cellar, batch, position) WHERE instr(form, X'2273757065727365646573223A22') > 0;
