package kb

import (
	"encoding/json"

	"ruledout/kb/code"
)

// Version is the version of the case record that this program reads and writes.
const Version = 1

// CaseID identifies a case for ever.
type CaseID string

// WriteupKey identifies a write-up: its canonical address or a hash of its first post.
type WriteupKey string

// Case is a repair: open it is a question, closed it is evidence. Its JSON form is the exchange format, version 1.
type Case struct {
	V              int                        `json:"v"`
	ID             CaseID                     `json:"id,omitempty"`
	Title          string                     `json:"title,omitempty"`
	Reporter       string                     `json:"reporter,omitempty"`    // who tells of their own machine, as named in the write-up
	Contributor    string                     `json:"contributor,omitempty"` // account or person who entered the case
	FullForm       bool                       `json:"full_form,omitempty"`   // every symptom was asked: what is not mentioned is unknown, not unnoticed
	Machine        Machine                    `json:"machine,omitzero"`
	Codes          []CodeEntry                `json:"codes,omitempty"`
	Symptoms       []Symptom                  `json:"symptoms,omitempty"`
	Tests          []Test                     `json:"tests,omitempty"`
	Fixes          []Fix                      `json:"fixes,omitempty"`
	Status         Status                     `json:"status,omitempty"`
	ClosedAs       ClosedAs                   `json:"closed_as,omitempty"`
	Confirmation   Confirmation               `json:"confirmation,omitempty"`
	StatusEvidence []Evidence                 `json:"status_evidence,omitempty"`
	State          State                      `json:"state,omitempty"`
	MergedInto     CaseID                     `json:"merged_into,omitempty"` // of a merged case: the one that stands for it
	Sources        []Source                   `json:"sources,omitempty"`
	FollowUps      []FollowUp                 `json:"follow_ups,omitempty"`
	Doubts         []Doubt                    `json:"doubts,omitempty"`
	Ext            map[string]json.RawMessage `json:"ext,omitempty"` // preserved and ignored
}

// Evidence is a span of masked, stored text that a fact was read from.
type Evidence struct {
	Writeup WriteupKey `json:"writeup"`
	Post    int        `json:"post"`  // 1-based
	Start   int        `json:"start"` // byte offset into the post's masked text
	End     int        `json:"end"`   // byte offset past the last byte
	Quote   string     `json:"quote"` // those very words
}

// Reading is a quantity with its unit, judged against a limit when one is known.
type Reading struct {
	Value    *float64 `json:"value,omitempty"` // none with BoundOpen
	Upper    *float64 `json:"upper,omitempty"` // upper end when a range was written
	Unit     string   `json:"unit,omitempty"`
	Text     string   `json:"text,omitempty"`     // as written
	Bound    Bound    `json:"bound,omitempty"`    // empty means Equal
	Accuracy string   `json:"accuracy,omitempty"` // of the instrument, as stated
	Limit    *Limit   `json:"limit,omitempty"`
}

// Limit is what a reading is judged against.
type Limit struct {
	Low    *float64 `json:"low,omitempty"`
	High   *float64 `json:"high,omitempty"`
	Unit   string   `json:"unit,omitempty"`
	Source string   `json:"source,omitempty"`
}

// Measure is a value with its unit, such as an odometer reading.
type Measure struct {
	Value float64 `json:"value"`
	Unit  string  `json:"unit"`
}

// VINFacts is what is kept of a vehicle identification number: never its serial.
type VINFacts struct {
	Region    string `json:"region,omitempty"`
	ModelYear int    `json:"model_year,omitempty"`
	Check     string `json:"check,omitempty"` // valid, invalid or not used
}

