package link_test

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"ruledout/kb"
	"ruledout/kb/link"
)

func maker(t testing.TB) *link.Maker {
	t.Helper()
	v, err := kb.BuiltinVocabulary()
	require.NoError(t, err)
	return link.NewMaker(v)
}

// sim draws cases of a community: some sixty models, a hundred codes, a few usual culprits of each code, told in words of which most go with
// the code, so that cases of one code are much alike; and tells some of them again.
type sim struct {
	rnd   *rand.Rand
	words []string
	codes int
}

func newSim(seed uint64, codes int) *sim {
	s := &sim{rnd: rand.New(rand.NewPCG(seed, 2)), codes: codes}
	for range 1500 {
		var w strings.Builder
		for range 2 + s.rnd.IntN(2) {
			w.WriteByte("bcdfghklmnprstvw"[s.rnd.IntN(16)])
			w.WriteByte("aeiou"[s.rnd.IntN(5)])
		}
		s.words = append(s.words, w.String()+"n")
	}
	return s
}

func (s *sim) parts() []string {
	return []string{"heater relay", "heater fuse", "wiring harness", "coolant pump", "egr valve", "boost hose", "flow switch", "injector", "lift pump", "wheel speed sensor"}
}

func (s *sim) one(id string) kb.Case {
	code, model := s.rnd.IntN(s.codes), s.rnd.IntN(60)
	culprit := s.parts()[(code+s.rnd.IntN(3))%10]
	c := kb.Case{V: 1, ID: kb.CaseID(id), Reporter: fmt.Sprintf("teller%d", s.rnd.IntN(50_000)), Machine: kb.Machine{Kind: "van", Make: fmt.Sprintf("Make%d", model/6),
		Model: fmt.Sprintf("Model %d", model), Year: 2005 + s.rnd.IntN(18)}, Codes: []kb.CodeEntry{{Code: fmt.Sprintf("P%04d", 100+code)}},
		Fixes:  []kb.Fix{{Action: kb.Replace, Component: culprit, Outcome: kb.Fixed}},
		Status: kb.Closed, ClosedAs: kb.Repaired, Sources: []kb.Source{{Writeup: kb.WriteupKey("w" + id), Posted: s.date(0, 3000)}}}
	if s.rnd.Float64() < 0.7 {
		c.Machine.Odometer = &kb.Measure{Value: float64(20_000 + 100*s.rnd.IntN(2500)), Unit: "km"}
	}
	if s.rnd.Float64() < 0.6 {
		value := float64(1+s.rnd.IntN(900)) / 10
		c.Tests = []kb.Test{{Test: "resistance", Component: s.parts()[s.rnd.IntN(10)], Result: kb.Fail, Reading: &kb.Reading{Value: &value, Unit: "ohm"}}}
	}
	c.Title = s.text(code, 12)
	c.Fixes[0].Evidence = []kb.Evidence{{Quote: s.text(code, 25)}}
	return c
}

// text draws words: two in three go with the code.
func (s *sim) text(code, n int) string {
	var out []string
	for range n {
		w := s.rnd.IntN(len(s.words))
		if s.rnd.IntN(3) > 0 {
			w = (code*37 + s.rnd.IntN(40)) % len(s.words)
		}
		out = append(out, s.words[w])
	}
	return strings.Join(out, " ")
}

func (s *sim) date(from, within int) string {
	n := from + s.rnd.IntN(within)
	return fmt.Sprintf("%d-%02d-%02d", 2010+n/360, 1+n%360/30, 1+n%30)
}

// again tells a case another time: elsewhere, some weeks later, with rounded or missing figures, half of the words others, now and then
// under another name or with another culprit named.
func (s *sim) again(c kb.Case, id string) kb.Case {
	code := 0
	fmt.Sscanf(c.Codes[0].Code, "P%d", &code)
	out := c
	out.ID = kb.CaseID(id)
	var y, m, d int
	fmt.Sscanf(c.Sources[0].Posted, "%d-%d-%d", &y, &m, &d)
	out.Sources = []kb.Source{{Writeup: kb.WriteupKey("w" + id), Posted: s.date((y-2010)*360+(m-1)*30+d-1, 50)}}
	if s.rnd.IntN(2) == 0 {
		out.Reporter = fmt.Sprintf("teller%d", s.rnd.IntN(50_000))
	}
	if c.Machine.Odometer != nil && s.rnd.IntN(3) == 0 {
		out.Machine.Odometer = &kb.Measure{Value: float64(int(c.Machine.Odometer.Value+500) / 1000 * 1000), Unit: "km"}
	} else if s.rnd.IntN(3) == 0 {
		out.Machine.Odometer = nil
	}
	if s.rnd.IntN(4) == 0 {
		out.Tests = nil
	}
	if s.rnd.IntN(10) == 0 {
		out.Fixes = []kb.Fix{{Action: kb.Repair, Component: s.parts()[s.rnd.IntN(10)], Outcome: kb.Fixed}}
	}
	out.Title = s.reword(c.Title, code-100)
	out.Fixes = append([]kb.Fix{}, out.Fixes...)
	out.Fixes[0].Evidence = []kb.Evidence{{Quote: s.reword(c.Fixes[0].Evidence[0].Quote, code-100)}}
	return out
}

func (s *sim) reword(text string, code int) string {
	words := strings.Fields(text)
	for i := range words {
		if s.rnd.IntN(2) == 0 {
			words[i] = s.text(code, 1)
		}
	}
	return strings.Join(words, " ")
}

// community draws n cases and tells every so many of them again; twin is the place of the other telling, -1 if there is none.
func community(n, every, codes int, seed uint64) (cases []kb.Case, twin []int) {
	s := newSim(seed, codes)
	for i := range n {
		cases = append(cases, s.one(fmt.Sprintf("c%07d", 2*i)))
	}
	twin = make([]int, n)
	for i := range twin {
		twin[i] = -1
	}
	for i := 0; every > 0 && i < n; i += every {
		twin[i] = len(cases)
		twin = append(twin, i)
		cases = append(cases, s.again(cases[i], fmt.Sprintf("c%07d", 2*i+1)))
	}
	return cases, twin
}

func recordsOf(k *link.Maker, cases []kb.Case) []link.Record {
	out := make([]link.Record, len(cases))
	for i := range cases {
		out[i] = k.Record(&cases[i])
	}
	return out
}
