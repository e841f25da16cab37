package link

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"ruledout/kb"
	"ruledout/kb/quantity"
)

// Record is what is compared of a case, made once. Terms are kept hashed, in sorted sets.
type Record struct {
	ID kb.CaseID

	writeups     []kb.WriteupKey
	teller       string   // reporter, else contributor, squashed
	make, model  string   // squashed
	name         []string // words of make and model
	nameWords    []uint64 // those of them that say which model it is
	variant      []string
	year         int
	codes        []uint64 // scheme and code without the issuer, which the make says, if it is told
	families     []uint64
	subtypes     []uint64 // codes with their failure type byte
	runs         []run
	days         []int    // days since 1970 on which a source was posted
	heads        []uint64 // last words of the culprits' names
	culprits     []uint64
	culpritWords [][]uint64 // of each, its words or what the vocabulary calls it
	wholes       []uint64   // what the culprits are parts of, and what feeds them
	actions      []uint64
	tested       []uint64
	readings     []reading
	far          []run // distances of the text that may be an odometer's, where the record names none
	measured     map[string][]reading
	words        []uint64
	weights      []float32 // of the words, once they are weighed
	signature    []uint32
	told         places // of the fault
	found        places // of the fault or, where it is not told, of the whole text
}

// reading is a value in its base unit.
type reading struct {
	of    string
	value float64
	rare  float64 // in bits: log2(records / records that tell it), once weighed
}

// run is how far a machine had run, in the base unit of its kind, with half the unit of the last figure told.
type run struct {
	of            string
	value, within float64
}

// Maker makes records by one vocabulary.
type Maker struct {
	v      *kb.Vocabulary
	hashes []Hash
	idle   []string
}

// NewMaker makes a maker of records.
func NewMaker(v *kb.Vocabulary) *Maker { return &Maker{v: v, hashes: Hashes(hashCount), idle: idle()} }

// Record makes the record of a case as it is stored, with what its teller wrote (masked, as stored) where that is kept. Terms are put into
// those of the vocabulary.
func (k *Maker) Record(c *kb.Case, posts ...string) Record {
	r := Record{ID: c.ID, teller: squashed(c.Reporter), make: squashed(c.Machine.Make), model: squashed(c.Machine.Model),
		variant: kb.FoldWords(c.Machine.Variant), year: c.Machine.Year, runs: runsOf(c.Machine)}
	if r.teller == "" {
		r.teller = squashed(c.Contributor)
	}
	for _, s := range c.Sources {
		if s.Writeup != "" {
			r.writeups = append(r.writeups, s.Writeup)
		}
		if t, err := time.Parse(time.DateOnly, s.Posted); err == nil {
			r.days = append(r.days, int(t.Unix()/86400))
		}
	}
	slices.Sort(r.days)
	k.codes(c, &r)
	k.work(c, &r)
	pieces := append(Text(c), posts...)
	r.told, r.found = placesOf(c, pieces)
	k.measure(c, pieces, &r)
	r.words = k.wordsOf(c, pieces)
	r.name = kb.FoldWords(c.Machine.Make + " " + c.Machine.Model)
	r.nameWords = wordSet([]string{c.Machine.Model}, nil)
	r.signature = Signature(shingles(pieces), k.hashes)
	return r
}

