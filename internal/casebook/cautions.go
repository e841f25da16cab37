package casebook

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strings"

	"ruledout/kb"
	"ruledout/kb/limit"
	"ruledout/kb/quantity"
)

// alternating finds that a reading is said to be of an alternating voltage.
var alternating = regexp.MustCompile(`(?i)\b(v?ac|v?rms|mains)\b`)

// worthNaming is the probability from which a possible culprit's hazards are shown with the whole answer.
const worthNaming = 0.02

// addCautions fills in the hazards that go with the components, tests and readings of the question and of the answer.
func (b *Book) addCautions(q kb.Case, kind string, a *kb.Answer) {
	d := dangers{b.Vocabulary(), b.familyOf(kind)}
	var all cautionList
	for _, f := range a.Fixes {
		if f.Probability >= worthNaming {
			all.add(f.Component, d.of(f.Component))
		}
	}
	for _, t := range q.Tests {
		all.add(t.Component, d.of(t.Component))
		all.add(reading(t), readingHazards(t, b.Vocabulary()))
	}
	for _, f := range q.Fixes {
		all.add(f.Component, d.of(f.Component))
	}
	for _, component := range b.tiedToCodes(q) {
		all.add(component, d.of(component))
	}
	for i := range a.Next {
		d.step(&a.Next[i])
		for _, c := range a.Next[i].Cautions {
			for _, because := range c.Because {
				if h, ok := b.Vocabulary().Hazard(c.Hazard); ok {
					all.add(because, []kb.Hazard{h})
				}
			}
		}
	}
	if a.Plan != nil {
		for i := range a.Plan.Steps {
			d.planStep(&a.Plan.Steps[i])
		}
	}
	a.Cautions = all.list
}

// familyOf gives the family of a kind of machine, empty if it is not known.
func (b *Book) familyOf(kind string) string {
	k, _ := b.Vocabulary().MachineKind(kind)
	return k.Family
}

// dangers knows the hazards of components on machines of a family. A part that the vocabulary knows from other machines only, such as the
// mains relay of an oven where a van is asked about, raises nothing.
type dangers struct {
	voc    *kb.Vocabulary
	family string
}

func (d dangers) foreign(component string) bool {
	c, known := d.voc.Component(component)
	return known && d.family != "" && len(c.Families) > 0 && !slices.Contains(c.Families, d.family)
}

func (d dangers) of(component string) []kb.Hazard {
	if d.foreign(component) {
		return nil
	}
	return d.voc.Cautions(component)
}

func (b *Book) tiedToCodes(q kb.Case) []string {
	var out []string
	for _, e := range q.Codes {
		c, err := e.Parse()
		if err != nil {
			continue
		}
		if term, ok := b.Vocabulary().CodeTerm(c.Text); ok {
			out = append(out, term.Components...)
		}
	}
	return out
}

// step fills in what goes with a step: the hazards of its component and its method, and what may be reserved to licensed people.
func (d dangers) step(n *kb.NextStep) {
	var own cautionList
	own.add(n.Component, d.of(n.Component))
	if m, ok := d.voc.Method(n.Test); ok {
		for _, name := range m.Hazards {
			if h, ok := d.voc.Hazard(name); ok {
				own.add(m.Name, []kb.Hazard{h})
			}
		}
	}
	n.Cautions = own.list
	if !d.foreign(n.Component) {
		n.Licensed = slices.Clone(d.voc.Licensed(n.Component))
	}
}

// readingHazards raises the high-voltage caution from what was measured, whatever the component is called.
func readingHazards(t kb.Test, voc *kb.Vocabulary) []kb.Hazard {
	if t.Reading == nil || t.Reading.Value == nil {
		return nil
	}
	volts, base, ok := quantity.Quantity{Value: *t.Reading.Value, Unit: t.Reading.Unit}.SI()
	if !ok || base != "V" {
		return nil
	}
	ac := alternating.MatchString(t.Reading.Text + " " + t.Test)
	if math.Abs(volts) > limit.HighVoltageDC || ac && math.Abs(volts) > limit.HighVoltageAC {
		return highVoltage(math.Abs(volts), ac, voc)
	}
	return nil
}

// highVoltage gives the high-voltage caution with the gloves that the voltage asks for.
func highVoltage(volts float64, ac bool, voc *kb.Vocabulary) []kb.Hazard {
	h, known := voc.Hazard("high voltage")
	if !known {
		return nil
	}
	if g, err := limit.GloveFor(volts, ac); err == nil {
		h.Text += fmt.Sprintf(" Insulating gloves of class %s at least (to %g V AC, %g V DC), %s.", g.Class, g.AC, g.DC, limit.GloveRetest)
		h.Source += "; gloves: ASTM D120, IEC 60903"
	}
	return []kb.Hazard{h}
}

func reading(t kb.Test) string {
	if t.Reading == nil || t.Reading.Value == nil {
		return ""
	}
	return fmt.Sprintf("a reading of %g %s", *t.Reading.Value, t.Reading.Unit)
}

// cautionList collects hazards in the order in which they come up, each once, with everything that raises it.
type cautionList struct{ list []kb.CautionFor }

func (l *cautionList) add(because string, hazards []kb.Hazard) {
	for _, h := range hazards {
		i := slices.IndexFunc(l.list, func(c kb.CautionFor) bool { return c.Hazard == h.Name })
		if i < 0 {
			l.list = append(l.list, kb.CautionFor{Hazard: h.Name, Text: h.Text, Licensed: h.Licensed, Source: h.Source})
			i = len(l.list) - 1
		}
		if strings.HasPrefix(h.Text, l.list[i].Text) { // the same with more to it: the gloves that a reading asks for
			l.list[i].Text, l.list[i].Source = h.Text, h.Source
		}
		if !slices.Contains(l.list[i].Because, because) {
			l.list[i].Because = append(l.list[i].Because, because)
		}
	}
}
