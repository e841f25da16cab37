package kb

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"
)

// MergeField is one field of cases that are to become one, side by side.
type MergeField struct {
	Name    string       `json:"name"`
	List    bool         `json:"list"`    // all that differs can stand beside each other
	Differs bool         `json:"differs"` // the cases that say anything do not say the same
	Values  []MergeValue `json:"values"`  // one of each case, in their order
	Default CaseID       `json:"default"` // whose value stays unless another is chosen; empty: all are joined, or there is none
	Joined  []string     `json:"joined"`  // what stays then, in lines
}

// MergeValue is what one case says in a field.
type MergeValue struct {
	Case  CaseID          `json:"case"`
	Value json.RawMessage `json:"value"` // as in the record; make and model together, status with how it was closed and confirmed
	Lines []string        `json:"lines"` // the same for people
}

// CompareCases sets cases side by side, field by field, with what Merge would make of them.
func CompareCases(cases []Case, opt MergeOptions) ([]MergeField, error) {
	if len(cases) == 0 {
		return nil, nil
	}
	joined, err := Merge(cases[0], cases[1:], opt)
	if err != nil {
		return nil, err
	}
	var out []MergeField
	for _, f := range mergeFields {
		x := MergeField{Name: f.name, List: f.list, Joined: linesOf(f.get(&joined))}
		said := map[string]bool{}
		for i := range cases {
			v := f.get(&cases[i])
			value := jsonOf(v)
			x.Values = append(x.Values, MergeValue{Case: cases[i].ID, Value: json.RawMessage(value), Lines: linesOf(v)})
			if len(linesOf(v)) > 0 {
				said[strings.Join(linesOf(v), "\n")] = true
			}
			if value == jsonOf(f.get(&joined)) && x.Default == "" && !f.list {
				x.Default = cases[i].ID
			}
		}
		x.Differs = len(said) > 1
		out = append(out, x)
	}
	return out, nil
}

// linesOf writes the value of a field for people, an entry of a list a line; nothing where nothing is said.
func linesOf(v any) []string {
	out := []string{}
	add := func(parts ...string) {
		parts = slices.DeleteFunc(parts, func(s string) bool { return s == "" })
		if len(parts) > 0 {
			out = append(out, strings.Join(parts, " "))
		}
	}
	switch v := v.(type) {
	case []CodeEntry:
		for _, x := range v {
			add(x.Code, string(x.Status))
		}
	case []Symptom:
		for _, x := range v {
			add(map[bool]string{true: "not:"}[x.Absent], x.Symptom, strings.Join(x.Conditions, ", "))
		}
	case []Test:
		for _, x := range v {
			add(stepWord(x.Step), x.Test, "of", x.Component+":", string(x.Result), x.Reading.words())
		}
	case []Fix:
		for _, x := range v {
			add(stepWord(x.Step), string(x.Action), x.Component+":", string(x.Outcome))
		}
	case []FollowUp:
		for _, x := range v {
			add(x.Date, map[bool]string{true: "held", false: "returned"}[x.Held], x.Note)
		}
	case []Source:
		for _, x := range v {
			add(x.Kind, x.Title, x.URL, x.Posted, x.Licence)
		}
	case name:
		add(v.Make, v.Model)
	case end:
		add(string(v.Status), string(v.ClosedAs), string(v.Confirmation))
	case *Measure:
		if v != nil {
			add(fmt.Sprint(v.Value), v.Unit)
		}
	default:
		add(plainWords(v))
	}
	return out
}

func stepWord(step int) string {
	if step == 0 {
		return ""
	}
	return fmt.Sprintf("(%d)", step)
}

// words gives a reading as it was written, else its value.
func (r *Reading) words() string {
	switch {
	case r == nil:
		return ""
	case r.Text != "":
		return r.Text
	case r.Value == nil:
		return string(r.Bound)
	}
	return fmt.Sprint(*r.Value, " ", r.Unit)
}

// plainWords gives a single value, and nothing for one that says nothing.
func plainWords(v any) string {
	text := jsonOf(v)
	if slices.Contains([]string{`""`, "0", "null", "false", "{}"}, text) {
		return ""
	}
	return strings.Trim(text, `"`)
}
