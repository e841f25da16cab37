package kb

import (
	"cmp"
	"encoding/json"
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"ruledout/kb/quantity"
)

// united joins two lists: facts of one key become one, the rest stands in order.
func united[T any](a, b []T, key func(T) string, join func(T, T) T, order func(T, T) int) []T {
	at := map[string]int{}
	var out []T
	for _, x := range slices.Concat(a, b) {
		k := key(x)
		if i, known := at[k]; known {
			out[i] = join(out[i], x)
			continue
		}
		at[k] = len(out)
		out = append(out, x)
	}
	slices.SortFunc(out, func(x, y T) int { return cmp.Or(order(x, y), cmp.Compare(key(x), key(y))) })
	return out
}

// keyOf joins the parts of a key so that none runs into the next.
func keyOf(parts ...any) string {
	var b strings.Builder
	for _, p := range parts {
		fmt.Fprintf(&b, "%q ", fmt.Sprint(p))
	}
	return b.String()
}

func jsonOf(x any) string {
	body, err := json.Marshal(x)
	if err != nil {
		return fmt.Sprint(err)
	}
	return string(body)
}

func spans(a, b []Evidence) []Evidence {
	first := func(x, _ Evidence) Evidence { return x }
	return united(a, b, func(e Evidence) string { return jsonOf(e) }, first, func(x, y Evidence) int {
		return cmp.Or(cmp.Compare(x.Writeup, y.Writeup), cmp.Compare(x.Post, y.Post), cmp.Compare(x.Start, y.Start), cmp.Compare(x.End, y.End))
	})
}

// component names what a fact is about: the vocabulary's term, and where it sits, for a left one is not a right one.
func (m merger) component(term string) string {
	place, _ := SplitPosition(Fold(term))
	if m.voc == nil {
		return Fold(term)
	}
	return m.voc.CanonicalComponent(term) + "|" + fmt.Sprint(place)
}

func (m merger) codes(a, b []CodeEntry) []CodeEntry {
	return united(a, b, codeKey, func(x, y CodeEntry) CodeEntry {
		x.Code, x.Scheme = fuller(x.Code, y.Code), fuller(x.Scheme, y.Scheme)
		x.Status, x.SetAgain = rankedHigher(codeStatusRank, x.Status, y.Status), either(x.SetAgain, y.SetAgain)
		x.Evidence, x.Confidence = spans(x.Evidence, y.Evidence), max(x.Confidence, y.Confidence)
		return x
	}, func(x, y CodeEntry) int { return cmp.Compare(codeKey(x), codeKey(y)) })
}

func codeKey(e CodeEntry) string {
	if read, err := e.Parse(); err == nil {
		return keyOf(read.String(), read.Scheme, e.Issuer)
	}
	return keyOf(e.Code, e.Scheme, e.Issuer)
}

// either gives true where one of two says so, and what is known where one says nothing.
func either(a, b *bool) *bool {
	if a == nil || b != nil && *b {
		return b
	}
	return a
}

func (m merger) symptomKey(s Symptom) string {
	term := Fold(s.Symptom)
	if m.voc != nil {
		term = m.voc.CanonicalSymptom(s.Symptom)
	}
	return keyOf(term, s.Absent)
}

func (m merger) symptoms(a, b []Symptom) []Symptom {
	return united(a, b, m.symptomKey, func(x, y Symptom) Symptom {
		x.Symptom = fuller(x.Symptom, y.Symptom)
		both := slices.Concat(x.Conditions, y.Conditions)
		slices.Sort(both)
		x.Conditions = slices.Compact(both)
		x.Evidence, x.Confidence = spans(x.Evidence, y.Evidence), max(x.Confidence, y.Confidence)
		return x
	}, func(x, y Symptom) int { return cmp.Compare(m.symptomKey(x), m.symptomKey(y)) })
}

// testKey tells tests apart by what was found, by how, and by whether it was after the cure: a proof is no evidence.
func (m merger) testKey(t Test) string {
	method := Fold(t.Method)
	if m.voc != nil {
		method = m.voc.CanonicalMethod(cmp.Or(t.Method, t.Test))
	}
	reading := ""
	if t.Reading != nil {
		r := *t.Reading
		r.Text = ""
		reading = jsonOf(r)
	}
	return keyOf(Fold(t.Test), method, t.Where, m.component(t.Component), t.Result, reading, m.cure > 0 && t.Step > m.cure)
}

func (m merger) tests(a, b []Test) []Test {
	return united(a, b, m.testKey, func(x, y Test) Test {
		x.Test, x.Method, x.Component = fuller(x.Test, y.Test), fuller(x.Method, y.Method), fuller(x.Component, y.Component)
		x.Step, x.Minutes = max(x.Step, y.Step), max(x.Minutes, y.Minutes)
		if x.Reading != nil && y.Reading != nil {
			r := *x.Reading
			r.Text = fuller(r.Text, y.Reading.Text)
			x.Reading = &r
		}
		x.Evidence, x.Confidence = spans(x.Evidence, y.Evidence), max(x.Confidence, y.Confidence)
		return x
	}, func(x, y Test) int { return cmp.Compare(x.Step, y.Step) })
}

