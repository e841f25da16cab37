package rank

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"

	"ruledout/kb"
	"ruledout/kb/quantity"
)

// gauged is a reading of a test as the table keeps it: in SI, infinite for an open circuit.
type gauged struct {
	Component, Method string
	Base              string // SI unit
	SI                float64
	Proof             bool // taken after the repair
}

// fewestReadings is how many values each side must have before they are compared: below that a smoothed density says nothing of its own.
const fewestReadings = 5

// gaugedOf gives the readings of tests that show one value. Bounds and ranges are left out, but for open circuits.
func gaugedOf(c kb.Case, proof func(kb.Test) bool) []gauged {
	var out []gauged
	for _, t := range c.Tests {
		if g, ok := gauge(t); ok {
			g.Proof = proof(t)
			out = append(out, g)
		}
	}
	return out
}

func gauge(t kb.Test) (gauged, bool) {
	if t.Reading == nil {
		return gauged{}, false
	}
	g := gauged{Component: t.Component, Method: cmp.Or(t.Method, t.Test)}
	q := t.Reading.Quantity()
	if q.Bound == quantity.Open {
		g.Base, g.SI = "ohm", math.Inf(1)
		return g, true
	}
	if t.Reading.Value == nil || q.Bound != quantity.Equal || q.Upper != nil {
		return gauged{}, false
	}
	si, base, ok := q.SI()
	g.Base, g.SI = base, si
	return g, ok
}

// Measured gives what others measured in the same test of the same component, in the unit of the reading. ok is false where nobody did. The
// test is in the vocabulary's terms.
func (m *Model) Measured(t kb.Test, machine kb.Machine, exclude func(kb.CaseID) bool) (kb.Measured, bool) {
	g, ok := gauge(t)
	if !ok {
		return kb.Measured{}, false
	}
	unit := t.Reading.Unit
	if unit == "" {
		unit = g.Base
	}
	found := m.gauges(g, m.exclude(m.excluded("", exclude)))
	out := kb.Measured{Component: g.Component, Method: g.Method, Unit: unit}
	for _, name := range []string{kb.MeasuredFaulty, kb.MeasuredGood, kb.MeasuredFed, kb.MeasuredRepaired} {
		if list := found[name]; len(list) > 0 {
			out.Groups = append(out.Groups, m.groupOf(name, list, unit, machineOf(machine)))
		}
	}
	if p, ok := chance(g, found); ok {
		out.Good = &p
	}
	return out, len(out.Groups) > 0
}

// sighting is one reading of one row.
type sighting struct {
	row int32
	si  float64
}

// gauges gathers the readings of the same test by group, in order of row. A test whose method nobody else used is compared with every
// method that measures the same quantity.
func (m *Model) gauges(g gauged, ex exclusion) map[string][]sighting {
	same, any := map[string][]sighting{}, map[string][]sighting{}
	for i, r := range m.raw {
		if ex.rows[int32(i)] {
			continue
		}
		for _, o := range r.Gauged {
			if o.Component != g.Component || o.Base != g.Base {
				continue
			}
			group := m.groupFor(o, r)
			any[group] = append(any[group], sighting{int32(i), o.SI})
			if o.Method == g.Method {
				same[group] = append(same[group], sighting{int32(i), o.SI})
			}
		}
	}
	if len(same) > 0 {
		return same
	}
	return any
}

// groupFor tells what turned out to be at fault, seen from the tested component. Where several were, the closest one decides.
func (m *Model) groupFor(o gauged, r *row) string {
	if o.Proof {
		return kb.MeasuredRepaired
	}
	group := kb.MeasuredGood
	for _, culprit := range r.Culprits {
		switch m.terms.Relation(o.Component, culprit) {
		case kb.Same, kb.CulpritInTested, kb.TestedInCulprit:
			return kb.MeasuredFaulty
		case kb.CulpritUpstream:
			group = kb.MeasuredFed
		}
	}
	return group
}

func (m *Model) groupOf(name string, list []sighting, unit string, machine kb.Machine) kb.MeasuredGroup {
	out := kb.MeasuredGroup{Group: name}
	var values []float64
	slices.SortStableFunc(list, func(a, b sighting) int { return cmp.Compare(a.si, b.si) })
	for _, s := range list {
		p := kb.MeasuredPoint{Case: m.raw[s.row].ID, Near: nearness(m.raw[s.row].Machine, machine)}
		if v, ok := quantity.FromSI(s.si, unit); ok && !math.IsInf(s.si, 0) {
			p.Value = &v
			values = append(values, v)
		} else {
			out.Open++
		}
		out.Points = append(out.Points, p)
	}
	if out.Count = len(values); out.Count > 0 {
		out.Median, out.Q1, out.Q3 = new(quantile(values, 0.5)), new(quantile(values, 0.25)), new(quantile(values, 0.75))
	}
	return out
}

