package ingest

import (
	"slices"
	"strings"

	"ruledout/kb"
)

// rowCases reads the case of a table row: what was found gives the symptom, what was done the repairs. Such lines are signed off,
// so that they count as repaired unless they say otherwise.
func (x *Extractor) rowCases(t Thread) []kb.Case {
	if len(t.Posts) == 0 {
		return nil
	}
	r := x.scanThread(t)
	row := rowRead{x: x, r: r}
	for _, p := range r.people {
		for _, s := range p.sents {
			row.take(s)
		}
	}
	c, ok := row.build()
	if !ok {
		return nil
	}
	return []kb.Case{c}
}

// rowRead is a row on its way to a case.
type rowRead struct {
	x          *Extractor
	r          *reading
	found      []*sentence
	done       []*sentence
	machine    kb.Machine
	item       nounPhrase // what the finding speaks of
	status     kb.Status
	closedAs   kb.ClosedAs
	statusFrom *sentence
	proved     bool
	vain       bool // what was done changed nothing
}

// take sorts a sentence by the field it stands in.
func (w *rowRead) take(s *sentence) {
	value := s.text[s.start:s.end]
	switch strings.ToLower(s.label) {
	case "found":
		w.found = append(w.found, s)
	case "done", "outcome":
		w.done = append(w.done, s)
	case "machine":
		w.machine = ParseMachine(value, w.x.v)
	case "make":
		w.machine.Make = value
	case "model":
		w.machine.Model = value
	case "year":
		if y := fourDigits.FindString(value); y != "" {
			w.machine.Year = atoi(y)
		}
	}
}

func (w *rowRead) build() (kb.Case, bool) {
	t := w.r.thread
	c := kb.Case{V: kb.Version, State: kb.Draft, Title: t.Title, Reporter: t.Posts[0].Author, Machine: w.machine}
	c.ID = kb.ReadCaseID(kb.WriteupKey(t.Key), c.Reporter, 1)
	c.Sources = []kb.Source{sourceOf(t)}
	c.Codes = w.codes()
	w.symptoms(&c)
	w.fixes(&c)
	w.settle(&c)
	trimTitle(&c)
	return c, len(c.Codes)+len(c.Symptoms)+len(c.Fixes) > 0
}

func (w *rowRead) codes() []kb.CodeEntry {
	var out []kb.CodeEntry
	for post, all := range w.r.codes {
		for _, f := range all {
			if f.Absent {
				continue
			}
			out = addCode(out, kb.CodeEntry{Code: f.Code.String(), Scheme: f.Code.Scheme, Status: kb.CodeStatus(f.Status), Confidence: f.Confidence,
				Evidence: w.r.spanEvidence(post, f.Start, f.End)})
		}
	}
	return out
}

// symptoms takes each finding, in its own words without marks of position, as a symptom, and remembers what it speaks of.
func (w *rowRead) symptoms(c *kb.Case) {
	for _, s := range w.found {
		words := w.finding(s)
		if name, ok := w.knownSymptom(s); ok {
			words = name
		}
		if words != "" && len(words) <= 200 {
			c.Symptoms = addSymptom(c.Symptoms, kb.Symptom{Symptom: words, Confidence: 0.8, Evidence: w.r.evidence(s, 0, len(s.toks))})
		}
		if w.item.name == "" {
			w.item = w.itemOf(s)
		}
	}
}

// finding gives the words of a finding without the marks of position before them.
func (w *rowRead) finding(s *sentence) string {
	i := 0
	for i < len(s.toks) && w.position(s.toks, i) {
		i++
	}
	return s.words(i, len(s.toks))
}

// knownSymptom gives the vocabulary's symptom where it says most of the finding: "gasket leaking" says less than "intake gasket
// of the left engine leaking" does.
func (w *rowRead) knownSymptom(s *sentence) (string, bool) {
	total := len(strings.Fields(w.finding(s)))
	for _, m := range s.mentions {
		if m.kind == kb.TermSymptom && !m.absent && 2*(m.to-m.from) > total {
			return m.name, true
		}
	}
	return "", false
}

