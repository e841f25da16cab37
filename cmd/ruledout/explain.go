package main

import (
	"cmp"
	"fmt"
	"io"
	"regexp"
	"slices"
	"sort"
	"strconv"
	"strings"

	"ruledout/ingest"
	"ruledout/internal/casebook"
	"ruledout/kb"
)

// fact is something understood in a write-up, with the words it was read from.
type fact struct {
	n      int // its number in the print
	kind   string
	value  string
	sure   float64
	whose  string // reporter, where the write-up has several
	spans  []kb.Evidence
	doubts []string
}

// mark is a piece of a post that facts were read from.
type mark struct {
	start, end int
	facts      []int
}

// printExplained writes the write-ups of a file as they are kept, with what was understood marked in them.
func printExplained(w io.Writer, r casebook.FileReport) error {
	for _, t := range r.Threads {
		facts, open := factsOf(t, r.Cases)
		fmt.Fprintf(w, "%s\n", cmp.Or(t.Title, t.File))
		if t.URL != "" {
			fmt.Fprintf(w, "%s\n", t.URL)
		}
		for _, p := range t.Posts {
			explainPost(w, p, facts)
		}
		for _, a := range r.Cases {
			if len(a.Case.Sources) > 0 && string(a.Case.Sources[0].Writeup) == t.Key {
				fmt.Fprintf(w, "\n  %s  %s  %s\n", a.Case.ID, a.Effect, headline(a.Case))
			}
		}
		for _, q := range open {
			wrapped(w, "  to settle: ", q)
		}
		fmt.Fprintln(w)
	}
	return nil
}

// factsOf lists what was understood in a thread in order of its first words there, and the doubts that belong to no fact.
func factsOf(t ingest.Thread, cases []casebook.Added) ([]fact, []string) {
	var facts []fact
	var open []string
	var own []kb.Case
	for _, a := range cases {
		if len(a.Case.Sources) > 0 && string(a.Case.Sources[0].Writeup) == t.Key {
			own = append(own, a.Case)
		}
	}
	for _, c := range own {
		list, rest := caseFacts(c)
		for i := range list {
			list[i].spans = slices.DeleteFunc(slices.Clone(list[i].spans), func(e kb.Evidence) bool { return !standsIn(t, e) })
			if len(own) > 1 {
				list[i].whose = c.Reporter
			}
		}
		facts, open = append(facts, list...), append(open, rest...)
	}
	slices.SortStableFunc(facts, func(a, b fact) int {
		p, q := a.first(), b.first()
		return cmp.Or(cmp.Compare(p.Post, q.Post), cmp.Compare(p.Start, q.Start), cmp.Compare(q.End, p.End))
	})
	for i := range facts {
		facts[i].n = i + 1
	}
	return facts, open
}

func standsIn(t ingest.Thread, e kb.Evidence) bool {
	if string(e.Writeup) != t.Key || e.Post < 1 || e.Post > len(t.Posts) {
		return false
	}
	words := t.Posts[e.Post-1].Text
	return e.Start >= 0 && e.Start < e.End && e.End <= len(words) && words[e.Start:e.End] == e.Quote
}

// first is where a fact is told first.
func (f fact) first() kb.Evidence {
	var out kb.Evidence
	for i, e := range f.spans {
		if i == 0 || e.Post < out.Post || e.Post == out.Post && e.Start < out.Start {
			out = e
		}
	}
	return out
}

var doubted = regexp.MustCompile(`^(codes|symptoms|tests|fixes)\[(\d+)\]`)

// caseFacts lists the facts of a case, each with its doubts, and the doubts about the case as a whole.
func caseFacts(c kb.Case) (facts []fact, open []string) {
	at := map[string]int{}
	put := func(key, kind, value string, sure float64, spans []kb.Evidence) {
		at[key] = len(facts)
		facts = append(facts, fact{kind: kind, value: value, sure: sure, spans: spans})
	}
	if name := casebook.MachineName(c.Machine); name != "" {
		put("machine", "machine", name+machineMore(c.Machine), c.Machine.Confidence, c.Machine.Evidence)
	}
	for i, e := range c.Codes {
		put("codes"+strconv.Itoa(i), "code", strings.Join(nonEmpty(e.Code, string(e.Status)), ", "), e.Confidence, e.Evidence)
	}
	for i, s := range c.Symptoms {
		put("symptoms"+strconv.Itoa(i), "symptom", notThere(s.Absent)+strings.Join(append([]string{s.Symptom}, s.Conditions...), ", "), s.Confidence, s.Evidence)
	}
	for i, t := range c.Tests {
		put("tests"+strconv.Itoa(i), "test", strings.TrimSpace(strings.TrimPrefix(testLine(&c, t), "test")), t.Confidence, t.Evidence)
	}
	for i, f := range c.Fixes {
		put("fixes"+strconv.Itoa(i), "fix", fmt.Sprintf("%s%s %s: %s%s", stepMark(f.Step), f.Action, f.Component, outcome(f.Outcome), fixMore(f)), f.Confidence, f.Evidence)
	}
	if len(c.StatusEvidence) > 0 {
		put("status", "status", strings.Join(nonEmpty(string(c.Status), string(c.ClosedAs), string(c.Held())), ", "), 0, c.StatusEvidence)
	}
	for _, d := range c.Doubts {
		key := d.About
		if m := doubted.FindStringSubmatch(d.About); m != nil {
			key = m[1] + m[2]
		}
		if i, ok := at[key]; ok {
			facts[i].doubts = append(facts[i].doubts, d.Question)
		} else {
			open = append(open, d.Question)
		}
	}
	return facts, open
}

