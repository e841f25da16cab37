package ingest

import (
	"slices"
	"strconv"
	"strings"
	"unicode"

	"ruledout/kb"
)

// nameRuns finds the rows of words in a sentence that may name a machine, and scores them by what stands around.
func (x *Extractor) nameRuns(r *reading, s *sentence) []nameRun {
	out := x.rowsOfNames(r, s)
	for i := range out {
		x.scoreRun(r, s, &out[i])
	}
	return out
}

// rowsOfNames finds the rows of words in a sentence that may name a machine.
func (x *Extractor) rowsOfNames(r *reading, s *sentence) []nameRun {
	if s.place == RegionHeading || s.place == RegionCode {
		return nil
	}
	var out []nameRun
	shouting := isShouting(s)
	for i := 0; i < len(s.toks); {
		run := x.runAt(r, s, i, shouting)
		if run.to == run.from {
			i++
			continue
		}
		out = append(out, run)
		i = run.to
	}
	return out
}

// runAt reads a row of name words from token i.
func (x *Extractor) runAt(r *reading, s *sentence, i int, shouting bool) nameRun {
	run := nameRun{from: i, to: i}
	afterYear := i > 0 && yearOf(s, i-1) != 0
	for j := i; j < len(s.toks) && j-i < 7; j++ {
		if !x.nameToken(r, s, j, run, afterYear, shouting) {
			break
		}
		run.to = j + 1
	}
	if run.to == run.from {
		return run
	}
	run.fields = strings.Fields(s.text[s.toks[run.from].start:s.toks[run.to-1].end])
	return run
}

// nameToken tells whether token j goes on with (or begins) a name.
func (x *Extractor) nameToken(r *reading, s *sentence, j int, run nameRun, afterYear, shouting bool) bool {
	t := s.toks[j]
	started := j > run.from
	if t.mark || t.number() && !started && !r.isKin(s, j) || yearOf(s, j) != 0 && t.number() && len(t.raw) == 4 || r.isCode(s, t) {
		return false
	}
	joined := started && s.toks[j-1].end <= t.start && s.toks[j-1].end >= t.start-1 && strings.ContainsAny(s.text[s.toks[j-1].end:t.start]+t.raw[:1], "-/") && (t.hasDigit() || t.capital())
	switch {
	case joined || r.isKin(s, j) || started && displacement.MatchString(t.raw):
		return true
	case t.number():
		return started && !x.unitFollows(s, j) && !(len(t.raw) > 3 && s.toks[j-1].hasDigit())
	case isDesignator(t.raw):
		return !isUnitWord(t.word) && !strings.HasPrefix(t.raw, "-") && !strings.HasPrefix(t.raw, "+")
	case started && isBodyStyle(t.word):
		return true
	case x.isKindWord(s, j):
		return started && t.capital() && !isPlainKind(t.word) && (!shouting || j == run.from+1)
	case afterYear && !t.capital():
		return !x.commonWord(s, j) && j-run.from < 3 && (!started || !s.toks[run.from].capital()) && !isUnitWord(t.word)
	case shouting && (j-run.from >= 2 || !afterYear && !started):
		return false
	case !started && t.capital() && len(t.word) == 1 && j+1 < len(s.toks) && s.toks[j+1].number() && s.toks[j+1].start == t.end+1 && s.text[t.end] == '-':
		return true
	case started && t.capital() && len(t.word) == 1 && t.word != "i" && t.word != "a":
		return true
	case !t.capital() || x.commonWord(s, j) || len(t.word) < 2:
		return false
	}
	first := j == 0 || s.toks[j-1].mark
	return !first || started || x.lowerElsewhere(r, t.word)
}

// isKin tells whether a token names the thread's machine however it is written: a word of its model or make in small letters,
// or, where the model is a bare number, one of as many digits.
func (r *reading) isKin(s *sentence, j int) bool {
	t := s.toks[j]
	for _, f := range strings.Fields(r.machine.machine.Make + " " + r.machine.machine.Model) {
		switch {
		case len(f) > 2 && strings.EqualFold(f, t.raw) && (!t.number() || len(f) > 3):
			return !r.smallWords[t.word] || t.number() || t.capital() || !isDictionaryWord(t.word)
		case t.number() && len(t.raw) == len(f) && len(f) > 3 && strings.Trim(f, "0123456789") == "" && j > 0 && yearOf(s, j) == 0:
			w := s.toks[j-1].word
			return slices.Contains([]string{"my", "our", "a", "the", "mine", "older", "newer", "smaller", "bigger"}, w) || yearOf(s, j-1) != 0
		}
	}
	return false
}

// isDictionaryWord is a short list of model names that are everyday words, which small letters then do not name.
func isDictionaryWord(word string) bool {
	return slices.Contains([]string{"compact", "home", "pro", "plus", "max", "mini", "sport", "estate", "hybrid", "electric", "wagon", "diesel", "series", "classic", "drive", "power"}, word)
}

// lowerElsewhere tells whether a word that begins a sentence, where every word has a capital, looks like a name: it stands
// nowhere in the thread in small letters.
func (x *Extractor) lowerElsewhere(r *reading, word string) bool { return !r.smallWords[word] }

