package ingest

import (
	"regexp"
	"slices"
	"strings"
	"unicode"

	"ruledout/kb"
)

// machineRead is a machine as one person names it.
type machineRead struct {
	machine kb.Machine
	at      int // index of the sentence that names it, -1 if none does
	score   int
}

// nameRun is a row of words that may name a machine.
type nameRun struct {
	from, to int
	fields   []string
	year     int
	score    int
}

// readMachines finds the machine of the thread's starter, then those of the others, which share its make when they name only
// a model, and from where on each person tells of their own.
func (x *Extractor) readMachines(r *reading) {
	for _, p := range r.people {
		if p.starter {
			x.readStarter(r, p)
			continue
		}
		x.readOther(r, p)
	}
}

// readStarter takes the best name in the title and the starter's own sentences.
func (x *Extractor) readStarter(r *reading, p *person) {
	best, at := nameRun{}, -1
	titleBest := nameRun{}
	for _, run := range x.nameRuns(r, r.title) {
		run.score++
		if run.score > titleBest.score {
			titleBest = run
		}
	}
	for i, s := range p.sents {
		if i > 40 {
			break
		}
		for _, run := range x.nameRuns(r, s) {
			if i < 4 {
				run.score++
			}
			if run.score > best.score {
				best, at = run, i
			}
		}
	}
	r.machine = machineRead{at: -1}
	m := &r.machine.machine
	switch {
	case best.score >= 4:
		r.machine.at, r.machine.score = at, best.score
		s := p.sents[at]
		x.fillName(m, s, best)
		x.completeMake(r, m)
		m.Evidence = r.evidence(s, best.from, best.to)
	case titleBest.score >= 3:
		x.fillName(m, r.title, titleBest)
	}
	x.completeFromTitle(m, titleBest)
	m.Confidence = min(0.5+0.08*float64(max(best.score, titleBest.score)), 0.95)
	if m.Make == "" && m.Model == "" {
		m.Confidence = 0
	}
	x.fillTable(r, p, m)
	x.fillRest(r, p, m, r.machine.at)
	if m.Year == 0 {
		m.Year = titleBest.year
	}
	p.machine = r.machine
	p.told = 0
}

// completeFromTitle takes the make from a title that names the same model in full.
func (x *Extractor) completeFromTitle(m *kb.Machine, title nameRun) {
	if len(title.fields) < 2 || m.Make != "" && m.Model != "" {
		return
	}
	have := strings.Fields(strings.ToLower(m.Make + " " + m.Model))
	for i, f := range title.fields {
		if len(have) > 0 && strings.ToLower(f) == have[0] && i > 0 {
			own := strings.Fields(m.Make + " " + m.Model)
			m.Make = title.fields[0]
			m.Model = strings.Join(append(slices.Clone(title.fields[1:i]), own...), " ")
			return
		}
	}
}

// completeMake looks for a capitalised name that stands before the make somewhere in the thread: then what was taken for the
// make is the model.
func (x *Extractor) completeMake(r *reading, m *kb.Machine) {
	if m.Make == "" || m.Model != "" && strings.IndexFunc(m.Model[:1], unicode.IsDigit) < 0 {
		return
	}
	before := regexp.MustCompile(`(\p{Lu}\p{Ll}{2,})\s+` + regexp.QuoteMeta(m.Make) + `\b`)
	texts := []string{r.thread.Title}
	for _, p := range r.thread.Posts {
		texts = append(texts, p.Text)
	}
	for _, text := range texts {
		if !strings.Contains(text, m.Make) {
			continue
		}
		f := before.FindStringSubmatch(text)
		if f == nil || r.smallWords[kb.Fold(f[1])] || x.stops[kb.Fold(f[1])] || isGreeting(kb.Fold(f[1])) {
			continue
		}
		if _, ok := x.v.MachineKind(f[1]); ok {
			continue
		}
		m.Make, m.Model = f[1], strings.TrimSpace(m.Make+" "+m.Model)
		return
	}
}

// fillName parts a run into make and model.
func (x *Extractor) fillName(m *kb.Machine, s *sentence, run nameRun) {
	m.Year = run.year
	fields := run.fields
	if len(fields) > 1 && allLetters(fields[0]) {
		m.Make, fields = fields[0], fields[1:]
	} else if len(fields) == 1 && allLetters(fields[0]) {
		m.Make, fields = fields[0], nil
	}
	m.Model = strings.Join(fields, " ")
	if engine := displacementAfter(s, run.to); engine != "" && m.Model != "" && !strings.Contains(m.Model, engine) {
		m.Model += " " + engine
	}
}

func allLetters(s string) bool {
	return s != "" && strings.IndexFunc(s, func(r rune) bool { return !unicode.IsLetter(r) && r != '-' && r != '\'' }) < 0
}

var displacement = regexp.MustCompile(`^\d\.\d[a-zA-Z]{0,3}$`)

// displacementAfter finds an engine size that stands alone between marks shortly after the name: "Halden van, 2.2, 60k".
func displacementAfter(s *sentence, at int) string {
	for i := at; i < min(at+4, len(s.toks)); i++ {
		before := i > 0 && (s.toks[i-1].mark || s.toks[i-1].word == "the")
		after := i+1 >= len(s.toks) || s.toks[i+1].mark
		if displacement.MatchString(s.toks[i].raw) && before && after {
			return s.toks[i].raw
		}
	}
	return ""
}