// itemOf gives what a finding speaks of: the words before the first word of state, marks of position left out.
func (w *rowRead) itemOf(s *sentence) nounPhrase {
	for i := 0; i < len(s.toks); i++ {
		np, ok := w.phrase(s, i)
		if ok && np.to < len(s.toks) && s.toks[np.to].word == "of" {
			i = np.to // "underside of the baffle" speaks of the baffle
			continue
		}
		if ok && !isFiller(np.name) {
			return np
		}
	}
	return nounPhrase{}
}

// phrase reads a telegraphic noun phrase from token i: words up to a mark, a function word, a word of state or a verb; words of
// position are passed over.
func (w *rowRead) phrase(s *sentence, i int) (nounPhrase, bool) {
	for i < len(s.toks) && (w.position(s.toks, i) || kb.IsArticle(s.toks[i].word) || isStateWord(s.toks[i].word)) {
		i++
	}
	from := i
	for i < len(s.toks) && i-from < 5 && !w.endsPhrase(s.toks, i, from) {
		i++
	}
	_, rest := kb.SplitPosition(s.words(from, i))
	if i == from || len(rest) < 3 {
		return nounPhrase{}, false
	}
	return nounPhrase{from: from, to: i, name: rest, raw: rest}, true
}

// position tells whether a token marks one of several: "#3", "2 & 4", "R/H", "aft", "no. 2".
func (w *rowRead) position(toks []token, i int) bool {
	t := toks[i]
	if t.mark {
		return strings.ContainsAny(t.raw, "#,&.()")
	}
	if t.number() || t.word == "and" && i > 0 && toks[i-1].number() {
		return true
	}
	return slices.Contains([]string{"lh", "rh", "l", "r", "h", "left", "right", "aft", "fwd", "forward", "front", "rear", "upper", "lower", "inner", "outer", "inboard", "outboard", "inbd", "outbd",
		"no", "nr", "both", "all", "top", "bottom", "nose", "cyl", "hand", "several", "multiple", "found", "noted", "copilot", "pilot", "side", "longer", "cylinder"}, t.word) && !(t.word == "cylinder" && !nearNumber(toks, i))
}

func nearNumber(toks []token, i int) bool {
	near := func(j int) bool { return j >= 0 && j < len(toks) && toks[j].number() }
	return near(i-1) || near(i+1) || near(i+2)
}

func (w *rowRead) endsPhrase(toks []token, i, from int) bool {
	t := toks[i]
	if t.mark || w.x.stops[t.word] || t.number() || w.position(toks, i) {
		return true
	}
	raw := strings.ToLower(t.raw)
	if isPast(raw) || i > from && (strings.HasSuffix(raw, "ed") || strings.HasSuffix(raw, "ing") && t.word != "bearing" && t.word != "wiring" && t.word != "ring" && t.word != "spring" && t.word != "housing" && t.word != "bushing" && t.word != "fitting" && t.word != "packing") {
		return true
	}
	return isStateNoun(t.word) || slices.Contains([]string{"iaw", "per", "w", "wi", "due", "ref", "and", "has", "have", "need", "require", "appear", "seem", "i", "assy", "sn", "pn", "s", "n"}, t.word) && t.word != "assy"
}

// isStateNoun tells whether a word says what is wrong with a part rather than naming one.
func isStateNoun(word string) bool {
	return slices.Contains([]string{"leak", "leaking", "crack", "cracked", "loose", "torn", "missing", "broken", "worn", "rough", "inop", "inoperative", "stuck", "low", "high", "weak", "dirty", "chafed",
		"damaged", "damage", "bent", "fouled", "rubbing", "burnt", "blown", "bad", "dead", "intermittent", "wont", "doesnt", "failed", "fail", "separated", "seeping", "frayed", "corroded",
		"deteriorated", "vibrating", "vibration", "surge", "drop", "hole", "gone", "faulty", "unserviceable", "us", "noisy", "hard", "out", "falling", "pulled", "came", "come", "shows", "show", "feel", "hung"}, word)
}

