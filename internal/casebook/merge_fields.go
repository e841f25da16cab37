package casebook

import (
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"ruledout/internal/store"
	"ruledout/kb"
)

const inMachine = "machine."

// fieldsIn takes a record apart: its fields, and those of the machine by name.
func fieldsIn(body []byte) (map[string]json.RawMessage, error) {
	out := map[string]json.RawMessage{}
	if err := json.Unmarshal(body, &out); err != nil {
		return nil, err
	}
	machine := map[string]json.RawMessage{}
	if x, ok := out["machine"]; ok {
		if err := json.Unmarshal(x, &machine); err != nil {
			return nil, err
		}
		delete(out, "machine")
	}
	for name, x := range machine {
		out[inMachine+name] = x
	}
	return out, nil
}

// caseIn is the way back from fieldsIn.
func caseIn(fields map[string]json.RawMessage) (kb.Case, error) {
	all, machine := map[string]json.RawMessage{}, map[string]json.RawMessage{}
	for name, x := range fields {
		if x == nil {
			continue
		}
		if within, ok := strings.CutPrefix(name, inMachine); ok {
			machine[within] = x
		} else {
			all[name] = x
		}
	}
	body, err := json.Marshal(machine)
	if err == nil {
		all["machine"] = body
		body, err = json.Marshal(all)
	}
	if err != nil {
		return kb.Case{}, err
	}
	return kb.DecodeCase(body)
}

// fieldNames lists the fields of two records in order.
func fieldNames(a, b map[string]json.RawMessage) []string {
	both := maps.Clone(a)
	maps.Copy(both, b)
	return slices.Sorted(maps.Keys(both))
}

// revisionWords says which revision it is, what it did, and whose it is.
func revisionWords(r store.Revision) string {
	return fmt.Sprintf("%d (%s by %s at %s)", r.Pos, r.Verb, r.Actor, r.At.Format(time.RFC3339))
}
