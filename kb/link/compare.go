package link

import (
	"math"
	"slices"
	"strings"
)

// Compare gives the levels of a pair of records, in the fields of Start. It does not depend on which of the two is named first.
func Compare(a, b *Record) Vector {
	v := make(Vector, fieldCount)
	compareInto(v, a, b)
	return v
}

func compareInto(v Vector, a, b *Record) {
	v[fieldCode] = compareCodes(a, b)
	v[fieldMachine] = compareMachine(a, b)
	v[fieldBuild] = compareBuild(a, b)
	v[fieldRun] = compareRuns(a, b)
	v[fieldTeller] = compareTeller(a, b)
	v[fieldCulprit] = compareCulprits(a, b)
	v[fieldTests] = compareSets(a.tested, b.tested)
	v[fieldReadings] = compareReadings(a, b)
	v[fieldPlace] = comparePlaces(a, b)
	v[fieldText] = compareText(a, b)
	v[fieldDate] = compareDates(a, b, v)
}

func compareCodes(a, b *Record) uint8 {
	switch {
	case len(a.codes) == 0 || len(b.codes) == 0:
		return 0
	case slices.Equal(a.codes, b.codes) && (len(a.subtypes) == 0 || len(b.subtypes) == 0 || slices.Equal(a.subtypes, b.subtypes)):
		return 1
	case common(a.codes, b.codes) > 0:
		return 2
	case common(a.families, b.families) > 0:
		return 3
	}
	return 4
}

// Levels that the fit looks at.
const (
	someCodes    = 2 // and the same ones below it
	otherMachine = 3
)

func compareMachine(a, b *Record) uint8 {
	switch {
	case len(a.name) == 0 || len(b.name) == 0:
		if saidIn(a.nameWords, b) || saidIn(b.nameWords, a) {
			return 2
		}
		return 0
	case a.make == b.make && a.model == b.model && a.model != "":
		return 1
	case lessTold(a.name, b.name): // the make left out, its border drawn elsewhere, or the engine named with the model
		return 2
	case a.make != "" && b.make != "" && a.make != b.make && !similar(a.make, b.make):
		return 3
	case a.model == "" || b.model == "" || a.model == b.model || similar(a.model, b.model):
		return 2
	}
	return 3
}

// saidIn tells whether a text holds all the given words.
func saidIn(words []uint64, r *Record) bool {
	return len(words) > 0 && common(words, r.words) == len(words)
}

// lessTold tells whether one of two names begins or ends the other, word by word or but for spaces.
func lessTold(a, b []string) bool {
	if len(a) < len(b) {
		a, b = b, a
	}
	if slices.Equal(a[:len(b)], b) || slices.Equal(a[len(a)-len(b):], b) {
		return true
	}
	x, y := strings.Join(a, ""), strings.Join(b, "")
	return digits(x) == digits(y) && (strings.HasPrefix(x, y) || strings.HasSuffix(x, y) || strings.HasPrefix(y, x) || strings.HasSuffix(y, x))
}

// compareBuild compares the years; variants only tell apart what is of one year.
func compareBuild(a, b *Record) uint8 {
	apart := len(a.variant) > 0 && len(b.variant) > 0 && !slices.ContainsFunc(a.variant, func(w string) bool { return slices.Contains(b.variant, w) })
	switch {
	case a.year == 0 || b.year == 0:
		return 0
	case a.year == b.year && !apart:
		return 1
	case max(a.year-b.year, b.year-a.year) <= 1:
		return 2
	}
	return 3
}

// compareRuns compares how far the machines had run, in what both tell. A distance of the text may be an odometer's: that it agrees speaks for
// one repair, that it does not says nothing.
func compareRuns(a, b *Record) uint8 {
	level := uint8(0)
	for _, x := range a.runs {
		for _, y := range b.runs {
			if x.of == y.of {
				level = max(level, compareRun(x, y))
			}
		}
	}
	if level == 0 && (anyAgrees(a.runs, b.far) || anyAgrees(a.far, b.runs) || anyAgrees(a.far, b.far)) {
		return 2
	}
	return level
}

func anyAgrees(a, b []run) bool {
	for _, x := range a {
		for _, y := range b {
			if x.of == y.of && compareRun(x, y) <= 2 {
				return true
			}
		}
	}
	return false
}

// compareRun takes two runs as the same within what a conversion of units moves, and as the same when rounded within a unit of the last figure
// of the rounder one. A little more may have been driven until it was told again.
func compareRun(x, y run) uint8 {
	switch by := math.Abs(x.value - y.value); {
	case by <= 0.0005*max(x.value, y.value):
		return 1
	case by <= 2*max(x.within, y.within):
		return 2
	case by <= 0.01*max(x.value, y.value):
		return 3
	}
	return 4
}

