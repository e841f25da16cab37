package kb

import (
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"iter"
	"strings"
)

// MaxRecord is the longest line, in bytes, that a file of case records may have.
const MaxRecord = 16 << 20

// DecodeCase reads one case record. Unknown fields are errors, except inside ext. The result is not validated.
func DecodeCase(data []byte) (Case, error) {
	var c Case
	if err := strict(data, &c); err != nil {
		return Case{}, err
	}
	if c.V == 0 {
		return Case{}, &Error{Kind: Invalid, Field: "v", Msg: "the version of the record is missing; this program reads version 1"}
	}
	if c.V != Version {
		return Case{}, &Error{Kind: Invalid, Field: "v", Msg: fmt.Sprintf("version %d is not known; this program reads version %d", c.V, Version)}
	}
	return c, nil
}

// EncodeCase writes one case record on one line, without the newline. Equal cases give equal bytes.
func EncodeCase(c Case) ([]byte, error) {
	c.V = Version
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	if err := enc.Encode(c); err != nil {
		return nil, fmt.Errorf("encode case %s: %w", c.ID, err)
	}
	return bytes.TrimRight(b.Bytes(), "\n"), nil
}

// Line is one line of a file of case records.
type Line struct {
	N    int
	Case Case
	ID   string // the record's id as far as it could be read, for messages about a bad line
}

// Records reads a file of case records, one JSON object a line; empty lines are passed over. A bad line yields its number and an
// *Error that names file, line and field; reading goes on after it. A failure of the reader itself ends the sequence.
func Records(r io.Reader, file string) iter.Seq2[Line, error] {
	return func(yield func(Line, error) bool) {
		s := bufio.NewScanner(r)
		s.Buffer(make([]byte, 0, 64<<10), MaxRecord)
		n := 0
		for s.Scan() {
			n++
			text := bytes.TrimSpace(bytes.TrimPrefix(s.Bytes(), []byte("\xef\xbb\xbf")))
			if len(text) == 0 {
				continue
			}
			c, err := DecodeCase(text)
			line := Line{N: n, Case: c, ID: string(c.ID)}
			if err != nil {
				line.ID = idOf(text)
				err = At(err, file, n)
			}
			if !yield(line, err) {
				return
			}
		}
		if err := s.Err(); err != nil {
			if errors.Is(err, bufio.ErrTooLong) {
				err = &Error{Kind: Invalid, File: file, Line: n + 1, Msg: fmt.Sprintf("the line is longer than %d bytes", MaxRecord)}
			}
			yield(Line{N: n + 1}, err)
		}
	}
}

// idOf finds the id of a record that could not be read otherwise.
func idOf(text []byte) string {
	var only struct {
		ID string `json:"id"`
	}
	if json.Unmarshal(text, &only) != nil {
		return ""
	}
	return only.ID
}

// strict decodes exactly one JSON value and refuses unknown fields.
func strict(data []byte, into any) error {
	dec := json.NewDecoder(bytes.NewReader(data))
	dec.DisallowUnknownFields()
	if err := dec.Decode(into); err != nil {
		return explain(err)
	}
	if _, err := dec.Token(); err != io.EOF {
		return &Error{Kind: Invalid, Msg: "there is more after the record; want one JSON object a line"}
	}
	return nil
}

// explain turns an error of encoding/json into one that names the field in plain words.
func explain(err error) error {
	var own *Error
	if errors.As(err, &own) {
		return own
	}
	var wrongType *json.UnmarshalTypeError
	if errors.As(err, &wrongType) {
		return &Error{Kind: Invalid, Field: wrongType.Field, Msg: fmt.Sprintf("a %s does not fit here", wrongType.Value)}
	}
	if field, ok := strings.CutPrefix(err.Error(), "json: unknown field "); ok {
		return &Error{Kind: Invalid, Field: strings.Trim(field, `"`), Msg: "this field is not known in a case record"}
	}
	if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
		return &Error{Kind: Invalid, Msg: "the record ends too early"}
	}
	return &Error{Kind: Invalid, Msg: "this is not JSON: " + strings.TrimPrefix(err.Error(), "json: ")}
}

// codeObject is CodeEntry without its methods, for the object form.
type codeObject CodeEntry

// UnmarshalJSON accepts a plain string or an object.
func (e *CodeEntry) UnmarshalJSON(b []byte) error {
	if b[0] == '"' {
		*e = CodeEntry{}
		return json.Unmarshal(b, &e.Code)
	}
	var o codeObject
	if err := strict(b, &o); err != nil {
		return inField("codes", err)
	}
	*e = CodeEntry(o)
	return nil
}

// MarshalJSON writes a plain string where the code is all there is.
func (e CodeEntry) MarshalJSON() ([]byte, error) {
	if e.Scheme == "" && e.Issuer == "" && e.Status == "" && e.SetAgain == nil && e.Evidence == nil && e.Confidence == 0 {
		return plain(e.Code)
	}
	return plain(codeObject(e))
}

type symptomObject struct {
	Symptom    string     `json:"symptom"`
	Present    *bool      `json:"present,omitempty"`
	Conditions []string   `json:"conditions,omitempty"`
	Evidence   []Evidence `json:"evidence,omitempty"`
	Confidence float64    `json:"confidence,omitempty"`
}

// UnmarshalJSON accepts a plain string (the symptom is present) or an object.
func (s *Symptom) UnmarshalJSON(b []byte) error {
	if b[0] == '"' {
		*s = Symptom{}
		return json.Unmarshal(b, &s.Symptom)
	}
	var o symptomObject
	if err := strict(b, &o); err != nil {
		return inField("symptoms", err)
	}
	*s = Symptom{o.Symptom, o.Present != nil && !*o.Present, o.Conditions, o.Evidence, o.Confidence}
	return nil
}

// MarshalJSON writes a plain string where a present symptom is all there is.
func (s Symptom) MarshalJSON() ([]byte, error) {
	if !s.Absent && s.Conditions == nil && s.Evidence == nil && s.Confidence == 0 {
		return plain(s.Symptom)
	}
	present := !s.Absent
	return plain(symptomObject{s.Symptom, &present, s.Conditions, s.Evidence, s.Confidence})
}

func inField(name string, err error) error {
	var e *Error
	if !errors.As(err, &e) {
		return err
	}
	c := *e
	if c.Field == "" {
		c.Field = name
	} else {
		c.Field = name + "." + c.Field
	}
	return &c
}

// plain encodes without escaping the characters of HTML.
func plain(v any) ([]byte, error) {
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	if err := enc.Encode(v); err != nil {
		return nil, err
	}
	return bytes.TrimRight(b.Bytes(), "\n"), nil
}
