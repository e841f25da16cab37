package kb

import (
	"errors"
	"fmt"
	"strings"
)

// Kind is the kind of an error: what an edge of the program decides on.
type Kind string

// The kinds of error.
const (
	Invalid     Kind = "invalid"     // what was given cannot be accepted as it is
	NotFound    Kind = "not found"   // no such case, write-up, term or file
	Conflict    Kind = "conflict"    // the change does not fit the present state
	Forbidden   Kind = "forbidden"   // the actor may not do this
	Unavailable Kind = "unavailable" // the data is locked, read-only, full or unreachable
	Internal    Kind = "internal"    // a fault of the program or damaged data
)

// Error is an error that a person can act on: it names the place as closely as is known.
type Error struct {
	Kind  Kind
	File  string // file or other source, empty if none
	Line  int    // 1-based, 0 if unknown
	Field string // path of the field, such as "tests[0].result"
	Msg   string
	Err   error // cause, may be nil
}

// Error gives "file:line: field: message: cause" with the parts that are known.
func (e *Error) Error() string {
	var b strings.Builder
	if e.File != "" {
		b.WriteString(e.File)
		b.WriteString(":")
	}
	if e.Line > 0 {
		if e.File == "" {
			b.WriteString("line ")
		}
		fmt.Fprintf(&b, "%d:", e.Line)
	}
	if b.Len() > 0 {
		b.WriteString(" ")
	}
	if e.Field != "" {
		b.WriteString(e.Field + ": ")
	}
	b.WriteString(e.Msg)
	if e.Err != nil && e.Err.Error() != "" {
		if e.Msg != "" {
			b.WriteString(": ")
		}
		b.WriteString(e.Err.Error())
	}
	return b.String()
}

// Unwrap gives the cause.
func (e *Error) Unwrap() error { return e.Err }

// Errorf makes an Error of a kind; a %w verb keeps the cause.
func Errorf(kind Kind, format string, args ...any) *Error {
	err := fmt.Errorf(format, args...)
	return &Error{Kind: kind, Msg: err.Error(), Err: hidden{errors.Unwrap(err)}.orNil()}
}

// hidden keeps a cause for errors.Is and errors.As whose text the message already holds.
type hidden struct{ error }

func (h hidden) Error() string { return "" }
func (h hidden) Unwrap() error { return h.error }
func (h hidden) orNil() error {
	if h.error == nil {
		return nil
	}
	return h
}

// KindOf gives the kind of the outermost Error in err's chain: Internal for any other error, empty for nil.
func KindOf(err error) Kind {
	if err == nil {
		return ""
	}
	var e *Error
	if errors.As(err, &e) {
		return e.Kind
	}
	return Internal
}

// At gives err with the file and line filled in where they are not known yet.
func At(err error, file string, line int) error {
	var e *Error
	if !errors.As(err, &e) {
		return &Error{Kind: Invalid, File: file, Line: line, Msg: err.Error()}
	}
	c := *e
	if c.File == "" {
		c.File = file
	}
	if c.Line == 0 {
		c.Line = line
	}
	return &c
}