func compareTeller(a, b *Record) uint8 {
	switch {
	case a.teller == "" || b.teller == "":
		return 0
	case a.teller == b.teller:
		return 1
	case similar(a.teller, b.teller):
		return 2
	}
	return 3
}

func compareCulprits(a, b *Record) uint8 {
	switch {
	case len(a.culprits) == 0 || len(b.culprits) == 0:
		return 0
	case common(a.culprits, b.culprits) > 0 && common(a.actions, b.actions) > 0:
		return 1
	case common(a.culprits, b.culprits) > 0:
		return 2
	case common(a.culprits, b.wholes) > 0 || common(b.culprits, a.wholes) > 0 || common(a.heads, b.heads) > 0: // "wiring harness", "heater harness"
		return 3
	case namedBy(a.culpritWords, b) || namedBy(b.culpritWords, a):
		return 4
	}
	return 5
}

// namedBy tells whether a text names any of the culprits of another: what was at fault may have been read wrongly.
func namedBy(culprits [][]uint64, r *Record) bool {
	return slices.ContainsFunc(culprits, func(words []uint64) bool { return saidIn(words, r) })
}

// lastWord gives what kind of thing a name names.
func lastWord(s string) string { return s[strings.LastIndexByte(s, ' ')+1:] }

func compareSets(a, b []uint64) uint8 {
	n := common(a, b)
	switch {
	case len(a) == 0 || len(b) == 0:
		return 0
	case 2*n >= max(len(a), len(b)):
		return 1
	case n > 0:
		return 2
	}
	return 3
}

// Readings in common count by how rare they are, in bits: what every battery shows says nothing.
const (
	leastRare  = 3.0 // one in eight records tells it
	someCommon = 3.5
	muchCommon = 8.0
)

func compareReadings(a, b *Record) uint8 {
	if len(a.readings) == 0 || len(b.readings) == 0 {
		return 0
	}
	bits := 0.0
	for _, x := range a.readings {
		for _, y := range b.readings {
			if w := min(x.rare, y.rare); w >= leastRare && alikeReadings(x, y) {
				bits += w
				break
			}
		}
	}
	switch {
	case bits >= muchCommon:
		return 1
	case bits >= someCommon:
		return 2
	}
	for what, values := range a.measured {
		if other := b.measured[what]; len(other) > 0 && !slices.ContainsFunc(values, func(x reading) bool {
			return slices.ContainsFunc(other, func(y reading) bool { return alikeReadings(x, y) })
		}) {
			return readingsDiffer
		}
	}
	return 3
}

// alikeReadings tells whether two readings are one but for rounding and a conversion of units.
func alikeReadings(x, y reading) bool { return x.of == y.of && near(x.value, y.value, 0.015) }

// readingsDiffer is the level of readings where one test gave both tellers different values.
const readingsDiffer = 4

// wordForWord is the least overlap of shingles, as estimated, of texts that are the same word for word.
const wordForWord = 0.6

// overlapOf gives the least overlap of words, by weight, of each next level. Two people who tell of one repair in their own words have
// little more than one word in ten in common, by weight; two who tell of two repairs one in thirty.
func overlapOf() []float64 { return []float64{0.3, 0.15, 0.10, 0.065} }

// fewWords are too few to be alike other than by chance.
const fewWords = 8

func compareText(a, b *Record) uint8 {
	if len(a.words) < fewWords || len(b.words) < fewWords {
		return 0
	}
	words := alikeness(a, b)
	if words >= wordForWord/2 && Overlap(a.signature, b.signature) >= wordForWord {
		return 1
	}
	for i, least := range overlapOf() {
		if words >= least {
			return uint8(i + 2)
		}
	}
	return 6
}

// anotherTime is the number of days after which one teller tells of one machine again, in other words, as of another repair.
const anotherTime = 120

// compareDates compares the days on which the two were posted, the nearest ones. It looks at the levels of the other fields.
func compareDates(a, b *Record, v Vector) uint8 {
	if len(a.days) == 0 || len(b.days) == 0 {
		return 0
	}
	by := math.MaxInt
	for _, x := range a.days {
		for _, y := range b.days {
			by = min(by, max(x-y, y-x))
		}
	}
	retold := v[fieldText] == 1 && v[fieldReadings] != readingsDiffer || v[fieldRun] == 1
	switch {
	case by <= 7:
		return 1
	case by <= 60:
		return 2
	case by > anotherTime && v[fieldTeller] == 1 && !retold:
		return 5
	case by <= 365:
		return 3
	}
	return 4
}