// explainPost writes a post line by line, with the facts that begin in a line below it.
func explainPost(w io.Writer, p ingest.Post, facts []fact) {
	head := []string{fmt.Sprintf("post %d", p.N), p.Author}
	if !p.Time.IsZero() {
		head = append(head, p.Time.Format("2006-01-02"))
	}
	fmt.Fprintf(w, "\n  %s\n", strings.Join(nonEmpty(head...), ", "))
	marks := marksOf(p.N, facts)
	told := map[int]bool{}
	for start := 0; start <= len(p.Text); {
		end := start + strings.IndexByte(p.Text[start:]+"\n", '\n')
		lead := "    "
		if inQuote(p, start) {
			lead = "    > "
		}
		if end > start {
			wrapped(w, lead, marked(p.Text, start, end, marks))
		}
		for _, f := range facts {
			if e := f.first(); len(f.spans) > 0 && e.Post == p.N && e.Start >= start && e.Start <= end && !told[f.n] {
				told[f.n] = true
				explainFact(w, f)
			}
		}
		start = end + 1
	}
}

func explainFact(w io.Writer, f fact) {
	value := f.value
	if f.sure > 0 {
		value += fmt.Sprintf(" (%.2f)", f.sure)
	}
	if f.whose != "" {
		value += ", told by " + f.whose
	}
	wrapped(w, fmt.Sprintf("      %3d %-9s ", f.n, f.kind), value)
	for _, q := range f.doubts {
		wrapped(w, "                  ? ", q)
	}
}

func inQuote(p ingest.Post, at int) bool {
	return slices.ContainsFunc(p.Regions, func(r ingest.Region) bool {
		return r.Kind == ingest.RegionQuote && r.Start <= at && at < r.End
	})
}

// marksOf collects the pieces of a post that facts were read from; the same piece of several facts is one mark.
func marksOf(post int, facts []fact) []mark {
	var out []mark
	for _, f := range facts {
		for _, e := range f.spans {
			if e.Post != post {
				continue
			}
			i := slices.IndexFunc(out, func(m mark) bool { return m.start == e.Start && m.end == e.End })
			switch {
			case i < 0:
				out = append(out, mark{e.Start, e.End, []int{f.n}})
			case !slices.Contains(out[i].facts, f.n):
				out[i].facts = append(out[i].facts, f.n)
			}
		}
	}
	return out
}

// marked gives one line of a post with its marks as "[1: words]". They nest; what crosses another mark is told in two pieces.
func marked(words string, start, end int, marks []mark) string {
	var todo []mark
	for _, m := range marks {
		if m.start < end && m.end > start {
			todo = append(todo, mark{max(m.start, start), min(m.end, end), m.facts})
		}
	}
	inOrder := func() {
		sort.SliceStable(todo, func(i, j int) bool {
			return todo[i].start < todo[j].start || todo[i].start == todo[j].start && todo[i].end > todo[j].end
		})
	}
	inOrder()
	var b strings.Builder
	var open []int // ends of the open marks
	at := start
	closeTo := func(limit int) {
		for len(open) > 0 && open[len(open)-1] <= limit {
			b.WriteString(words[at:open[len(open)-1]] + "]")
			at, open = open[len(open)-1], open[:len(open)-1]
		}
		b.WriteString(words[at:limit])
		at = limit
	}
	for len(todo) > 0 {
		m := todo[0]
		todo = todo[1:]
		closeTo(m.start)
		if n := len(open); n > 0 && m.end > open[n-1] {
			todo = append(todo, mark{open[n-1], m.end, m.facts})
			m.end = open[n-1]
			inOrder()
		}
		b.WriteString("[" + numbers(m.facts) + ": ")
		open = append(open, m.end)
	}
	closeTo(end)
	return b.String()
}

func numbers(list []int) string {
	var parts []string
	for _, n := range list {
		parts = append(parts, strconv.Itoa(n))
	}
	return strings.Join(parts, ",")
}
