-- +goose Up

-- Who may do more than read. The stamp goes up whenever sessions begun before must end.
CREATE TABLE accounts (
    name     TEXT PRIMARY KEY,
    role     TEXT NOT NULL,
    password TEXT NOT NULL,
    disabled INTEGER NOT NULL,
    stamp    INTEGER NOT NULL,
    created  INTEGER NOT NULL,
    changed  INTEGER NOT NULL
) STRICT, WITHOUT ROWID;

-- One-time links; of the token only a hash is kept. The link for the first administrator names no account.
CREATE TABLE links (
    hash    TEXT PRIMARY KEY,
    kind    TEXT NOT NULL,
    name    TEXT NOT NULL,
    made_by TEXT NOT NULL,
    created INTEGER NOT NULL,
    expires INTEGER NOT NULL,
    used    INTEGER
) STRICT, WITHOUT ROWID;
CREATE INDEX links_name ON links (name);

CREATE TABLE sessions (
    hash    TEXT PRIMARY KEY,
    data    BLOB NOT NULL,
    expires INTEGER NOT NULL
) STRICT, WITHOUT ROWID;
CREATE INDEX sessions_expires ON sessions (expires);

-- Job sheets are private: they are no part of the log, and nothing here refers to it.
CREATE TABLE sheets (
    id       TEXT PRIMARY KEY,
    revision INTEGER NOT NULL,
    case_id  TEXT NOT NULL,
    created  INTEGER NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TABLE sheet_revisions (
    sheet    TEXT NOT NULL REFERENCES sheets (id),
    revision INTEGER NOT NULL,
    at       INTEGER NOT NULL,
    actor    TEXT NOT NULL,
    body     TEXT NOT NULL,
    PRIMARY KEY (sheet, revision)
) STRICT;

CREATE TABLE sheet_members (
    sheet TEXT NOT NULL REFERENCES sheets (id),
    name  TEXT NOT NULL,
    PRIMARY KEY (sheet, name)
) STRICT, WITHOUT ROWID;
CREATE INDEX sheet_members_name ON sheet_members (name, sheet);

CREATE TABLE sheet_notes (
    sheet  TEXT NOT NULL REFERENCES sheets (id),
    n      INTEGER NOT NULL,
    at     INTEGER NOT NULL,
    author TEXT NOT NULL,
    body   TEXT NOT NULL,
    PRIMARY KEY (sheet, n)
) STRICT;

CREATE TABLE sheet_photos (
    sheet   TEXT NOT NULL REFERENCES sheets (id),
    n       INTEGER NOT NULL,
    at      INTEGER NOT NULL,
    author  TEXT NOT NULL,
    caption TEXT NOT NULL,
    width   INTEGER NOT NULL,
    height  INTEGER NOT NULL,
    picture BLOB NOT NULL,
    small   BLOB NOT NULL,
    PRIMARY KEY (sheet, n)
) STRICT;
