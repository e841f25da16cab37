package ingest

import (
	"regexp"
	"slices"
	"strconv"
	"strings"

	"ruledout/kb"
	"ruledout/kb/code"
	"ruledout/kb/limit"
	"ruledout/kb/quantity"
)

// Understand reads what a person types who asks: codes, a machine, symptoms, tests and repairs tried. The words that none of
// these explain become one symptom in the asker's own words.
func Understand(words string, v *kb.Vocabulary) kb.Case { return NewExtractor(v).Understand(words) }

// Understand reads what a person types who asks.
func (x *Extractor) Understand(words string) kb.Case {
	c := kb.Case{V: kb.Version, Status: kb.Open}
	words = strings.TrimSpace(words)
	if words == "" {
		return c
	}
	words, stated := x.takeStated(words)
	t := Thread{Kind: KindArticle, Posts: []Post{{N: 1, Author: "asker", Text: words}}}
	r := x.scanThread(t)
	p := r.people[0]
	taken := make([]bool, len(words))
	for _, f := range r.codes[0] {
		c.Codes = addCode(c.Codes, kb.CodeEntry{Code: f.Code.String(), Scheme: f.Code.Scheme, Status: kb.CodeStatus(f.Status), SetAgain: f.SetAgain})
		mark(taken, f.Start, f.End)
	}
	line := x.lineOf(r, p)
	line.settle(&c, false)
	c.Symptoms = x.symptomsOf(r, p, line)
	c.Machine = p.machine.machine
	if c.Machine.Confidence < 0.6 && c.Machine.Year == 0 {
		c.Machine = kb.Machine{Kind: c.Machine.Kind}
	}
	bareCodes(words, taken, &c)
	for _, e := range allEvidence(&c) {
		mark(taken, e.Start, e.End)
	}
	if year := strconv.Itoa(c.Machine.Year); c.Machine.Year > 0 && strings.Count(words, year) == 1 {
		at := strings.Index(words, year)
		mark(taken, at, at+len(year))
	}
	takeUse(words, taken, &c.Machine)
	if rest := restWords(words, taken); rest != "" {
		c.Symptoms = append(c.Symptoms, kb.Symptom{Symptom: rest})
	}
	c.Tests = append(stated, c.Tests...)
	c.Status, c.ClosedAs, c.Confirmation, c.StatusEvidence, c.Doubts = kb.Open, "", "", nil, nil
	dropEvidence(&c)
	return c
}

// askedPiece is a piece of a question that nothing of punctuation parts.
var askedPiece = regexp.MustCompile(`(?:[^,;.\n]|[.,]\d)+`)

// maxAskedPart is how many words an unknown part may have in a test that an asker states.
const maxAskedPart = 4

// takeStated takes the tests that are put as the forms of the program have it: TEST of COMPONENT, then what came of it, where the vocabulary
// knows the test. It gives the words with room in their place.
func (x *Extractor) takeStated(words string) (string, []kb.Test) {
	var out []kb.Test
	rest := []byte(words)
	for _, m := range askedPiece.FindAllStringIndex(words, -1) {
		piece := strings.TrimSpace(words[m[0]:m[1]])
		if found := quantity.Find(piece); !strings.Contains(piece, "=") && len(found) == 1 && found[0].End == len(piece) {
			head := strings.TrimRight(piece[:found[0].Start], " :")
			piece = strings.TrimSuffix(strings.TrimSuffix(strings.TrimSuffix(head, " is"), " was"), " reads") + " = " + piece[found[0].Start:]
		}
		t, err := ParseTest(piece, x.v)
		if err == nil && t.Method == "" && t.Reading != nil { // "insulation of" so many ohms is its resistance
			t.Method = x.v.CanonicalMethod(t.Test + " " + limit.Dimension(t.Reading.Base()))
			if _, known := x.v.Method(t.Method); !known {
				t.Method = ""
			}
		}
		if err != nil || t.Method == "" || t.Result == "" && t.Reading == nil {
			continue
		}
		if _, known := x.v.Component(t.Component); !known && len(strings.Fields(t.Component)) > maxAskedPart {
			continue
		}
		out = append(out, t)
		for i := m[0]; i < m[1]; i++ {
			rest[i] = ' '
		}
	}
	return string(rest), out
}

// takeUse takes the distance or the hours that the machine has run, where a part of the sentence says nothing else.
func takeUse(words string, taken []bool, m *kb.Machine) {
	for _, f := range quantity.Find(words) {
		before, after := strings.TrimRight(words[:f.Start], " "), strings.TrimLeft(words[f.End:], " ")
		alone := (before == "" || strings.ContainsRune(",;.(", rune(before[len(before)-1]))) && (after == "" || strings.ContainsRune(",;.)", rune(after[0])))
		if taken[f.Start] || f.Assumed || !alone {
			continue
		}
		switch {
		case (f.Unit == "km" || f.Unit == "mi") && (m.Odometer == nil || m.Odometer.Value == f.Value):
			m.Odometer = &kb.Measure{Value: f.Value, Unit: f.Unit}
		case f.Unit == "h" && m.Hours == nil:
			m.Hours = &f.Value
		default:
			continue
		}
		mark(taken, f.Start, f.End)
	}
}

