package rank

import (
	"math"
	"slices"
	"strings"
	"sync"

	"ruledout/kb"
)

// prices is what the cases say of what repairs take, gathered once for each model.
type prices struct {
	costs  map[string]int // recorded costs by currency
	coding map[string]int // parts that needed coding, by component
	jobs   map[jobKey]*job
	kinds  map[kb.Action]*job // the same repair of any component
}

// jobKey is a repair of a component.
type jobKey struct {
	component string
	action    kb.Action
}

// originKey is a repair by a part of an origin.
type originKey struct {
	jobKey
	origin kb.Origin
}

// job is what is known of a repair.
type job struct {
	cured, failed int // how often the repair of the very culprit cured, and failed
	minutes       figures
	parts         []*priceList
}

// priceList holds what parts of an origin cost in a currency; of no currency, that such parts were fitted.
type priceList struct {
	origin   kb.Origin
	currency string
	figures
}

// costOf gives the costs of parts of an origin in a currency, nil if there are none.
func (j *job) costOf(o kb.Origin, currency string) *figures {
	if j == nil {
		return nil
	}
	for _, p := range j.parts {
		if p.origin == o && p.currency == currency {
			return &p.figures
		}
	}
	return nil
}

// fitted counts the fixes by parts of an origin.
func (j *job) fitted(o kb.Origin) int {
	n := 0
	if j != nil {
		for _, p := range j.parts {
			if p.origin == o {
				n += len(p.list)
			}
		}
	}
	return n
}

func (j *job) addPart(o kb.Origin, currency string, f figure) {
	i := slices.IndexFunc(j.parts, func(p *priceList) bool { return p.origin == o && p.currency == currency })
	if i < 0 {
		j.parts = append(j.parts, &priceList{origin: o, currency: currency})
		i = len(j.parts) - 1
	}
	j.parts[i].list = append(j.parts[i].list, f)
}

// timeOf gives the minutes of a repair, nil if nothing is known of it.
func (j *job) timeOf() *figures {
	if j == nil {
		return nil
	}
	return &j.minutes
}

// figure is a value with the row that it stands in.
type figure struct {
	x   float64
	row int32
}

// figures are values whose median is found at first need.
type figures struct {
	list   []figure
	once   sync.Once
	median float64
}

// middle gives the median of the values of rows that count, and how many they are.
func (f *figures) middle(without map[int32]bool) (median float64, n int) {
	if f == nil || len(f.list) == 0 {
		return 0, 0
	}
	if len(without) == 0 {
		f.once.Do(func() { f.median = medianOf(f.values(nil)) })
		return f.median, len(f.list)
	}
	kept := f.values(without)
	return medianOf(kept), len(kept)
}

func (f *figures) values(without map[int32]bool) []float64 {
	out := make([]float64, 0, len(f.list))
	for _, x := range f.list {
		if !without[x.row] {
			out = append(out, x.x)
		}
	}
	return out
}

// medianOf gives the median, 0 of nothing, and changes the order of the list.
func medianOf(list []float64) float64 {
	n := len(list)
	if n == 0 {
		return 0
	}
	return (nth(list, (n-1)/2) + nth(list, n/2)) / 2
}

// nth gives the k-th smallest value (Hoare 1961), 0-based, and changes the order of the list.
func nth(list []float64, k int) float64 {
	for len(list) > 1 {
		pivot := list[len(list)/2]
		i, j := 0, len(list)-1
		for i <= j {
			for list[i] < pivot {
				i++
			}
			for list[j] > pivot {
				j--
			}
			if i <= j {
				list[i], list[j] = list[j], list[i]
				i, j = i+1, j-1
			}
		}
		switch {
		case k <= j:
			list = list[:j+1]
		case k >= i:
			list, k = list[i:], k-i
		default:
			return pivot
		}
	}
	return list[0]
}

// prices gathers what repairs took over all cases; the first call for a model does the work.
func (m *Model) prices() *prices {
	m.priceOnce.Do(func() {
		p := newPrices()
		for i, r := range m.rows {
			p.add(r, int32(i))
		}
		m.priced = p
	})
	return m.priced
}

func newPrices() *prices {
	return &prices{costs: map[string]int{}, coding: map[string]int{}, jobs: map[jobKey]*job{}, kinds: map[kb.Action]*job{}}
}

// job gives what is gathered of a repair, to be added to.
func (p *prices) job(k jobKey) *job {
	j := p.jobs[k]
	if j == nil {
		j = &job{}
		p.jobs[k] = j
	}
	return j
}

