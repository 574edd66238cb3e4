-- +goose Up

-- The language in which a calendar is told: that of whoever made it. Empty: English.
ALTER TABLE calendar ADD COLUMN language TEXT NOT NULL DEFAULT '';