// wordsOf gives what the words of a text are compared by: stems, without idle words and the codes, which are compared by themselves, and what
// the vocabulary calls the components that are named, so that "waste pump" and "drain pump" meet.
func (k *Maker) wordsOf(c *kb.Case, pieces []string) []uint64 {
	without := map[string]bool{}
	for _, w := range k.idle {
		without[w] = true
	}
	for _, e := range c.Codes {
		for _, w := range kb.FoldWords(e.Code) {
			without[w] = true
		}
	}
	out := wordSet(pieces, without)
	for _, p := range pieces {
		out = append(out, k.named(kb.FoldWords(p))...)
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// phraseMost is the number of words in the longest phrase that is looked up.
const phraseMost = 3

// named hashes the names of the components in a text.
func (k *Maker) named(words []string) []uint64 {
	var out []uint64
	for i := range words {
		for n := phraseMost; n > 0; n-- {
			if i+n > len(words) {
				continue
			}
			if c, ok := k.v.Component(strings.Join(words[i:i+n], " ")); ok {
				out = append(out, hashOf("component "+c.Name))
				break
			}
		}
	}
	return out
}

func (k *Maker) codes(c *kb.Case, r *Record) {
	for _, e := range c.Codes {
		key, err := e.Key(c.Machine.Make)
		if err != nil {
			continue
		}
		name := string(key.Scheme) + " " + key.Code
		r.codes = append(r.codes, hashOf(name))
		if f := key.Family(); f != "" {
			r.families = append(r.families, hashOf(f))
		}
		if read, err := e.Parse(); err == nil && read.FTB != "" {
			r.subtypes = append(r.subtypes, hashOf(name+"-"+read.FTB))
		}
	}
	r.codes, r.families, r.subtypes = set(r.codes), set(r.families), set(r.subtypes)
}

func set(list []uint64) []uint64 {
	slices.Sort(list)
	return slices.Compact(list)
}

func hashes(list []string) []uint64 {
	out := make([]uint64, len(list))
	for i, s := range list {
		out[i] = hashOf(s)
	}
	return set(out)
}

func (k *Maker) work(c *kb.Case, r *Record) {
	for _, f := range curesOf(c) {
		name := k.component(f.Component)
		r.culprits, r.heads = append(r.culprits, hashOf(name)), append(r.heads, hashOf(lastWord(name)))
		if _, known := k.v.Component(name); known {
			r.culpritWords = append(r.culpritWords, []uint64{hashOf("component " + name)})
		} else {
			r.culpritWords = append(r.culpritWords, wordSet([]string{name}, nil))
		}
		r.wholes = append(append(r.wholes, hashes(k.v.Wholes(name))...), hashes(k.v.Upstream(name))...)
		r.actions = append(r.actions, hashOf(string(f.Action)))
	}
	for _, t := range c.Tests {
		r.tested = append(r.tested, hashOf(k.component(t.Component)))
	}
	for _, f := range c.TriedFixes() {
		r.tested = append(r.tested, hashOf(k.component(f.Component)))
	}
	r.culprits, r.heads, r.wholes, r.actions, r.tested = set(r.culprits), set(r.heads), set(r.wholes), set(r.actions), set(r.tested)
}

// component gives a name without its position: that is compared by itself.
func (k *Maker) component(term string) string {
	name := k.v.CanonicalComponent(term)
	if _, rest := kb.SplitPosition(name); rest != "" {
		if _, known := k.v.Component(name); !known {
			return rest
		}
	}
	return name
}

// measure takes the readings of the record and every quantity of the text; how far the machine had run is none.
func (k *Maker) measure(c *kb.Case, pieces []string, r *Record) {
	r.measured = map[string][]reading{}
	for _, t := range c.Tests {
		if t.Reading == nil || t.Reading.Value == nil {
			continue
		}
		if x, ok := r.addReading(*t.Reading.Value, t.Reading.Unit); ok {
			what := k.component(t.Component) + " " + k.v.CanonicalMethod(methodOf(t))
			r.measured[what] = append(r.measured[what], x)
		}
	}
	for _, piece := range pieces {
		for _, q := range quantity.Find(piece) {
			r.addReading(q.Value, q.Unit)
		}
	}
}

func methodOf(t kb.Test) string {
	if t.Method != "" {
		return t.Method
	}
	return t.Test
}

// leastOdometer is the least distance of a text, in metres, that is taken as what an odometer showed: shorter ones tell how long a repair held.
const leastOdometer = 2e7

// addReading adds a value once; not what says how far the machine had run.
func (r *Record) addReading(value float64, unit string) (reading, bool) {
	v, base, ok := (quantity.Quantity{Value: value, Unit: unit}).SI()
	if !ok {
		v, base = value, unit
	}
	if base == "m" && v >= leastOdometer {
		scale := v / value
		r.far = append(r.far, run{base, v, roundedBy(value) * scale})
		return reading{}, false
	}
	for _, x := range r.runs {
		if base == x.of && near(v, x.value, 0.05) {
			return reading{}, false
		}
	}
	x := reading{of: base, value: v}
	if !slices.ContainsFunc(r.readings, func(y reading) bool { return y.of == base && near(v, y.value, 0.005) }) {
		r.readings = append(r.readings, x)
	}
	return x, true
}

func near(a, b, share float64) bool { return math.Abs(a-b) <= share*max(math.Abs(a), math.Abs(b)) }

func runsOf(m kb.Machine) []run {
	var out []run
	if m.Odometer != nil {
		one := quantity.Quantity{Value: 1, Unit: m.Odometer.Unit}
		if scale, base, ok := one.SI(); ok {
			out = append(out, run{base, m.Odometer.Value * scale, roundedBy(m.Odometer.Value) * scale})
		} else {
			out = append(out, run{"odometer " + m.Odometer.Unit, m.Odometer.Value, roundedBy(m.Odometer.Value)})
		}
	}
	if m.Hours != nil {
		out = append(out, run{"hours", *m.Hours, roundedBy(*m.Hours)})
	}
	if m.Cycles != nil {
		out = append(out, run{"cycles", *m.Cycles, roundedBy(*m.Cycles)})
	}
	return out
}

// roundedBy gives half the unit of the last figure of a value: 50 of 81,200, 500 of 81,000. Two figures at least are taken as meant.
func roundedBy(value float64) float64 {
	unit := 1.0
	for math.Mod(value, unit*10) == 0 && value >= unit*100 {
		unit *= 10
	}
	return unit / 2
}

// runText writes a run to two figures, for a key.
func runText(x run) string { return fmt.Sprintf("%.2g", x.value) }

// step gives the readings on a scale of steps of 2 %, so that equal ones, rounded and converted, are on one step or on neighbours.
func (x reading) step() (of string, step int) {
	if x.value == 0 {
		return x.of, math.MinInt32
	}
	return x.of, int(math.Floor(math.Log(math.Abs(x.value)) / 0.02))
}

// weighReadings gives the readings their weight by how few records tell them.
func weighReadings(records []Record) {
	type place struct {
		of   string
		step int
	}
	in := map[place]int{}
	for i := range records {
		seen := map[place]bool{}
		for _, x := range records[i].readings {
			of, step := x.step()
			for d := -1; d <= 1; d++ {
				if p := (place{of, step + d}); !seen[p] {
					seen[p] = true
					in[p]++
				}
			}
		}
	}
	for i := range records {
		for j := range records[i].readings {
			x := &records[i].readings[j]
			of, step := x.step()
			x.rare = math.Log2(float64(len(records)) / float64(in[place{of, step}]))
		}
	}
}
