package store

import (
	"encoding/json"
	"time"

	"ruledout/kb"
	"ruledout/kb/code"
)

// EntryKind tells what a revision is about.
type EntryKind string

// The kinds of entry in the log.
const (
	EntryCase     EntryKind = "case"     // a new current content of a case
	EntryProposal EntryKind = "proposal" // a content proposed for a case, waiting for a moderator; without a content: it no longer waits
	EntryWriteup  EntryKind = "writeup"  // a new content of a write-up, made by PutWriteup
	EntryMark     EntryKind = "mark"     // a decision that is no content of a case, such as "these two are no duplicates"
	EntryParams   EntryKind = "params"   // fitted parameters of the model
)

// Entry is a change to append to the log.
type Entry struct {
	Kind   EntryKind
	ID     string // what it is about; of a case and a proposal it may be left to Case.ID
	Verb   string // what was done, such as "add", "accept", "withdraw"; the store gives it no meaning
	Actor  string // who did it
	Reason string // why, in the actor's words; may be empty
	At     time.Time
	Case   *kb.Case  // content of a case or proposal
	Body   []byte    // content of a mark or params: JSON
	Target kb.CaseID // of a case in state merged, and only there: the case that it was merged into
}

// Revision is one entry of the log as it is stored. Times are kept to the millisecond, in UTC.
type Revision struct {
	Pos    int64
	Kind   EntryKind
	ID     string
	Verb   string
	State  kb.State // of a case or proposal
	Target kb.CaseID
	At     time.Time
	Actor  string
	Reason string
	Body   []byte // JSON; empty for a proposal that no longer waits
	Hash   string // over this entry and the hash of the one before it
}

// Case decodes the content of a case or proposal revision.
func (r Revision) Case() (kb.Case, error) { return decodeCase(r.Body, r.Pos) }

// Record is a case as it stands now.
type Record struct {
	Case        kb.Case
	Pos         int64    // of the revision that gave the current content
	Proposal    *kb.Case // waiting for a moderator, nil if none
	ProposalPos int64
	Created     time.Time // of the first revision
	Changed     time.Time // of the current revision
}

// Filter selects cases; what is empty does not restrict. The values of a list are alternatives.
type Filter struct {
	States     []kb.State
	Status     kb.Status
	Keys       []code.Key
	Kind       string // of machine; compared folded, as make and model are
	Make       string
	Model      string
	Writeup    kb.WriteupKey // a source of the case, or where evidence of it stands
	Proposals  bool          // only cases with a proposal waiting
	ChangedPos int64         // only cases whose content or proposal changed after this position
	After      kb.CaseID     // only ids after this one
	Limit      int           // at most so many; 0: all
}

// Writeup is a document that a person supplied, with masked texts.
type Writeup struct {
	Key     kb.WriteupKey
	Kind    string
	Title   string
	URL     string
	Site    string
	Licence string
	File    string    // where it was read from; a change of it alone is no change
	Posted  time.Time // of the first post; zero if unknown
	Posts   []Post    // numbered 1, 2, ... in order
	Pos     int64     // set by the store: of the current version
}

// Post is what one person wrote at one time.
type Post struct {
	N       int
	Author  string
	Time    time.Time       // zero if unknown
	Text    string          // masked; offsets of evidence index it
	Page    int             // page of the thread that it stood on, 0 if unknown; a change of it alone is no new version
	Regions json.RawMessage // marked parts of Text; the store gives them no meaning
	Pos     int64           // set by the store: where this version was written
}

// Counts says how much the store holds.
type Counts struct {
	Cases     map[kb.State]int
	Open      int // published cases not yet cured
	Closed    int // published cases that are closed
	Proposals int // waiting
	Writeups  int
	Posts     int // versions included
	Revisions int64
}

// Problem is something that Verify found to be wrong.
type Problem struct {
	Check  string // which invariant
	Where  string // the position, case or write-up
	Detail string
}

// String gives the problem on one line.
func (p Problem) String() string { return p.Check + ": " + p.Where + ": " + p.Detail }