func isFiller(rest string) bool {
	return slices.Contains([]string{"engine", "aircraft", "pilot", "report", "crew", "during", "after", "ac", "work", "iaw", "as", "mm", "inspection", "necessary", "requested", "suspect"}, rest)
}

// fixes reads the actions and what they were done to.
func (w *rowRead) fixes(c *kb.Case) {
	step := 0
	for _, s := range w.done {
		for _, m := range w.actions(s) {
			np, ok := w.object(s, m)
			if n := len(c.Fixes); n > 0 && slices.ContainsFunc(s.toks[m.from:min(m.to+1, len(s.toks))], func(t token) bool { return t.word == "with" }) {
				c.Fixes[n-1].Action = kb.Action(m.name) // "removed rivets and replaced with bolts"
				continue
			}
			if !ok {
				continue
			}
			fx := kb.Fix{Action: kb.Action(m.name), Component: np.name, Outcome: kb.Fixed, Confidence: 0.7}
			fx.Evidence = w.r.evidence(s, m.from, max(m.to, min(np.to, len(s.toks))))
			if slices.ContainsFunc(c.Fixes, func(f kb.Fix) bool { return f.Component == fx.Component && f.Action == fx.Action }) {
				continue
			}
			if w.vain {
				w.vain, w.status, w.statusFrom = false, "", nil // what was done next is another attempt
			}
			step++
			fx.Step = step
			c.Fixes = append(c.Fixes, fx)
		}
		w.statusIn(s)
		for i := range c.Fixes {
			if w.vain && w.statusFrom == s {
				c.Fixes[i].Outcome = kb.NoChange
			}
		}
	}
}

// actions gives the verbs of a line, each once where phrases overlap; of "removed and replaced X" the second.
func (w *rowRead) actions(s *sentence) []mention {
	var out []mention
	for _, m := range s.mentions {
		if m.kind != kb.TermAction || isWeakInRow(s.toks[m.from].word) || s.negated(m.from-2, m.from) || !isPast(strings.ToLower(s.toks[m.from].raw)) && m.from > 0 && !s.toks[m.from-1].mark && !isConjunction(s.toks[m.from-1].word) {
			continue
		}
		if n := len(out); n > 0 && m.from < out[n-1].to {
			continue
		}
		if n := len(out); n > 0 && m.from-out[n-1].to <= 1 && out[n-1].name == string(kb.Other) {
			out[n-1] = m
			continue
		}
		out = append(out, m)
	}
	return out
}

// isWeakInRow tells whether a verb says in a logbook that something was done on the way, or to a code, rather than what the work was.
func isWeakInRow(word string) bool {
	return slices.Contains([]string{"cleared", "tried", "raised", "lowered", "loosened", "slackened", "freed", "put"}, word)
}

// object gives what a verb was done to. A generic word ("gasket") is completed from the finding; damage as an object ("stop
// drilled crack") stands for the damaged part, and so does no object at all.
func (w *rowRead) object(s *sentence, m mention) (nounPhrase, bool) {
	if m.to < len(s.toks) && (s.toks[m.to].word == "and" || s.toks[m.to].raw == "&") && m.to+1 < len(s.toks) && isPast(strings.ToLower(s.toks[m.to+1].raw)) {
		return nounPhrase{}, false // the second verb of a pair carries the object
	}
	np, ok := w.phrase(s, m.to)
	if ok && np.from-m.to > 4 {
		ok = false
	}
	if !ok || isStateNoun(np.name) || isStateNoun(lastOf(np.name)) || isMaterialWord(np.name) {
		if w.item.name == "" {
			return nounPhrase{}, false
		}
		return nounPhrase{from: m.from, to: m.to, name: w.item.name, raw: w.item.name}, true
	}
	np.name = w.completed(np.name)
	return np, true
}

func lastOf(name string) string { return name[strings.LastIndexByte(name, ' ')+1:] }

