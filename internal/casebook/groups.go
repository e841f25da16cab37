package casebook

import (
	"fmt"
	"slices"
	"strings"

	"ruledout/kb"
	"ruledout/kb/quantity"
)

// groups gives every case the number of its group: cases that tell of the same repair, or come from the same write-up, are in one, so that
// no fold learns from what it is asked. Together are: cases that share a source write-up (or, without one, an address); cases with the same
// make, model, codes, culprits and odometer; cases that say the same throughout and of which a reading or a title tells that this is no chance;
// and the ids that links name, each an id and the one it was merged into. All of that holds in chains. The cases are in the vocabulary's terms.
// Groups are numbered from 0 in the order of their first case.
func groups(cases []kb.Case, links ...[2]kb.CaseID) []int {
	u := newUnion(len(cases))
	first := map[string]int{}
	for i := range cases {
		for _, key := range groupKeys(&cases[i]) {
			if at, known := first[key]; known {
				u.join(at, i)
			} else {
				first[key] = i
			}
		}
	}
	joinLinks(u, cases, links)
	return u.numbers()
}

// joinLinks joins the cases whose ids a chain of links connects; an id need not be that of a case.
func joinLinks(u *union, cases []kb.Case, links [][2]kb.CaseID) {
	ids := map[kb.CaseID]int{}
	for _, l := range links {
		for _, id := range l {
			if _, known := ids[id]; !known {
				ids[id] = len(ids)
			}
		}
	}
	merged := newUnion(len(ids))
	for _, l := range links {
		merged.join(ids[l[0]], ids[l[1]])
	}
	first := map[int]int{}
	for i := range cases {
		id, linked := ids[cases[i].ID]
		if !linked {
			continue
		}
		root := merged.root(id)
		if at, known := first[root]; known {
			u.join(at, i)
		} else {
			first[root] = i
		}
	}
}

// groupKeys gives what a case shares with the others of its group, each with what kind of key it is.
func groupKeys(c *kb.Case) []string {
	var out []string
	for _, s := range c.Sources {
		switch {
		case s.Writeup != "":
			out = append(out, "write-up "+string(s.Writeup))
		case s.URL != "":
			out = append(out, "address "+strings.TrimRight(s.URL, "/"))
		}
	}
	repair := repairKey(c)
	if run := runKey(c.Machine); run != "" {
		out = append(out, "run "+run+" "+repair)
	}
	if title := kb.Fold(c.Title); title != "" || hasReading(c) {
		m := c.Machine
		out = append(out, fmt.Sprintf("content %q %s %q %q %d\n%s", title, repair, m.Kind, m.Variant, m.Year, contentKey(c)))
	}
	return out
}

// repairKey gives make, model, codes and culprits. Kind, variant and year are left out: one teller names them and the next does not.
func repairKey(c *kb.Case) string {
	var codes []string
	for _, e := range c.Codes {
		codes = append(codes, e.Code)
	}
	return fmt.Sprintf("%q %q %q %q", c.Machine.Make, c.Machine.Model, slices.Compact(sorted(codes)), sorted(c.Culprits()))
}

// runKey gives how far a machine had run, empty if that is not known. Two machines of one model that had run the same and had the same
// repair are taken as one.
func runKey(m kb.Machine) string {
	var out []string
	if m.Odometer != nil {
		out = append(out, measured(m.Odometer.Value, m.Odometer.Unit))
	}
	if m.Hours != nil {
		out = append(out, fmt.Sprint("hours ", *m.Hours))
	}
	if m.Cycles != nil {
		out = append(out, fmt.Sprint("cycles ", *m.Cycles))
	}
	return strings.Join(out, " ")
}

// measured gives a value to four figures in the base unit of its quantity, as it stands where the unit is not known.
func measured(value float64, unit string) string {
	if v, base, ok := (quantity.Quantity{Value: value, Unit: unit}).SI(); ok {
		return fmt.Sprintf("%.4g %s", v, base)
	}
	return fmt.Sprintf("%.4g %s", value, unit)
}

func hasReading(c *kb.Case) bool {
	return slices.ContainsFunc(c.Tests, func(t kb.Test) bool { return t.Reading != nil && t.Reading.Value != nil })
}

// contentKey gives symptoms, tests and fixes, whoever wrote them and in whatever order.
func contentKey(c *kb.Case) string {
	var out []string
	for _, s := range c.Symptoms {
		out = append(out, fmt.Sprintf("symptom %q %t", s.Symptom, s.Absent))
	}
	for _, t := range c.Tests {
		line := fmt.Sprintf("test %q %q %s", t.Component, t.Method, t.Result)
		if t.Reading != nil && t.Reading.Value != nil {
			line += " " + measured(*t.Reading.Value, t.Reading.Unit)
		}
		out = append(out, line)
	}
	for _, f := range c.Fixes {
		out = append(out, fmt.Sprintf("fix %q %s %s", f.Component, f.Action, f.Outcome))
	}
	return strings.Join(sorted(out), "\n")
}

func sorted(list []string) []string {
	list = slices.Clone(list)
	slices.Sort(list)
	return list
}

// union joins numbers into sets (union-find with halved paths; Tarjan 1975).
type union struct{ parent []int }

func newUnion(n int) *union {
	u := &union{parent: make([]int, n)}
	for i := range u.parent {
		u.parent[i] = i
	}
	return u
}

func (u *union) root(i int) int {
	for u.parent[i] != i {
		u.parent[i] = u.parent[u.parent[i]]
		i = u.parent[i]
	}
	return i
}

// join puts two sets together; the smaller root stays, so that the outcome does not depend on the order of joining.
func (u *union) join(a, b int) {
	a, b = u.root(a), u.root(b)
	u.parent[max(a, b)] = min(a, b)
}

// numbers gives every member the number of its set, in the order of first members.
func (u *union) numbers() []int {
	out := make([]int, len(u.parent))
	n := 0
	for i := range u.parent {
		if root := u.root(i); root != i {
			out[i] = out[root]
			continue
		}
		out[i] = n
		n++
	}
	return out
}
