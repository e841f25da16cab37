package kb

import "slices"

// State is the publication state of a case.
type State string

// The publication states.
const (
	Draft     State = "draft"
	Published State = "published"
	Withdrawn State = "withdrawn"
	Merged    State = "merged"
)

// Status is the state of the repair.
type Status string

// The repair states: an open case is a question, a closed one is evidence.
const (
	Open   Status = "open"
	Closed Status = "closed"
)

// ClosedAs tells how a closed case ended.
type ClosedAs string

// The ways in which a case ends.
const (
	Repaired          ClosedAs = "repaired"
	WentAway          ClosedAs = "went away"
	HandedOver        ClosedAs = "handed over"
	NotWorthRepairing ClosedAs = "not worth repairing"
)

// Confirmation tells how well the cure is established.
type Confirmation string

// The confirmation classes: Verified held over time, distance or cycles, or was proved by a repeat test; Reported is the writer's word.
const (
	Verified    Confirmation = "verified"
	Reported    Confirmation = "reported"
	Unconfirmed Confirmation = "unconfirmed"
)

// Result is the result of a test.
type Result string

// The test results: Pass says that the component is good.
const (
	Pass         Result = "pass"
	Fail         Result = "fail"
	Inconclusive Result = "inconclusive"
)

// Where is the place of a test.
type Where string

// The places of a test.
const (
	InPlace Where = "in place"
	Bench   Where = "bench"
)

// Action is a maintenance action; the list is closed (ISO 14224 in the main).
type Action string

// The maintenance actions.
const (
	Replace   Action = "replace"
	Repair    Action = "repair"
	Adjust    Action = "adjust"
	Refit     Action = "refit"
	Clean     Action = "clean"
	Service   Action = "service"
	Reprogram Action = "reprogram"
	Modify    Action = "modify"
	Bypass    Action = "bypass"
	Other     Action = "other"
)

// Outcome is what a fix did to the fault.
type Outcome string

// The outcomes of a fix.
const (
	Fixed          Outcome = "fixed"
	NoChange       Outcome = "no change"
	Partial        Outcome = "partial"
	Returned       Outcome = "returned"
	UnknownOutcome Outcome = "unknown"
)

// Origin is where a part came from.
type Origin string

// The origins of a part.
const (
	NewPart     Origin = "new"
	UsedPart    Origin = "used"
	RebuiltPart Origin = "rebuilt"
	OwnPart     Origin = "own"
)

// CodeStatus is the status of a fault code as the control unit reported it.
type CodeStatus string

// The code states (ISO 14229 and SAE J1939-73 wording in short).
const (
	Stored  CodeStatus = "stored"
	Pending CodeStatus = "pending"
	Active  CodeStatus = "active"
	History CodeStatus = "history"
)

// Bound tells how a reading's value bounds the quantity.
type Bound string

// The bounds of a reading; BoundOpen is an open circuit or over-range display and carries no value.
const (
	Equal     Bound = "="
	Below     Bound = "<"
	Above     Bound = ">"
	BoundOpen Bound = "open"
)

// States lists every publication state in order of life.
func States() []State { return []State{Draft, Published, Withdrawn, Merged} }

// Actions lists the closed set of actions.
func Actions() []Action {
	return []Action{Replace, Repair, Adjust, Refit, Clean, Service, Reprogram, Modify, Bypass, Other}
}

// Outcomes lists the outcomes of a fix.
func Outcomes() []Outcome { return []Outcome{Fixed, NoChange, Partial, Returned, UnknownOutcome} }

// Results lists the results of a test.
func Results() []Result { return []Result{Pass, Fail, Inconclusive} }

// Confirmations lists the confirmation classes, surest first.
func Confirmations() []Confirmation { return []Confirmation{Verified, Reported, Unconfirmed} }

func oneOf[T comparable](v T, allowed ...T) bool { return slices.Contains(allowed, v) }
