package ingest

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"ruledout/kb"
)

// settle writes what was found into the case.
func (l *line) settle(c *kb.Case, solved bool) {
	l.useSwaps()
	l.concludeTests()
	l.foundFaults()
	l.readAgain()
	l.tests = slices.DeleteFunc(l.tests, func(t *testFound) bool { return false })
	l.dropTrials()
	l.dropRetold()
	l.mergeSteps()
	steps := l.steps()
	for _, t := range l.tests {
		if t.result == "" && t.reading == nil {
			continue
		}
		if t.guess {
			c.Doubts = append(c.Doubts, kb.Doubt{About: fmt.Sprintf("tests[%d].component", len(c.Tests)), Question: "What was this reading taken of? The sentence does not say.",
				Evidence: l.r.evidence(t.sent, t.from, t.to)})
		}
		if t.culprit {
			c.Doubts = append(c.Doubts, kb.Doubt{About: fmt.Sprintf("tests[%d].component", len(c.Tests)), Question: "Does this speak of the part that was repaired? The sentence does not name it.",
				Evidence: l.r.evidence(t.sent, t.from, t.to)})
		}
		if t.implied {
			c.Doubts = append(c.Doubts, kb.Doubt{About: fmt.Sprintf("tests[%d].result", len(c.Tests)), Question: "Was this reading good? The text does not say so in words.",
				Evidence: l.r.evidence(t.sent, t.from, t.to)})
		}
		c.Tests = append(c.Tests, kb.Test{Step: steps[stepKey{t.index, t.from}], Test: t.name, Method: t.method, Component: t.comp, Result: t.result, Reading: t.reading,
			Evidence: l.r.evidence(t.sent, t.from, t.to), Confidence: testSure(t)})
	}
	for _, fx := range l.fixes {
		l.addFixTo(c, fx, steps[stepKey{fx.index, fx.from}])
	}
	l.writeSlashes(c)
	l.status(c, solved)
}

// writeSlashes gives names back the strokes that folding took: "a/c compressor", "run/tow switch".
func (l *line) writeSlashes(c *kb.Case) {
	written := map[string]string{}
	for _, s := range l.p.sents[l.p.told:] {
		for _, np := range l.x.components(s) {
			if name := s.slashed(np.from, np.to); strings.Contains(name, "/") {
				written[np.raw] = name
			}
		}
	}
	for i := range c.Tests {
		c.Tests[i].Component = cmp.Or(written[c.Tests[i].Component], c.Tests[i].Component)
	}
	for i := range c.Fixes {
		c.Fixes[i].Component = cmp.Or(written[c.Fixes[i].Component], c.Fixes[i].Component)
	}
}

// slashed gives the words of tokens from..to with the strokes between them, where letters stand on both sides.
func (s *sentence) slashed(from, to int) string {
	name := ""
	for i := from; i < to && i < len(s.toks); i++ {
		t := s.toks[i]
		if t.mark || kb.IsArticle(t.word) {
			continue
		}
		word := t.word
		if strings.Contains(t.raw, "/") && len(t.raw) > 2 {
			word = strings.ToLower(t.raw)
		}
		switch joined := i > from && s.text[s.toks[i-1].end:t.start] == "/"; {
		case name == "":
			name = word
		case joined:
			name += "/" + word
		default:
			name += " " + word
		}
	}
	return name
}

func (l *line) addFixTo(c *kb.Case, fx *fixFound, step int) {
	f := kb.Fix{Step: step, Action: fx.action, Component: fx.comp, Outcome: fx.outcome, Confidence: fixSure(fx), Evidence: l.r.evidence(fx.sent, fx.from, fx.to)}
	if f.Outcome == "" {
		f.Outcome = kb.UnknownOutcome
	}
	if f.Action == kb.Bypass && f.Outcome == kb.Fixed {
		f.Outcome = kb.UnknownOutcome
	}
	if fx.origin != "" {
		f.Part = &kb.Part{Origin: fx.origin}
	}
	if s := fx.settled; s != nil && s != fx.sent {
		f.Evidence = append(f.Evidence, l.r.evidence(s, 0, len(s.toks))...)
	}
	if question := l.doubtOf(fx, f.Outcome); question != "" {
		c.Doubts = append(c.Doubts, kb.Doubt{About: fmt.Sprintf("fixes[%d].outcome", len(c.Fixes)), Question: question, Evidence: f.Evidence})
	}
	c.Fixes = append(c.Fixes, f)
}

// doubtOf gives the question to the contributor about a fix, empty where the text settles it.
func (l *line) doubtOf(fx *fixFound, o kb.Outcome) string {
	switch {
	case fx.shared || o == kb.UnknownOutcome && l.doubt != "":
		return cmp.Or(l.doubt, "Several things were done at once: was it this one that cured the fault?")
	case o == kb.UnknownOutcome:
		return "Did this help? The text does not say."
	}
	return ""
}

type stepKey struct{ index, from int }

// steps numbers tests and fixes in the order told; fixes of one sentence that share an outcome are one step.
func (l *line) steps() map[stepKey]int {
	var keys []stepKey
	for _, t := range l.tests {
		keys = append(keys, stepKey{t.index, t.from})
	}
	for _, fx := range l.fixes {
		keys = append(keys, stepKey{fx.index, fx.from})
	}
	slices.SortFunc(keys, func(a, b stepKey) int { return cmp.Or(a.index-b.index, a.from-b.from) })
	keys = slices.Compact(keys)
	out := map[stepKey]int{}
	for i, k := range keys {
		out[k] = i + 1
	}
	return out
}
