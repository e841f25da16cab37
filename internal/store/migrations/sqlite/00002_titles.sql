-- +goose Up

-- A write-up without an address is known again by its title and its posts.
CREATE INDEX writeups_title ON writeups (title, writeup);
