package ingest

import (
	"regexp"
	"slices"
	"strconv"
	"strings"

	"ruledout/kb"
	"ruledout/kb/code"
)

// fillTable reads named cells: "Make / model", "Model year", "Hours".
func (x *Extractor) fillTable(r *reading, p *person, m *kb.Machine) {
	for _, s := range p.sents {
		if s.place != RegionCell && s.place != RegionField && s.place != RegionItem {
			continue
		}
		label, value, ok := labelled(s)
		if !ok {
			continue
		}
		x.fillField(r, m, label, value)
	}
}

// labelled parts a cell or item "Label | value" or "Label: value".
func labelled(s *sentence) (label, value string, ok bool) {
	text := s.text[s.start:s.end]
	if label, value, ok = strings.Cut(text, "|"); !ok {
		if label, value, ok = strings.Cut(text, ":"); !ok || len(label) > 24 {
			return "", "", false
		}
	}
	label = kb.Fold(label)
	value, _, _ = strings.Cut(strings.TrimSpace(value), "|")
	return label, strings.TrimSpace(value), label != "" && value != ""
}

// fillNamed reads a cell that names the whole machine.
func (x *Extractor) fillNamed(r *reading, m *kb.Machine, value string) {
	s := x.plainSentence(value)
	runs := x.nameRuns(r, s)
	if len(runs) == 0 {
		return
	}
	read := kb.Machine{}
	x.fillName(&read, s, runs[0])
	m.Make, m.Model, m.Confidence = read.Make, read.Model, 0.9
	if m.Year == 0 || read.Year != 0 {
		m.Year = read.Year
	}
}

func (x *Extractor) fillField(r *reading, m *kb.Machine, label, value string) {
	switch label {
	case "make model", "machine", "what", "vehicle", "unit", "appliance", "model make", "make and model", "equipment", "car", "truck", "device":
		x.fillNamed(r, m, value)
	case "make", "maker", "manufacturer", "brand":
		m.Make = value
		m.Confidence = 0.9
	case "model":
		m.Model = strings.TrimSpace(strings.TrimPrefix(value, m.Make+" "))
		m.Confidence = 0.9
	case "model year", "year", "built", "year of make", "build year", "year built", "first registered", "installed", "fitted":
		if y := fourDigits.FindString(value); y != "" {
			m.Year, _ = strconv.Atoi(y)
		}
	}
}

var fourDigits = regexp.MustCompile(`\b(?:19[5-9]\d|20[0-4]\d)\b`)

func orElse(a, b string) string {
	if a != "" {
		return a
	}
	return b
}

var (
	distanceForm = regexp.MustCompile(`(?i)\b(\d{1,3}(?:[,. ]\d{3})+|\d+(?:[.,]\d+)?)\s*(k)?\s*(miles?|mi|km|kms|kilometers?|kilometres?|k)\b`)
	hoursForm    = regexp.MustCompile(`(?i)\b(\d{1,3}(?:[,. ]\d{3})+|\d+(?:[.,]\d+)?)\s*(?:print |running |engine |operating )?(?:hours?|hrs?|h)\b`)
	cyclesForm   = regexp.MustCompile(`(?i)\b(\d{1,3}(?:[,. ]\d{3})+|\d+)\s*(?:coffees|cups|cycles|copies|prints|starts|washes)\b`)
)

// fillRest reads what stands beside the name: kind, odometer, hours, cycles.
func (x *Extractor) fillRest(r *reading, p *person, m *kb.Machine, at int) {
	m.Kind = orElse(m.Kind, x.kindOfMachine(r, p, at))
	for i := max(at, 0); i < min(max(at, 0)+4, len(p.sents)); i++ {
		s := p.sents[i]
		text := s.text[s.start:s.end]
		if f := distanceForm.FindStringSubmatch(text); f != nil && m.Odometer == nil {
			if n, ok := plainNumber(f[1]); ok {
				if f[2] != "" || strings.EqualFold(f[3], "k") {
					n *= 1000
				}
				if n >= 500 {
					m.Odometer = &kb.Measure{Value: n, Unit: distanceUnit(f[3])}
				}
			}
		}
		if f := hoursForm.FindStringSubmatch(text); f != nil && m.Hours == nil {
			if n, ok := plainNumber(f[1]); ok && n >= 100 {
				m.Hours = &n
			}
		}
		if f := cyclesForm.FindStringSubmatch(text); f != nil && m.Cycles == nil {
			if n, ok := plainNumber(f[1]); ok && n >= 100 {
				m.Cycles = &n
			}
		}
	}
}

func distanceUnit(word string) string {
	if strings.HasPrefix(strings.ToLower(word), "k") && !strings.EqualFold(word, "k") {
		return "km"
	}
	return "mi"
}

// plainNumber reads digits with separators of thousands.
func plainNumber(s string) (float64, bool) {
	s = strings.NewReplacer(",", "", " ", "").Replace(strings.TrimSpace(s))
	if i := strings.IndexByte(s, '.'); i >= 0 && len(s)-i == 4 {
		s = strings.ReplaceAll(s, ".", "")
	}
	n, err := strconv.ParseFloat(s, 64)
	return n, err == nil && n < 1e8
}

// kindOfMachine looks for a kind word in the sentence of the name, then in the title, the first sentences and the site's name.
func (x *Extractor) kindOfMachine(r *reading, p *person, at int) string {
	look := []*sentence{}
	if at >= 0 && at < len(p.sents) {
		look = append(look, p.sents[at])
	}
	look = append(look, r.title)
	look = append(look, p.sents[:min(4, len(p.sents))]...)
	look = append(look, r.site)
	for _, s := range look {
		for _, m := range s.mentions {
			if m.kind == kb.TermMachine && r.fitsCodes(x, m.name) {
				return m.name
			}
		}
	}
	return r.machine.machine.Kind
}