// commonWord tells whether a word is of the language or the trade rather than a name.
func (x *Extractor) commonWord(s *sentence, j int) bool {
	t := s.toks[j]
	if x.stops[t.word] || isPast(strings.ToLower(t.raw)) && !isDesignator(t.raw) || isGreeting(t.word) {
		return true
	}
	return slices.ContainsFunc(s.mentions, func(m mention) bool {
		return j >= m.from && j < m.to && (m.kind == kb.TermComponent || m.kind == kb.TermSymptom || m.kind == kb.TermAction || m.kind == kb.TermMethod ||
			m.kind == termCue && m.to-m.from == 1)
	})
}

func isGreeting(word string) bool {
	return slices.Contains([]string{"hi", "hello", "hey", "evening", "gday", "g'day", "thank", "cheer", "update", "help", "folk", "guy", "mate", "dear", "sorry",
		"yes", "no", "ok", "okay", "following", "solved", "fixed", "edit", "right", "code", "error", "fault", "abs", "eml", "cel", "mil", "op", "led", "diy",
		"usb", "pm", "am", "utc", "uk", "usa", "eu", "german", "english", "french", "question", "answer", "quick", "short", "long", "serious", "truck", "our",
		"jan", "feb", "mar", "apr", "jun", "jul", "aug", "sep", "sept", "oct", "nov", "dec", "mon", "tue", "wed", "thu", "fri", "sat", "sun", "freeze", "frame", "monitor", "live", "data", "internet", "title", "topic", "asked", "posted", "problem", "issue", "symptom", "complaint", "owner", "selling"}, word)
}

// isDesignator tells whether a word is a mark such as "KX330", "24C", "V6": letters and digits together.
func isDesignator(raw string) bool {
	digits := strings.ContainsFunc(raw, unicode.IsDigit)
	letters := strings.ContainsFunc(raw, unicode.IsUpper)
	return digits && letters
}

// isBodyStyle tells whether a word of the name is written small though it is a part of it.
func isBodyStyle(word string) bool {
	return slices.Contains([]string{"wagon", "estate", "hybrid", "phev", "coupe", "hatch", "tourer"}, word)
}

// isPlainKind tells whether a kind word is never a part of a model's name.
func isPlainKind(word string) bool {
	return slices.Contains([]string{"van", "car", "truck", "bus", "bike", "boiler", "tractor", "machine", "washer", "dryer", "oven", "fridge", "pump", "printer",
		"excavator", "forklift", "mower", "boat", "combi", "furnace", "generator", "inverter", "charger", "scooter", "motorcycle", "loader", "digger", "lorry", "minivan", "pickup"}, word)
}

func (x *Extractor) isKindWord(s *sentence, j int) bool {
	return slices.ContainsFunc(s.mentions, func(m mention) bool { return m.kind == kb.TermMachine && j >= m.from && j < m.to })
}

// unitFollows tells whether the number at j counts something rather than belonging to a name.
func (x *Extractor) unitFollows(s *sentence, j int) bool {
	if j+1 >= len(s.toks) {
		return false
	}
	next := s.toks[j+1]
	return isUnitWord(next.word) && next.raw != "E" || next.start <= s.toks[j].end+1 && next.number() && len(next.raw) == 3 && next.start > s.toks[j].end
}

func isUnitWord(word string) bool {
	return slices.Contains([]string{"k", "km", "mile", "mi", "hour", "hr", "h", "v", "volt", "a", "amp", "ohm", "mm", "cm", "bar", "psi", "kw", "w", "year", "yr",
		"month", "week", "day", "l", "litre", "liter", "min", "minute", "sec", "second", "blink", "flash", "degree", "c", "f", "rpm", "euro", "eur",
		"coffee", "cup", "cycle", "copy", "print", "unit", "time", "plate", "build", "percent", "mph", "watt", "kwh", "kva", "cc", "cyl", "speed"}, word)
}

// yearOf gives the year that token i states: four digits, or two after an apostrophe, before "plate" or after an article
// or possessive ("a 13 halden").
func yearOf(s *sentence, i int) int {
	t := s.toks[i]
	if m := yearForm.FindString(t.raw); m != "" {
		y, _ := strconv.Atoi(m)
		return y
	}
	m := shortYear.FindStringSubmatch(t.raw)
	if m == nil {
		return 0
	}
	apostrophe := i > 0 && strings.ContainsAny(s.toks[i-1].raw, "'’‘") || strings.ContainsAny(t.raw, "'’")
	plate := i+1 < len(s.toks) && s.toks[i+1].word == "plate"
	owned := i > 0 && i+1 < len(s.toks) && slices.Contains([]string{"a", "my", "our", "have", "an"}, s.toks[i-1].word) && !s.toks[i+1].mark &&
		!isUnitWord(s.toks[i+1].word)
	if !apostrophe && !plate && !owned {
		return 0
	}
	y, _ := strconv.Atoi(m[1])
	if y > 50 {
		return 1900 + y
	}
	return 2000 + y
}

func isShouting(s *sentence) bool {
	capital, small := 0, 0
	for _, t := range s.toks {
		if t.mark || t.hasDigit() || len(t.raw) < 3 {
			continue
		}
		if strings.ToUpper(t.raw) == t.raw {
			capital++
		} else {
			small++
		}
	}
	return capital > 4 && capital > 3*small
}