func isMaterialWord(name string) bool {
	return slices.Contains([]string{"patch", "area", "safety wire", "torque", "repair", "sealant", "hardware", "item", "part", "defect", "discrepancy", "iaw", "rtv"}, name)
}

// completed gives a generic part its owner from the finding: "gasket" of "intake gasket leaking", of "intake is leaking".
func (w *rowRead) completed(name string) string {
	item := w.item.name
	if strings.Contains(name, " ") || item == "" || !isPartHead(name) && !slices.Contains([]string{"gasket", "rivet", "stud", "packing", "hardware", "mount", "baffle", "spring", "bushing", "fitting",
		"washer", "grommet", "retainer", "fastener", "latch", "hinge", "tip", "spinner", "assembly"}, name) {
		return name
	}
	words := strings.Fields(item)
	for i, word := range words {
		if word == name {
			return strings.Join(words[:i+1], " ")
		}
	}
	if len(words) > 3 {
		return name
	}
	if last := words[len(words)-1]; isPiece(last) || last == "gasket" || last == "seal" {
		words = words[:len(words)-1]
	}
	if len(words) == 0 {
		return name
	}
	return strings.Join(words, " ") + " " + name
}

// statusIn reads what a line says of how the matter ended.
func (w *rowRead) statusIn(s *sentence) {
	text := strings.ToLower(s.text[s.start:s.end])
	has := func(words ...string) bool {
		return slices.ContainsFunc(words, func(x string) bool { return strings.Contains(text, x) })
	}
	switch {
	case has("no change", "no difference", "no improvement", "did not help", "no effect", "no better", "to be continued", "same fault"):
		w.status, w.statusFrom, w.vain = kb.Open, s, true
	case has("deferred", "on order", "awaiting", "ordered", "parts req", "to be replaced", "carried forward", "not fixed", "still "):
		w.status, w.statusFrom = kb.Open, s
	case has("could not duplicate", "all checks good", "checked good", "found ok", "ops normal", "cannot duplicate", "unable to duplicate", "no defect", "no fault", "could not reproduce", "cnd", "checks ok", "found no "):
		w.closedAs, w.statusFrom = kb.WentAway, s
	case has("check good", "ck good", "checks good", "ops check", "ops ck", "leak check", "leak ck", "run up good", "test flight ok", "ground run ok", "tested ok", "check ok"):
		w.proved = true
	}
}

func (w *rowRead) settle(c *kb.Case) {
	c.Status, c.ClosedAs, c.Confirmation = kb.Closed, kb.Repaired, kb.Reported
	if w.proved {
		c.Confirmation = kb.Verified
	}
	if len(c.Fixes) == 0 && w.proved && w.closedAs == "" {
		w.closedAs = kb.WentAway // checked and found good, nothing done
	}
	if w.status == kb.Open || len(w.done) == 0 || len(c.Fixes) == 0 && w.closedAs == "" {
		c.Status, c.ClosedAs, c.Confirmation = kb.Open, "", kb.Unconfirmed
	} else if len(c.Fixes) == 0 {
		c.ClosedAs, c.Confirmation = w.closedAs, kb.Unconfirmed
	}
	if w.statusFrom != nil {
		c.StatusEvidence = w.r.evidence(w.statusFrom, 0, len(w.statusFrom.toks))
	} else if n := len(w.done); n > 0 && c.Status == kb.Closed {
		c.StatusEvidence = w.r.evidence(w.done[n-1], 0, len(w.done[n-1].toks))
	}
	for i := range c.Fixes {
		switch {
		case c.Fixes[i].Outcome == kb.NoChange:
		case c.Status == kb.Open, c.Fixes[i].Action == kb.Bypass:
			c.Fixes[i].Outcome = kb.UnknownOutcome
		case c.Fixes[i].Action == kb.Other && len(c.Fixes) > 1, i > 0 && c.Fixes[i].Action == kb.Service:
			c.Fixes[i].Outcome = kb.UnknownOutcome
		}
	}
}