var (
	yearForm  = regexp.MustCompile(`^(19[5-9]\d|20[0-4]\d)$`)
	shortYear = regexp.MustCompile(`^['’]?(\d\d)$`)
)

func (r *reading) isCode(s *sentence, t token) bool {
	if s == r.title || s.post >= len(r.codes) {
		for _, f := range r.titleCodes {
			if s == r.title && t.start < f.End && f.Start < t.end {
				return true
			}
		}
		return false
	}
	for _, f := range r.codes[s.post] {
		if t.start < f.End && f.Start < t.end {
			return true
		}
	}
	return false
}

// scoreRun judges a run by a year beside it, words of possession before it, kind words around, and whether the title and
// other posts name it too.
func (x *Extractor) scoreRun(r *reading, s *sentence, run *nameRun) {
	for back := 1; back <= 2 && run.from-back >= 0; back++ {
		if y := yearOf(s, run.from-back); y != 0 && run.year == 0 {
			run.year = y
			run.score += 3
		}
	}
	if run.year == 0 {
		run.year = x.yearAfter(s, run.to)
		if run.year != 0 {
			run.score += 2
		}
		if run.to < len(s.toks) && yearOf(s, run.to) != 0 {
			run.score += 2
		}
	}
	if owned(s, run.from) {
		run.score += 2
	}
	if x.kindNear(s, run.from-2, run.from) || x.kindNear(s, run.to, run.to+3) {
		run.score += 2
	}
	if len(run.fields) > 1 {
		run.score += 2
	}
	if strings.ContainsFunc(strings.Join(run.fields, ""), unicode.IsDigit) {
		run.score++
	}
	if s != r.title && r.title.shares(run.fields) {
		run.score += 2
	}
	if s != r.title && r.namedByOthers(s.post, run.fields) {
		run.score += 2
	}
}

// namedByOthers tells whether posts of other people hold one of the fields.
func (r *reading) namedByOthers(post int, fields []string) bool {
	if r.index == nil {
		r.index = newWordIndex(r.thread.Posts)
	}
	return slices.ContainsFunc(fields, func(f string) bool {
		return len(f) >= shortestIndexed && r.index.byOthers(post, strings.ToLower(f))
	})
}

// shares tells whether the sentence holds one of the fields as a word.
func (s *sentence) shares(fields []string) bool {
	text := " " + strings.ToLower(s.text) + " "
	return slices.ContainsFunc(fields, func(f string) bool {
		return len(f) > 1 && containsWord(text, strings.ToLower(f)) && !strings.ContainsAny(f[:1], ".")
	})
}

func containsWord(text, word string) bool {
	for from := 0; ; {
		i := strings.Index(text[from:], word)
		if i < 0 {
			return false
		}
		i += from
		end := i + len(word)
		if (i == 0 || !isLetterOrDigit(text[i-1])) && (end == len(text) || !isLetterOrDigit(text[end])) {
			return true
		}
		from = i + 1
	}
}

func isLetterOrDigit(b byte) bool {
	return b >= '0' && b <= '9' || b >= 'a' && b <= 'z' || b >= 'A' && b <= 'Z' || b >= 0x80
}

// owned tells whether a word before the name says whose it is: "my 2014 X", "I have a X", "washer is a X".
func owned(s *sentence, at int) bool {
	for i := at - 1; i >= max(at-4, 0); i-- {
		if slices.Contains([]string{"my", "our", "have", "ive", "own", "owns", "got", "is", "run", "ours", "mine", "weve", "had", "this"}, s.toks[i].word) {
			return true
		}
	}
	return false
}

func (x *Extractor) kindNear(s *sentence, from, to int) bool {
	return slices.ContainsFunc(s.mentions, func(m mention) bool { return m.kind == kb.TermMachine && m.from < to && m.to > from })
}

// yearAfter finds the year of make within a few words after the name.
func (x *Extractor) yearAfter(s *sentence, at int) int {
	told := slices.ContainsFunc(s.toks[:min(at, len(s.toks))], func(t token) bool { return t.word == "had" || t.word == "did" || t.word == "saw" })
	for i := at; i < min(at+14, len(s.toks)); i++ {
		if told && i > 0 && (s.toks[i-1].word == "in" || s.toks[i-1].word == "since") && yearOf(s, i) != 0 {
			return 0 // when it happened
		}
		if y := yearOf(s, i); y != 0 && len(s.toks[i].raw) == 4 && (i-at < 5 || s.has2(i+1, "build", "model", "plate", "reg", "vintage", "built", "registered") || slices.Contains([]string{"in", "from", "of", "year", "about", "built", "new", "early", "late", "since", "bought", "installed", "commissioned", "fitted", "registered", "spring",
			"summer", "autumn", "winter", "fall", "january", "february", "march", "april", "may", "june", "july", "august", "september", "october", "november", "december"}, s.toks[i-1].word)) {
			return y
		}
		if strings.ContainsAny(s.toks[i].raw, ".;?!") && s.toks[i].mark {
			return 0
		}
	}
	return 0
}