func (m merger) fixKey(f Fix) string {
	return keyOf(f.Action, m.component(f.Component), cmp.Or(f.Outcome, UnknownOutcome))
}

func (m merger) fixes(a, b []Fix) []Fix {
	return united(a, b, m.fixKey, func(x, y Fix) Fix {
		x.Component, x.Outcome = fuller(x.Component, y.Component), fuller(x.Outcome, y.Outcome)
		x.Step, x.Minutes = max(x.Step, y.Step), max(x.Minutes, y.Minutes)
		x.Part, x.PartsCost = joinPart(x.Part, y.Part), dearer(x.PartsCost, y.PartsCost)
		x.Evidence, x.Confidence = spans(x.Evidence, y.Evidence), max(x.Confidence, y.Confidence)
		return x
	}, func(x, y Fix) int { return cmp.Compare(x.Step, y.Step) })
}

func joinPart(a, b *Part) *Part {
	if a == nil || b == nil {
		return cmp.Or(a, b)
	}
	return &Part{Number: fuller(a.Number, b.Number), Origin: fuller(a.Origin, b.Origin), NeedsCoding: either(a.NeedsCoding, b.NeedsCoding)}
}

// dearer settles which of two costs stays, by letters where they tell nothing.
func dearer(a, b *Money) *Money {
	if a == nil || b == nil {
		return cmp.Or(a, b)
	}
	x, y := jsonOf(a), jsonOf(b)
	if fuller(x, y) == x {
		return a
	}
	return b
}

// followUps unites what was told later. Of one day a return goes last, so that it takes the credit back.
func followUps(a, b []FollowUp) []FollowUp {
	first := func(x, _ FollowUp) FollowUp { return x }
	held := func(f FollowUp) int { return slices.Index([]bool{true, false}, f.Held) }
	return united(a, b, func(f FollowUp) string { return jsonOf(f) }, first, func(x, y FollowUp) int {
		return cmp.Or(cmp.Compare(x.Date, y.Date), cmp.Compare(held(x), held(y)))
	})
}

func sources(a, b []Source) []Source {
	key := func(s Source) string {
		if s.Writeup != "" {
			return keyOf("writeup", s.Writeup)
		}
		return jsonOf(s)
	}
	join := func(x, y Source) Source {
		return Source{Writeup: x.Writeup, Kind: fuller(x.Kind, y.Kind), Title: fuller(x.Title, y.Title), URL: fuller(x.URL, y.URL),
			Posted: fuller(x.Posted, y.Posted), Licence: fuller(x.Licence, y.Licence), Trusted: x.Trusted || y.Trusted}
	}
	return united(a, b, key, join, func(x, y Source) int { return cmp.Compare(x.Posted, y.Posted) })
}

var aboutForm = regexp.MustCompile(`^(codes|symptoms|tests|fixes)\[(\d+)\](.*)$`)

// doubts unites the open questions; each goes on to name the fact that it is about. One about a fact that was not taken is settled.
func (m merger) doubts(out *Case, all []Case) []Doubt {
	now := m.factKeys(out)
	var list []Doubt
	for i := range all {
		own := m.factKeys(&all[i])
		for _, d := range all[i].Doubts {
			at := aboutForm.FindStringSubmatch(d.About)
			if at == nil {
				list = append(list, d)
				continue
			}
			n, err := strconv.Atoi(at[2])
			if err != nil || n >= len(own[at[1]]) {
				continue
			}
			if to := slices.Index(now[at[1]], own[at[1]][n]); to >= 0 {
				d.About = fmt.Sprintf("%s[%d]%s", at[1], to, at[3])
				list = append(list, d)
			}
		}
	}
	return united(list, nil, func(d Doubt) string { return keyOf(d.About, d.Question) }, func(x, y Doubt) Doubt {
		x.Evidence = spans(x.Evidence, y.Evidence)
		return x
	}, func(x, y Doubt) int { return cmp.Compare(x.About, y.About) })
}

// factKeys gives the keys of the facts of an aligned case, by list.
func (m merger) factKeys(c *Case) map[string][]string {
	out := map[string][]string{}
	for _, x := range c.Codes {
		out["codes"] = append(out["codes"], codeKey(x))
	}
	for _, x := range c.Symptoms {
		out["symptoms"] = append(out["symptoms"], m.symptomKey(x))
	}
	for _, x := range c.Tests {
		out["tests"] = append(out["tests"], m.testKey(x))
	}
	for _, x := range c.Fixes {
		out["fixes"] = append(out["fixes"], m.fixKey(x))
	}
	return out
}

func inSI(x Measure) float64 {
	if v, _, ok := (quantity.Quantity{Value: x.Value, Unit: x.Unit}).SI(); ok {
		return v
	}
	return x.Value
}
