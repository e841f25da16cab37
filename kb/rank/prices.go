package rank

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"ruledout/kb"
)

// prices is what the cases say of what repairs take, gathered once for each model.
type prices struct {
	costs   map[string]int          // recorded costs by currency
	parts   map[partsKey][]figure   // in order of value
	minutes map[jobKey][]figure     // in order of value
	done    map[jobKey]tried        // how often a repair of the culprit cured, and failed
	origins map[originKey]int       // fixes by the origin of the part
	coding  map[string]int          // parts that needed coding, by component
	kinds   map[partsKey][]float64  // parts costs of any component, its name left empty; in order of value
	times   map[kb.Action][]float64 // minutes of any component; in order of value
}

// figure is a value with the row that it stands in.
type figure struct {
	x   float64
	row int32
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

// partsKey is a repair by a part of an origin, in a currency.
type partsKey struct {
	originKey
	currency string
}

// tried counts what came of repairs of the very culprit.
type tried struct{ cured, failed int }

// prices gathers what repairs took over all cases; the first call for a model does the work.
func (m *Model) prices() *prices {
	m.priceOnce.Do(func() {
		p := &prices{costs: map[string]int{}, parts: map[partsKey][]figure{}, minutes: map[jobKey][]figure{}, done: map[jobKey]tried{},
			origins: map[originKey]int{}, coding: map[string]int{}, kinds: map[partsKey][]float64{}, times: map[kb.Action][]float64{}}
		for i, r := range m.rows {
			p.add(r, int32(i))
		}
		p.sort()
		m.priced = p
	})
	return m.priced
}

func (p *prices) add(r *row, i int32) {
	p.addDone(r)
	p.addWork(r, i)
}

// addDone counts what came of repairs of a case's own culprits.
func (p *prices) addDone(r *row) {
	for _, c := range r.Cures {
		k := jobKey{c.Component, c.Action}
		n := p.done[k]
		n.cured++
		p.done[k] = n
	}
	for _, a := range r.Tried {
		if slices.Contains(r.Culprits, a.Component) {
			k := jobKey{a.Component, a.Action}
			n := p.done[k]
			n.failed++
			p.done[k] = n
		}
	}
}

// addWork collects what the repairs of a case took.
func (p *prices) addWork(r *row, i int32) {
	for _, w := range r.Work {
		k := originKey{jobKey{w.Component, w.Action}, originOf(w)}
		p.origins[k]++
		if w.Coding {
			p.coding[w.Component]++
		}
		if w.Minutes > 0 {
			p.minutes[k.jobKey] = append(p.minutes[k.jobKey], figure{w.Minutes, i})
			p.times[w.Action] = append(p.times[w.Action], w.Minutes)
		}
		if w.Currency != "" {
			p.costs[w.Currency]++
			p.parts[partsKey{k, w.Currency}] = append(p.parts[partsKey{k, w.Currency}], figure{w.Cost, i})
			k.component = ""
			p.kinds[partsKey{k, w.Currency}] = append(p.kinds[partsKey{k, w.Currency}], w.Cost)
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

func (p *prices) sort() {
	byValue := func(a, b figure) int { return cmp.Or(cmp.Compare(a.x, b.x), cmp.Compare(a.row, b.row)) }
	for _, list := range p.parts {
		slices.SortFunc(list, byValue)
	}
	for _, list := range p.minutes {
		slices.SortFunc(list, byValue)
	}
	for _, list := range p.kinds {
		slices.Sort(list)
	}
	for _, list := range p.times {
		slices.Sort(list)
	}
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

// medianOf gives the median of the figures of rows that count, and how many they are. The list is in order.
func medianOf(list []figure, without map[int32]bool) (median float64, n int) {
	kept := list
	if len(without) > 0 {
		kept = nil
		for _, f := range list {
			if !without[f.row] {
				kept = append(kept, f)
			}
		}
	}
	if n = len(kept); n == 0 {
		return 0, 0
	}
	return (kept[(n-1)/2].x + kept[n/2].x) / 2, n
}

func medianFloat(list []float64) (median float64, n int) {
	if n = len(list); n == 0 {
		return 0, 0
	}
	return (list[(n-1)/2] + list[n/2]) / 2, n
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