// quantile interpolates between order statistics at (n-1)p (Hyndman and Fan 1996, definition 7). The values are sorted.
func quantile(sorted []float64, p float64) float64 {
	h := float64(len(sorted)-1) * p
	i := int(h)
	if i+1 >= len(sorted) {
		return sorted[len(sorted)-1]
	}
	return sorted[i] + (h-float64(i))*(sorted[i+1]-sorted[i])
}

func nearness(a, b kb.Machine) string {
	switch {
	case b.Make != "" && a.Make == b.Make && b.Model != "" && a.Model == b.Model:
		return "model"
	case b.Make != "" && a.Make == b.Make:
		return "make"
	case b.Kind != "" && a.Kind == b.Kind:
		return "kind"
	}
	return "other"
}

// chance gives the probability that a reading is one of a good part, by the readings of others alone and with even odds before: the density
// among those whose fault was elsewhere, and those after the repair, against that among those whose part was at fault. It stays between 5
// and 95 %: other people's instruments and machines differ.
func chance(g gauged, found map[string][]sighting) (float64, bool) {
	good := append(slices.Clone(found[kb.MeasuredGood]), found[kb.MeasuredRepaired]...)
	bad := found[kb.MeasuredFaulty]
	if len(good) < fewestReadings || len(bad) < fewestReadings {
		return 0, false
	}
	x, y := coordinates(g, good, bad)
	a, b := x.density(y), x.others(y)
	return math.Min(math.Max(a/(a+b), 0.05), 0.95), true
}

// twoDensities are the values of good and bad parts on one scale.
type twoDensities struct{ good, bad, all []float64 }

// coordinates puts values on the scale where they are compared: their logarithms where all are above zero, as resistances and pressures
// spread by factors. An open circuit stands ten times, or one whole spread, beyond the largest value.
func coordinates(g gauged, good, bad []sighting) (twoDensities, float64) {
	all := append(slices.Clone(good), bad...)
	all = append(all, sighting{si: g.SI})
	ratio := true
	largest, least := math.Inf(-1), math.Inf(1)
	for _, s := range all {
		ratio = ratio && s.si > 0
		if !math.IsInf(s.si, 0) {
			largest, least = math.Max(largest, s.si), math.Min(least, s.si)
		}
	}
	at := func(si float64) float64 {
		switch {
		case math.IsInf(si, 0) && ratio:
			return math.Log(largest) + math.Ln10
		case math.IsInf(si, 0):
			return largest + (largest - least)
		case ratio:
			return math.Log(si)
		}
		return si
	}
	var out twoDensities
	for _, s := range good {
		out.good = append(out.good, at(s.si))
	}
	for _, s := range bad {
		out.bad = append(out.bad, at(s.si))
	}
	out.all = append(slices.Clone(out.good), out.bad...)
	return out, at(g.SI)
}

func (d twoDensities) density(y float64) float64 { return d.smoothed(d.good, y) }
func (d twoDensities) others(y float64) float64  { return d.smoothed(d.bad, y) }

// smoothed is a kernel density with Student's t of three degrees of freedom, so that a stray value does not rule, mixed with two
// observations' worth of the density of all values: with few values both sides come near each other.
func (d twoDensities) smoothed(values []float64, y float64) float64 {
	h, wide := bandwidth(values, d.all), 3*bandwidth(d.all, d.all)
	sum := 0.0
	for _, x := range values {
		sum += student3((y-x)/h) / h
	}
	shared := 0.0
	for _, x := range d.all {
		shared += student3((y-x)/wide) / wide
	}
	return (sum + 2*shared/float64(len(d.all))) / float64(len(values)+2)
}

// student3 is the density of Student's t with three degrees of freedom.
func student3(t float64) float64 {
	return 2 / (math.Pi * math.Sqrt(3) * (1 + t*t/3) * (1 + t*t/3))
}

// bandwidth is 0.9 min(s, IQR/1.34) n^(-1/5) (Silverman 1986, equation 3.31), at least a twentieth of the spread of all values.
func bandwidth(values, all []float64) float64 {
	sorted := slices.Sorted(slices.Values(values))
	s := stat.StdDev(sorted, nil)
	if iqr := (quantile(sorted, 0.75) - quantile(sorted, 0.25)) / 1.34; iqr > 0 {
		s = math.Min(s, iqr)
	}
	least := (slices.Max(all) - slices.Min(all)) / 20
	if least == 0 {
		least = math.Max(1e-12, math.Abs(all[0])/100)
	}
	return math.Max(0.9*s*math.Pow(float64(len(values)), -0.2), least)
}