// fitsCodes tells whether a kind of machine can show the codes of the thread: those of road vehicles are shown by nothing that
// stands in a house.
func (r *reading) fitsCodes(x *Extractor, kind string) bool {
	k, ok := x.v.MachineKind(kind)
	obd := slices.ContainsFunc(r.codes, func(all []code.Found) bool {
		return slices.ContainsFunc(all, func(f code.Found) bool { return f.Code.Scheme == code.OBD })
	})
	return !ok || !obd || slices.Contains([]string{"road", "electric", "commercial", "heavy", "farm", "marine"}, k.Family)
}

// readOther finds out whether someone else than the starter tells of a machine of their own, and which.
func (x *Extractor) readOther(r *reading, p *person) {
	p.told = len(p.sents)
	p.machine = machineRead{at: -1}
	for i, s := range p.sents {
		if !x.tellsOwn(r, s) {
			continue
		}
		p.told = i
		break
	}
	if p.told == len(p.sents) {
		return
	}
	m := &p.machine.machine
	best := nameRun{}
	for i, s := range p.sents {
		if s.post != p.sents[p.told].post && i > p.told+12 {
			break
		}
		for _, run := range x.rowsOfNames(r, s) {
			if kin := r.kinship(run.fields); kin > 0 {
				x.scoreRun(r, s, &run)
				run.score += kin
				if run.score > best.score && run.score >= 3 {
					best, p.machine.at = run, i
				}
			}
		}
	}
	if p.machine.at >= 0 {
		s := p.sents[p.machine.at]
		x.fillOther(r, m, s, best)
		m.Evidence = r.evidence(s, best.from, best.to)
		m.Confidence = 0.8
	} else {
		m.Make, m.Model, m.Confidence = r.machine.machine.Make, x.knownModel(r, p), 0.5
		m.Year = ownYear(p)
	}
	x.fillRest(r, p, m, max(p.machine.at, p.told))
	m.Kind = orElse(r.machine.machine.Kind, m.Kind)
}

// fillOther names a further reporter's machine; one that has only a model has the make of the thread.
func (x *Extractor) fillOther(r *reading, m *kb.Machine, s *sentence, run nameRun) {
	x.fillName(m, s, run)
	main := r.machine.machine
	if main.Make == "" || strings.EqualFold(m.Make, main.Make) {
		return
	}
	if m.Make == "" || countNames(run.fields) < 2 || r.kinship(run.fields[:1]) > 0 {
		m.Make, m.Model = main.Make, strings.TrimSpace(m.Make+" "+m.Model)
	}
}

// countNames counts the fields that are words rather than marks.
func countNames(fields []string) int {
	n := 0
	for _, f := range fields {
		if allLetters(f) && len(f) > 2 && !isBodyStyle(strings.ToLower(f)) {
			n++
		}
	}
	return n
}

// kinship tells how near a name is to the machine of the thread: it shares a word of the model or the make, or its mark is
// built like the thread's ("KX345" beside "KX330").
func (r *reading) kinship(fields []string) int {
	main := strings.Fields(strings.ToLower(r.machine.machine.Make + " " + r.machine.machine.Model))
	kin := 0
	for _, f := range fields {
		f = strings.ToLower(f)
		for _, k := range main {
			switch {
			case f == k && len(f) > 1 && !displacement.MatchString(f):
				kin = max(kin, 3)
			case sameSeries(f, k):
				kin = max(kin, 2)
			}
		}
	}
	return kin
}

// sameSeries tells whether two marks with digits have the same letters: "tx1" and "tx2", "wx1260" and "wx1460".
func sameSeries(a, b string) bool {
	letters := func(s string) string {
		return strings.Map(func(r rune) rune {
			if r >= '0' && r <= '9' {
				return -1
			}
			return r
		}, s)
	}
	x, y := letters(a), letters(b)
	return a != b && x == y && len(x) > 0 && len(x) < len(a) && len(y) < len(b) && x != "." && x != "v"
}

// ownYear finds the year that a person gives for "mine" without naming it: "mine is the long 2011".
func ownYear(p *person) int {
	for _, s := range p.sents[p.told:min(p.told+3, len(p.sents))] {
		for i := range s.toks {
			if y := yearOf(s, i); y != 0 && len(s.toks[i].raw) == 4 && !slices.ContainsFunc(s.toks[max(i-2, 0):i], func(t token) bool {
				return t.word == "in" || t.word == "since" || t.word == "last"
			}) {
				return y
			}
		}
	}
	return 0
}

// knownModel gives the bare model of the thread's machine, without engine and trim, which another machine need not share.
func (x *Extractor) knownModel(r *reading, p *person) string {
	fields := strings.Fields(r.machine.machine.Model)
	for len(fields) > 1 && (displacement.MatchString(fields[len(fields)-1]) || len(fields[len(fields)-1]) < 3 && isDesignator(fields[len(fields)-1]) || isBodyStyle(strings.ToLower(fields[len(fields)-1]))) {
		fields = fields[:len(fields)-1]
	}
	return strings.Join(fields, " ")
}

// otherPeople tells whether "my" is followed by a person: "my neighbour's".
func otherPeople(s *sentence, i int) bool {
	return i < len(s.toks) && slices.Contains([]string{"mate", "neighbour", "neighbor", "friend", "brother", "sister", "dad", "father", "mother", "mum", "mom", "cousin",
		"boss", "wife", "husband", "son", "customer", "colleague", "uncle", "guess", "money", "bet", "neighbours", "mates", "brothers", "wifes", "dads", "friends"}, s.toks[i].word)
}
