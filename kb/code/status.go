package code

import "strings"

// Status is the state of a code as the scanner or the writer gave it.
type Status string

// The states of a code; "" is not said.
const (
	StatusStored  Status = "stored"
	StatusPending Status = "pending"
	StatusActive  Status = "active"
	StatusHistory Status = "history"
)

// NormaliseStatus brings a word for a code's state to one of the four; ok is false for an unknown word. The empty string
// is a status: not said.
func NormaliseStatus(word string) (s Status, ok bool) {
	switch strings.ToLower(strings.TrimSpace(word)) {
	case "":
		return "", true
	case "stored", "confirmed", "permanent", "set", "logged":
		return StatusStored, true
	case "pending", "maturing", "provisional":
		return StatusPending, true
	case "active", "current", "present", "live":
		return StatusActive, true
	case "history", "historic", "historical", "inactive", "past", "previously active", "sporadic":
		return StatusHistory, true
	}
	return "", false
}

// UDSStatus is the status byte of ISO 14229-1.
type UDSStatus byte

// The bits of a UDS status byte.
const (
	TestFailed                         UDSStatus = 1 << iota
	TestFailedThisOperationCycle                 // since the cycle began
	PendingDTC                                   // failed in this or the last cycle
	ConfirmedDTC                                 // failed often enough to be stored
	TestNotCompletedSinceLastClear               // says nothing about the part yet
	TestFailedSinceLastClear                     // at least once
	TestNotCompletedThisOperationCycle           // not run in this cycle
	WarningIndicatorRequested                    // a lamp is asked for
)

// Has reports whether all bits of mask are set.
func (s UDSStatus) Has(mask UDSStatus) bool { return s&mask == mask }

// Status sums the byte up in one word: a failing confirmed code is active, a confirmed one that passes now is stored, an
// unconfirmed one that failed lately is pending, one that only failed at some time is history.
func (s UDSStatus) Status() Status {
	switch {
	case s.Has(ConfirmedDTC | TestFailed):
		return StatusActive
	case s.Has(ConfirmedDTC):
		return StatusStored
	case s.Has(PendingDTC), s.Has(TestFailed):
		return StatusPending
	case s.Has(TestFailedSinceLastClear):
		return StatusHistory
	}
	return ""
}
