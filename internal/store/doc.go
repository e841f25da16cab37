// Package store keeps the casebook in a SQL database: the one source of truth that everything else is derived from.
//
// Its heart is an append-only log of revisions. Every change appends to it inside one transaction (Store.Update), at the
// next position of a counter that is locked in that same transaction, so positions are gapless and in commit order and
// no follower can skip a row. Tables of the current state (cases, codes, redirects, write-ups) are kept in step in that
// transaction; Verify proves that they equal what the log gives.
//
// Texts of write-ups are stored masked, one record a post, and older versions stay, so that the words that a fact was
// read from can always be shown.
//
// Accounts, one-time links, sessions and job sheets stand beside the log and in none of it: they are private, and can be
// deleted without a trace.
package store
