package ingest_test

import (
	"slices"
	"strconv"
	"strings"

	"ruledout/kb"
)

// threadGold is the annotation of one thread.
type threadGold struct {
	Posts  int        `json:"posts"` // as a person counts them
	Cases  []goldCase `json:"cases"`
	Advice []goldFact `json:"advice"` // suggested or guessed by somebody, done by nobody
	Masked []string   `json:"masked"` // must not come out in any form
}

type goldCase struct {
	Reporter     string     `json:"reporter"`
	Machine      kb.Machine `json:"machine"`
	Codes        []string   `json:"codes"`
	Tests        []goldFact `json:"tests"`
	Fixes        []goldFact `json:"fixes"`
	Status       string     `json:"status"`
	Confirmation string     `json:"confirmation"`
}

type goldFact struct {
	Component []string `json:"component"` // the preferred name, then accepted ones
	Result    string   `json:"result"`
	Outcome   string   `json:"outcome"` // empty where the writer cannot tell
	Reading   *struct {
		Value float64 `json:"value"`
		Unit  string  `json:"unit"`
	} `json:"reading"`
	Quote string `json:"quote"`
}

// item is one thing to be found: its names, any of which will do, and what was said of it.
type item struct {
	names []string
	said  string
}

// tally counts what was found and right, found and wrong, and missed.
type tally struct{ right, wrong, missed int }

func (t tally) plus(o tally) tally {
	return tally{t.right + o.right, t.wrong + o.wrong, t.missed + o.missed}
}

// f1 is the harmonic mean of precision and recall, 1 where there was nothing to find.
func (t tally) f1() float64 {
	if t == (tally{}) {
		return 1
	}
	return float64(2*t.right) / float64(2*t.right+t.wrong+t.missed)
}

// sameWord is equality of names of parts, or the same last word and at least half of all the words of both.
func sameWord(a, b string) bool {
	x, y := strings.Fields(strings.ToLower(a)), strings.Fields(strings.ToLower(b))
	if slices.Equal(x, y) {
		return true
	}
	if len(x) == 0 || len(y) == 0 || x[len(x)-1] != y[len(y)-1] {
		return false
	}
	shared := 0
	for _, w := range x {
		if slices.Contains(y, w) {
			shared++
		}
	}
	return 2*shared >= len(x)+len(y)-shared
}

func (i item) matches(o item) bool {
	return i.said == o.said && slices.ContainsFunc(i.names, func(a string) bool {
		return slices.ContainsFunc(o.names, func(b string) bool { return sameWord(a, b) })
	})
}

// compare pairs every wanted item with the first found one not yet taken that matches it.
func compare(want, got []item) tally {
	taken, t := make([]bool, len(got)), tally{}
	for _, w := range want {
		i := slices.IndexFunc(got, w.matches)
		for i >= 0 && taken[i] {
			next := slices.IndexFunc(got[i+1:], w.matches)
			if next < 0 {
				i = -1
				break
			}
			i += 1 + next
		}
		if i >= 0 {
			taken[i] = true
			t.right++
		}
	}
	t.missed, t.wrong = len(want)-t.right, len(got)-t.right
	return t
}

// facts are the items of a case by kind.
type facts map[string][]item

var threadKinds = [...]string{"cases", "codes", "machine", "tests", "readings", "fixes", "confirmed fix", "status"}

func (g goldCase) facts() facts {
	f := facts{"cases": {named("case")}, "machine": machineItems(g.Machine), "status": {named(g.Status + "/" + g.Confirmation)}}
	for _, c := range g.Codes {
		f["codes"] = append(f["codes"], codeItem(c))
	}
	for _, t := range g.Tests {
		f["tests"] = append(f["tests"], item{t.Component, t.Result})
		if t.Reading != nil {
			f["readings"] = append(f["readings"], readingItem(t.Reading.Value, t.Reading.Unit))
		}
	}
	for _, x := range g.Fixes {
		f.addFix(x.Component, x.Outcome)
	}
	return f
}

func foundFacts(c kb.Case) facts {
	f := facts{"cases": {named("case")}, "machine": machineItems(c.Machine), "status": {named(string(c.Status) + "/" + string(c.Confirmation))}}
	for _, x := range c.Codes {
		f["codes"] = append(f["codes"], codeItem(x.Code))
	}
	for _, t := range c.Tests {
		f["tests"] = append(f["tests"], item{[]string{t.Component}, string(t.Result)})
		if t.Reading != nil && t.Reading.Value != nil {
			f["readings"] = append(f["readings"], readingItem(*t.Reading.Value, t.Reading.Unit))
		}
	}
	for _, x := range c.Fixes {
		f.addFix([]string{x.Component}, string(x.Outcome))
	}
	return f
}

func (f facts) addFix(names []string, outcome string) {
	if outcome == "" {
		outcome = string(kb.UnknownOutcome)
	}
	f["fixes"] = append(f["fixes"], item{names, outcome})
	if outcome == string(kb.Fixed) {
		f["confirmed fix"] = append(f["confirmed fix"], item{names, outcome})
	}
}

func named(s string) item { return item{names: []string{s}} }

// codeItem folds the spellings of one code: case, blanks, hyphens and the word for a blink count.
func codeItem(s string) item {
	s = strings.TrimPrefix(strings.ToUpper(s), "BLINK")
	return named(strings.NewReplacer(" ", "", "-", "", ".", "").Replace(s))
}

// readingItem names a reading by its value and its unit in one spelling.
func readingItem(v float64, unit string) item {
	unit = strings.NewReplacer("Ω", "ohm", "°C", "degC", "VAC", "V", "mL", "ml", "L/min", "l/min").Replace(unit)
	return named(strconv.FormatFloat(v, 'g', 6, 64) + unit)
}

// machineItems are the make, the model with its variant, and the year, as far as they are known.
func machineItems(m kb.Machine) []item {
	out := []item{}
	for _, s := range []string{m.Make, strings.TrimSpace(m.Model + " " + m.Variant)} {
		if s != "" {
			out = append(out, named(s))
		}
	}
	if m.Year != 0 {
		out = append(out, named(strconv.Itoa(m.Year)))
	}
	return out
}

// samePerson lets a name be read without the place written behind it.
func samePerson(full, read string) bool {
	return strings.EqualFold(full, read) || read != "" && strings.HasPrefix(strings.ToLower(full), strings.ToLower(read)+" (")
}

// compareCases pairs cases by their reporter and counts every kind of fact; a case that is not paired counts in full.
func compareCases(want []goldCase, got []kb.Case) map[string]tally {
	sum, taken := map[string]tally{}, make([]bool, len(got))
	add := func(w, g facts) {
		for _, k := range threadKinds {
			sum[k] = sum[k].plus(compare(w[k], g[k]))
		}
	}
	for _, w := range want {
		found := facts{}
		if i := slices.IndexFunc(got, func(c kb.Case) bool { return samePerson(w.Reporter, c.Reporter) }); i >= 0 && !taken[i] {
			taken[i], found = true, foundFacts(got[i])
		}
		add(w.facts(), found)
	}
	for i, c := range got {
		if !taken[i] {
			add(facts{}, foundFacts(c))
		}
	}
	return sum
}