var bareCode = regexp.MustCompile(`\b[A-Z]{1,4}-?\d{1,5}\b`)

// bareCodes takes what looks like a maker's code and names no machine for one: who asks gives codes without saying that they are.
func bareCodes(words string, taken []bool, c *kb.Case) {
	for _, m := range bareCode.FindAllStringIndex(words, -1) {
		text := words[m[0]:m[1]]
		if taken[m[0]] || strings.Contains(" "+c.Machine.Model+" ", " "+text+" ") || strings.Contains(c.Machine.Model, text) {
			continue
		}
		if parsed, err := code.Parse(text); err == nil {
			c.Codes = addCode(c.Codes, kb.CodeEntry{Code: parsed.String(), Scheme: parsed.Scheme})
			mark(taken, m[0], m[1])
		}
	}
}

func mark(taken []bool, from, to int) {
	for i := max(from, 0); i < min(to, len(taken)); i++ {
		taken[i] = true
	}
}

func allEvidence(c *kb.Case) []kb.Evidence {
	all := slices.Clone(c.Machine.Evidence)
	for _, s := range c.Symptoms {
		all = append(all, s.Evidence...)
	}
	for _, t := range c.Tests {
		all = append(all, t.Evidence...)
	}
	for _, f := range c.Fixes {
		all = append(all, f.Evidence...)
	}
	return all
}

// dropEvidence takes out spans, which point into words that are not kept as a write-up.
func dropEvidence(c *kb.Case) {
	c.Machine.Evidence = nil
	for i := range c.Symptoms {
		c.Symptoms[i].Evidence = nil
	}
	for i := range c.Tests {
		c.Tests[i].Evidence = nil
	}
	for i := range c.Fixes {
		c.Fixes[i].Evidence = nil
	}
}

var noEffect = regexp.MustCompile(`(?i)^(?:no |same |still ?)*(?:change|difference|help|fault|the same|same)$`)

// restWords gives what was not understood, without the small words at the edges of it and without what only says that nothing changed.
func restWords(words string, taken []bool) string {
	var b strings.Builder
	for i := range len(words) {
		switch {
		case !taken[i]:
			b.WriteByte(words[i])
		case i == 0 || !taken[i-1]:
			b.WriteByte(0) // a piece ends here
		}
	}
	var pieces []string
	for piece := range strings.FieldsFuncSeq(strings.ToValidUTF8(b.String(), ""), func(r rune) bool { return strings.ContainsRune("\x00,;.:!?\n", r) }) {
		if piece = strings.Join(strings.Fields(piece), " "); piece != "" && !noEffect.MatchString(piece) {
			pieces = append(pieces, piece)
		}
	}
	fields := strings.FieldsFunc(strings.Join(pieces, " "), func(r rune) bool { return strings.ContainsRune(" \t()", r) })
	small := func(w string) bool {
		return slices.Contains([]string{"and", "or", "with", "on", "a", "an", "the", "my", "it", "is", "has", "have", "i", "code", "codes", "error", "fault", "in", "of", "for", "to", "but",
			"at", "no", "not", "-", "from", "dtc", "plus", "what", "now", "help", "please", "shows", "gives", "reads", "show", "was", "so", "then", "still"}, strings.ToLower(w))
	}
	for len(fields) > 0 && small(fields[0]) {
		fields = fields[1:]
	}
	for len(fields) > 0 && small(fields[len(fields)-1]) {
		fields = fields[:len(fields)-1]
	}
	rest := strings.Join(fields, " ")
	const most = 300
	if len(rest) > most {
		rest = strings.ToValidUTF8(rest[:most], "")
	}
	if len(kb.Fold(rest)) < 3 {
		return ""
	}
	return rest
}

// ParseMachine reads "Halden Brisk 3 2019" or "2019 Halden Brisk 3 van": the year, a kind word if there is one at either end,
// the first word as make and the rest as model.
func ParseMachine(s string, v *kb.Vocabulary) kb.Machine {
	var m kb.Machine
	s = cutUse(s, &m)
	fields := strings.Fields(strings.Map(func(r rune) rune {
		if r == ',' || r == ';' {
			return ' '
		}
		return r
	}, s))
	fields = slices.DeleteFunc(fields, func(f string) bool {
		y := fourDigits.FindString(f)
		if m.Year == 0 && y == f && y != "" {
			m.Year = atoi(y)
			return true
		}
		return false
	})
	fields, m.Kind = cutKind(fields, v)
	if len(fields) > 0 {
		m.Make = fields[0]
		m.Model = strings.Join(fields[1:], " ")
	}
	return m
}

// cutUse takes the distance or the hours that a machine has run out of its description.
func cutUse(s string, m *kb.Machine) string {
	for _, f := range slices.Backward(quantity.Find(s)) {
		switch {
		case f.Assumed:
			continue
		case f.Unit == "km" || f.Unit == "mi":
			m.Odometer = &kb.Measure{Value: f.Value, Unit: f.Unit}
		case f.Unit == "h":
			m.Hours = &f.Value
		default:
			continue
		}
		s = s[:f.Start] + " " + s[f.End:]
	}
	return s
}

