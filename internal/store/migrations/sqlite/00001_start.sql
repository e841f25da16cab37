-- +goose Up

-- Marks the file as a casebook ("RLDO"), so that another program's database is told apart.
PRAGMA application_id = 1380729935;

-- One row, locked by every change: positions are gapless and in commit order.
CREATE TABLE log_position (
    one  INTEGER PRIMARY KEY CHECK (one = 1),
    pos  INTEGER NOT NULL,
    hash TEXT NOT NULL
) STRICT;
INSERT INTO log_position (one, pos, hash) VALUES (1, 0, '');

CREATE TABLE revisions (
    pos    INTEGER PRIMARY KEY,
    kind   TEXT NOT NULL,
    id     TEXT NOT NULL,
    verb   TEXT NOT NULL,
    state  TEXT NOT NULL,
    target TEXT NOT NULL,
    at     INTEGER NOT NULL,
    actor  TEXT NOT NULL,
    reason TEXT NOT NULL,
    body   TEXT NOT NULL,
    hash   TEXT NOT NULL
) STRICT;
CREATE INDEX revisions_id ON revisions (kind, id, pos);

-- +goose StatementBegin
CREATE TRIGGER revisions_no_update BEFORE UPDATE ON revisions
BEGIN SELECT RAISE(ABORT, 'revisions are append-only'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER revisions_no_delete BEFORE DELETE ON revisions
BEGIN SELECT RAISE(ABORT, 'revisions are append-only'); END;
-- +goose StatementEnd

-- The current state of every case; its content is the body of the revision at pos.
CREATE TABLE cases (
    id           TEXT PRIMARY KEY,
    pos          INTEGER NOT NULL REFERENCES revisions (pos),
    first_pos    INTEGER NOT NULL REFERENCES revisions (pos),
    proposal_pos INTEGER REFERENCES revisions (pos),
    created      INTEGER NOT NULL,
    changed      INTEGER NOT NULL,
    state        TEXT NOT NULL,
    status       TEXT NOT NULL,
    kind         TEXT NOT NULL,
    make         TEXT NOT NULL,
    model        TEXT NOT NULL
) STRICT, WITHOUT ROWID;
CREATE INDEX cases_state ON cases (state, id);
CREATE INDEX cases_proposal ON cases (proposal_pos) WHERE proposal_pos IS NOT NULL;

-- The family is a function of the other columns of a key, so this one index serves both kinds of look-up.
CREATE TABLE case_codes (
    case_id TEXT NOT NULL REFERENCES cases (id),
    scheme  TEXT NOT NULL,
    family  TEXT NOT NULL,
    issuer  TEXT NOT NULL,
    code    TEXT NOT NULL,
    PRIMARY KEY (case_id, scheme, family, issuer, code)
) STRICT, WITHOUT ROWID;
CREATE INDEX case_codes_key ON case_codes (scheme, family, issuer, code, case_id);

CREATE TABLE case_writeups (
    case_id TEXT NOT NULL REFERENCES cases (id),
    writeup TEXT NOT NULL,
    PRIMARY KEY (case_id, writeup)
) STRICT, WITHOUT ROWID;
CREATE INDEX case_writeups_key ON case_writeups (writeup, case_id);

CREATE TABLE redirects (
    old_id TEXT PRIMARY KEY REFERENCES cases (id),
    new_id TEXT NOT NULL REFERENCES cases (id),
    pos    INTEGER NOT NULL REFERENCES revisions (pos)
) STRICT, WITHOUT ROWID;
CREATE INDEX redirects_new ON redirects (new_id);

-- The current state of every write-up; which versions of which posts it has, is in the body of the revision at pos.
CREATE TABLE writeups (
    writeup    TEXT PRIMARY KEY,
    pos        INTEGER NOT NULL REFERENCES revisions (pos),
    kind       TEXT NOT NULL,
    title      TEXT NOT NULL,
    url        TEXT NOT NULL,
    site       TEXT NOT NULL,
    licence    TEXT NOT NULL,
    file       TEXT NOT NULL,
    posted     INTEGER,
    post_count INTEGER NOT NULL
) STRICT, WITHOUT ROWID;

-- Versions of posts. They belong to the log: the revision at pos holds their hashes.
CREATE TABLE posts (
    writeup TEXT NOT NULL,
    n       INTEGER NOT NULL,
    pos     INTEGER NOT NULL REFERENCES revisions (pos),
    author  TEXT NOT NULL,
    at      INTEGER,
    body    TEXT NOT NULL,
    regions TEXT NOT NULL,
    hash    TEXT NOT NULL,
    PRIMARY KEY (writeup, n, pos)
) STRICT;

-- +goose StatementBegin
CREATE TRIGGER posts_no_update BEFORE UPDATE ON posts
BEGIN SELECT RAISE(ABORT, 'posts are append-only'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER posts_no_delete BEFORE DELETE ON posts
BEGIN SELECT RAISE(ABORT, 'posts are append-only'); END;
-- +goose StatementEnd