// Machine is what is broken.
type Machine struct {
	Kind       string     `json:"kind,omitempty"`
	Make       string     `json:"make,omitempty"`
	Model      string     `json:"model,omitempty"`
	Year       int        `json:"year,omitempty"`
	Variant    string     `json:"variant,omitempty"` // engine, trim, body
	Odometer   *Measure   `json:"odometer,omitempty"`
	Hours      *float64   `json:"hours,omitempty"`
	Cycles     *float64   `json:"cycles,omitempty"`
	VIN        *VINFacts  `json:"vin,omitempty"`
	Evidence   []Evidence `json:"evidence,omitempty"`
	Confidence float64    `json:"confidence,omitempty"`
}

// CodeEntry is a fault code as it stands in a case.
type CodeEntry struct {
	Code       string      `json:"code"`
	Scheme     code.Scheme `json:"scheme,omitempty"` // empty: told from the spelling
	Issuer     string      `json:"issuer,omitempty"` // empty: the standard or the make, by rule
	Status     CodeStatus  `json:"status,omitempty"`
	SetAgain   *bool       `json:"set_again,omitempty"` // whether it set again after clearing
	Evidence   []Evidence  `json:"evidence,omitempty"`
	Confidence float64     `json:"confidence,omitempty"`
}

// Symptom is what the user of the machine notices, or notes as absent.
type Symptom struct {
	Symptom    string
	Absent     bool // JSON "present": false
	Conditions []string
	Evidence   []Evidence
	Confidence float64
}

// Test is one check of one component by one method.
type Test struct {
	Step       int        `json:"step,omitempty"`   // one sequence over tests and fixes; 0: order unknown
	Test       string     `json:"test"`             // as named
	Method     string     `json:"method,omitempty"` // method of the vocabulary, empty: told from Test
	Where      Where      `json:"where,omitempty"`
	Component  string     `json:"component"`
	Result     Result     `json:"result,omitempty"` // empty: only a reading is known, not judged
	Reading    *Reading   `json:"reading,omitempty"`
	Minutes    float64    `json:"minutes,omitempty"`
	Evidence   []Evidence `json:"evidence,omitempty"`
	Confidence float64    `json:"confidence,omitempty"`
}

// Fix is a maintenance action on a component.
type Fix struct {
	Step       int        `json:"step,omitempty"`
	Action     Action     `json:"action"`
	Component  string     `json:"component"`
	Outcome    Outcome    `json:"outcome,omitempty"` // empty counts as unknown
	Minutes    float64    `json:"minutes,omitempty"`
	Part       *Part      `json:"part,omitempty"`
	PartsCost  *Money     `json:"parts_cost,omitempty"`
	Evidence   []Evidence `json:"evidence,omitempty"`
	Confidence float64    `json:"confidence,omitempty"`
}

// Part is the part that was fitted.
type Part struct {
	Number      string `json:"number,omitempty"`
	Origin      Origin `json:"origin,omitempty"`
	NeedsCoding *bool  `json:"needs_coding,omitempty"`
}

// Money is an amount in a currency (ISO 4217), as a decimal string so that nothing is rounded.
type Money struct {
	Amount   string `json:"amount"`
	Currency string `json:"currency"`
}

// Source says where a case comes from.
type Source struct {
	Writeup WriteupKey `json:"writeup,omitempty"`
	Kind    string     `json:"kind,omitempty"`
	Title   string     `json:"title,omitempty"`
	URL     string     `json:"url,omitempty"`
	Posted  string     `json:"posted,omitempty"` // date, ISO 8601
	Licence string     `json:"licence,omitempty"`
	Trusted bool       `json:"trusted,omitempty"` // imported as a source that counts in full
}

// FollowUp tells later whether the repair held.
type FollowUp struct {
	Date     string   `json:"date,omitempty"` // ISO 8601
	Held     bool     `json:"held"`           // false: the fault returned
	Odometer *Measure `json:"odometer,omitempty"`
	Note     string   `json:"note,omitempty"`
}

// Doubt is a question to the contributor that reading the write-up left open.
type Doubt struct {
	About    string     `json:"about"` // the fact in doubt: "fixes[1].outcome"
	Question string     `json:"question"`
	Evidence []Evidence `json:"evidence,omitempty"`
}