// add counts what came of repairs of a case's own culprits, and collects what its repairs took.
func (p *prices) add(r *row, i int32) {
	for _, c := range r.Cures {
		p.job(jobKey{c.Component, c.Action}).cured++
	}
	for _, a := range r.Tried {
		if slices.Contains(r.Culprits, a.Component) {
			p.job(jobKey{a.Component, a.Action}).failed++
		}
	}
	for _, w := range r.Work {
		if p.kinds[w.Action] == nil {
			p.kinds[w.Action] = &job{}
		}
		if w.Coding {
			p.coding[w.Component]++
		}
		if w.Currency != "" {
			p.costs[w.Currency]++
		}
		for _, j := range []*job{p.job(jobKey{w.Component, w.Action}), p.kinds[w.Action]} {
			if w.Minutes > 0 {
				j.minutes.list = append(j.minutes.list, figure{w.Minutes, i})
			}
			j.addPart(originOf(w), w.Currency, figure{w.Cost, i})
		}
	}
}

// originOf gives the origin that a fix counts under: a part of unknown origin that was fitted counts as new, and what is used up by a repair
// in place has none.
func originOf(w work) kb.Origin {
	switch {
	case w.Action != kb.Replace:
		return ""
	case w.Origin == "":
		return kb.NewPart
	}
	return w.Origin
}

// usualCurrency gives the currency that most recorded costs are in, the first by name of equal ones; empty if there is none.
func (p *prices) usualCurrency() string {
	best := ""
	for c, n := range p.costs {
		if n > p.costs[best] || n == p.costs[best] && c < best {
			best = c
		}
	}
	return best
}

// defaultWeight is how many cases a default counts as beside a median.
const defaultWeight = 0.5

// blend shrinks a median of n cases to a default, on the scale of ratios unless one of them is nothing.
func blend(median float64, n int, usual float64) float64 {
	if n == 0 {
		return usual
	}
	w := defaultWeight / (float64(n) + defaultWeight)
	if median <= 0 || usual <= 0 {
		return (1-w)*median + w*usual
	}
	return math.Exp((1-w)*math.Log(median) + w*math.Log(usual))
}

// usualMinutes is how long a repair takes where no case says so; common practice of the trade.
func usualMinutes(k jobKey) float64 {
	switch k.action {
	case kb.Replace:
		return sizeOf(k.component).minutes
	case kb.Repair:
		return 60
	case kb.Modify:
		return 90
	case kb.Adjust:
		return 20
	case kb.Refit:
		return 10
	}
	return 30
}

// usualParts is what a repair takes in parts and material where no case says so, in hours of labour, so that it goes with the currency;
// common practice of the trade.
func usualParts(k jobKey) float64 {
	switch k.action {
	case kb.Replace:
		return sizeOf(k.component).hours
	case kb.Modify:
		return 0.5
	case kb.Repair, kb.Service:
		return 0.3
	case kb.Clean:
		return 0.1
	case kb.Other:
		return 0.2
	}
	return 0
}

// size is the size of a part by its kind: what a new one costs, in hours of labour, and the minutes to fit it.
type size struct{ hours, minutes float64 }

// smallest is the price, in hours of labour, up to which nobody looks for a used part.
const smallest = 0.1

// sizeOf tells the size of a part by the last word of its name that says so; common practice of the trade.
func sizeOf(component string) size {
	sizes := []struct {
		size
		words string
	}{
		{size{0.05, 10}, " fuse bulb lamp clip screw bolt washer o-ring ring clamp terminal pin "},
		{size{0.3, 30}, " relay seal gasket hose filter strainer connector plug brush brushes cap belt switch thermostat pad gauze line pipe spring "},
		{size{1, 45}, " sensor solenoid valve element coil cable contactor regulator bearing igniter electrode thermistor rectifier diode joint "},
		{size{2.5, 90}, " pump motor alternator starter actuator injector fan blower radiator cooler battery harness loom generator exchanger "},
		{size{6, 120}, " module unit ecu controller board turbocharger compressor inverter converter pack gearbox transmission engine charger "},
	}
	if strings.Contains(component, "traction battery") { // its last word names another thing
		return size{40, 240}
	}
	words := strings.Fields(component)
	for i := len(words) - 1; i >= 0; i-- {
		for _, s := range sizes {
			if strings.Contains(s.words, " "+words[i]+" ") {
				return s.size
			}
		}
	}
	return size{1.5, 60}
}