func atoi(s string) int {
	n := 0
	for _, r := range s {
		n = n*10 + int(r-'0')
	}
	return n
}

// cutKind takes a kind word of up to three words off the end or the beginning.
func cutKind(fields []string, v *kb.Vocabulary) (rest []string, kind string) {
	for n := min(3, len(fields)-1); n > 0; n-- {
		if k, ok := v.MachineKind(strings.Join(fields[len(fields)-n:], " ")); ok {
			return fields[:len(fields)-n], k.Name
		}
		if k, ok := v.MachineKind(strings.Join(fields[:n], " ")); ok {
			return fields[n:], k.Name
		}
	}
	return fields, ""
}

var (
	ofForm     = regexp.MustCompile(`(?i)^(.+?)\s+(?:of|on|at|across)\s+(?:the\s+)?(.+)$`)
	resultForm = regexp.MustCompile(`(?i)\s*(?:[=:]|\bis\b|\bwas\b|\breads?\b|,|\s)\s*(pass(?:ed)?|ok|okay|good|fine|fail(?:ed|s)?|bad|faulty|inconclusive|unclear|open)\s*$`)
)

// ParseTest reads "coil resistance of heater relay" or "TEST of COMPONENT = 84 ohm" or "... = pass".
func ParseTest(s string, v *kb.Vocabulary) (kb.Test, error) {
	var t kb.Test
	s = strings.TrimSpace(s)
	name, value, hasValue := strings.Cut(s, "=")
	if hasValue {
		if err := readValue(strings.TrimSpace(value), &t); err != nil {
			return kb.Test{}, err
		}
	} else if m := resultForm.FindStringSubmatchIndex(s); m != nil {
		t.Result = resultWord(s[m[2]:m[3]])
		name = s[:m[0]]
	}
	name = strings.TrimSpace(name)
	m := ofForm.FindStringSubmatch(name)
	if m == nil {
		return kb.Test{}, kb.Errorf(kb.Invalid, "test %.80q: want TEST of COMPONENT, such as \"coil resistance of heater relay\"", s)
	}
	t.Test, t.Component = kb.Fold(m[1]), v.CanonicalComponent(m[2])
	if t.Component == "" || t.Test == "" {
		return kb.Test{}, kb.Errorf(kb.Invalid, "test %.80q: names no component", s)
	}
	if method, ok := v.Method(v.CanonicalMethod(t.Test)); ok {
		t.Method = method.Name
	}
	return t, nil
}

// readValue reads what stands behind the equals sign: a result or a reading.
func readValue(value string, t *kb.Test) error {
	if r := resultWord(value); r != "" && !strings.EqualFold(value, "open") {
		t.Result = r
		return nil
	}
	value, stated, hasLimit := cutLimit(value)
	q, err := quantity.Parse(value)
	if err != nil {
		return kb.Errorf(kb.Invalid, "reading %.80q: %w", value, err)
	}
	t.Reading = kb.ReadingOf(q, value)
	if !hasLimit {
		return nil
	}
	_, base, _ := q.SI()
	list, err := limit.Find(stated, base)
	if err != nil {
		return kb.Errorf(kb.Invalid, "%w", err)
	}
	if len(list) > 1 {
		return kb.Errorf(kb.Invalid, "limit %.80q: there are %d, say which: %s, or %s", stated, len(list), list[0].Name, list[1].Name)
	}
	t.Reading = new(t.Reading.WithLimit(list[0]))
	return nil
}

var limitWord = regexp.MustCompile(`(?i)[,;]?\s+limits?:?\s+`)

// cutLimit parts "84 ohm limit 75 to 95 ohm".
func cutLimit(s string) (value, stated string, found bool) {
	if m := limitWord.FindStringIndex(s); m != nil {
		return strings.TrimSpace(s[:m[0]]), strings.TrimSpace(s[m[1]:]), true
	}
	return s, "", false
}

func resultWord(w string) kb.Result {
	switch strings.ToLower(w) {
	case "pass", "passed", "ok", "okay", "good", "fine":
		return kb.Pass
	case "fail", "failed", "fails", "bad", "faulty", "open":
		return kb.Fail
	case "inconclusive", "unclear":
		return kb.Inconclusive
	}
	return ""
}

// ParseFix reads "replaced heater fuse" or "replace heater fuse": a verb of the vocabulary, then the component.
func ParseFix(s string, v *kb.Vocabulary) (kb.Fix, error) {
	fields := strings.Fields(s)
	for n := min(4, len(fields)-1); n > 0; n-- {
		action, ok := v.Action(strings.Join(fields[:n], " "))
		if !ok {
			continue
		}
		comp := v.CanonicalComponent(strings.Join(fields[n:], " "))
		if comp == "" {
			break
		}
		return kb.Fix{Action: action, Component: comp}, nil
	}
	return kb.Fix{}, kb.Errorf(kb.Invalid, "repair %.80q: want ACTION COMPONENT, such as \"replaced heater fuse\"", s)
}
