package rank

import (
	"maps"
	"math"
	"slices"
	"strings"
)

// heard is what is counted of one symptom in some scopes, less what an exclusion takes away.
type heard struct {
	sums  []*scopeSum
	terms []*spokenOf
}

func (e evidence) heard(term string, scopes ...scope) heard {
	var out heard
	for _, c := range []*counts{e.m.stats, e.minus} {
		if c == nil {
			continue
		}
		for _, where := range scopes {
			s := c.scopes[where]
			if s == nil {
				continue
			}
			out.sums = append(out.sums, s)
			if t := s.terms[term]; t != nil {
				out.terms = append(out.terms, t)
			}
		}
	}
	return out
}

// all gives the mentions, and the free cases (those not asked for every symptom).
func (h heard) all() (out said, free float64) {
	for _, t := range h.terms {
		out = out.plus(t.all)
	}
	for _, s := range h.sums {
		free += s.free
	}
	return out, free
}

// of is all for one culprit.
func (h heard) of(f int32) (out said, free float64) {
	for _, t := range h.terms {
		out = out.plus(t.byF[f])
	}
	for _, s := range h.sums {
		free += s.byF[f]
	}
	return out, free
}

// spoken gives the rates of one symptom under every culprit: the culprit's own counts under the question's codes, shrunk to its counts
// elsewhere, these to all cases of the codes, and these to all other cases. A complaint that goes with the code, whatever the culprit,
// so tells nothing against a culprit that no case of the code names.
type spoken struct {
	here, any        heard
	mention, there   float64 // rates among the cases of the codes
	mentionK, valueK Shrink  // the last of each told by the cases
}

// spoken prepares a symptom for a question that was, or was not, asked for every symptom. What does not depend on the question alone is
// kept.
func (e evidence) spoken(term string, fullForm bool) *spoken {
	if e.minus != nil && !e.near {
		s := e.listen(term, fullForm)
		s.tell(e.m.p.Adapt)
		return s
	}
	k := spokenKey{e.where(), term, fullForm}
	e.m.mu.Lock()
	s, ok := e.m.spoken[k]
	e.m.mu.Unlock()
	if !ok {
		all := e
		all.minus = nil
		s = all.listen(term, fullForm)
		s.tell(e.m.p.Adapt)
		e.m.mu.Lock()
		e.m.spoken[k] = s
		e.m.mu.Unlock()
	}
	if e.minus != nil { // how far culprits differ hardly changes with one case
		less := e.listen(term, fullForm)
		less.mentionK.Here, less.valueK.Here = s.mentionK.Here, s.valueK.Here
		return less
	}
	return s
}

type spokenKey struct {
	where, term string
	fullForm    bool
}

// where names the question's codes.
func (e evidence) where() string {
	var b strings.Builder
	for _, s := range e.scopes {
		b.WriteString(s.key.String())
		b.WriteByte('\n')
	}
	return b.String()
}

// silence is what it tells that none of the symptoms of some codes is mentioned.
type silence struct {
	terms  []string
	spoken []*spoken
	logL   []float64 // by culprit, omega last: the sum of the logarithms of the rates of not being mentioned
}

func (e evidence) silence() *silence {
	where := e.where()
	if e.minus == nil {
		e.m.mu.Lock()
		s, ok := e.m.silences[where]
		e.m.mu.Unlock()
		if ok {
			return s
		}
	}
	s := &silence{terms: e.termsNear(), logL: make([]float64, len(e.m.names)+1)}
	for _, term := range s.terms {
		one := e.spoken(term, false)
		s.spoken = append(s.spoken, one)
		for f := range s.logL {
			mention, _ := one.rates(f)
			s.logL[f] += math.Log(mention.not().mean())
		}
	}
	if e.minus == nil {
		e.m.mu.Lock()
		e.m.silences[where] = s
		e.m.mu.Unlock()
	}
	return s
}

func (e evidence) listen(term string, fullForm bool) *spoken {
	p := e.m.p
	here := e.scopes
	if len(here) == 0 {
		here = []scope{anywhere} // without a code all cases are of the question's kind
	}
	s := &spoken{mentionK: p.MentionK, valueK: p.ValueK, here: e.heard(term, here...), any: e.heard(term, anywhere)}
	near, nearFree := s.here.all()
	all, free := s.any.all()
	rest := all.less(near)
	mention := shrunk(0.5, 1, rest.free, free-nearFree-rest.free).mean()
	there := shrunk(e.usuallyThere(fullForm), p.ValueK.Near, rest.present, rest.mention-rest.present).mean()
	s.mention = shrunk(mention, p.MentionK.Near, near.free, nearFree-near.free).mean()
	s.there = shrunk(there, p.ValueK.Near, near.present, near.mention-near.present).mean()
	return s
}

// tell lets the cases say how far the culprits differ.
func (s *spoken) tell(sd float64) {
	var mentions, values []cellCount
	for _, f := range s.here.culprits() {
		here, free := s.here.of(f)
		usual, there := s.usual(f, here, free)
		if free > 0 {
			mentions = append(mentions, cellCount{math.Max(0, here.free), math.Max(0, free-here.free), usual})
		}
		if here.mention > 0 {
			values = append(values, cellCount{math.Max(0, here.present), math.Max(0, here.mention-here.present), there})
		}
	}
	s.mentionK.Here = usualWeight(mentions, s.mentionK.Here, sd)
	s.valueK.Here = usualWeight(values, s.valueK.Here, sd)
}

// culprits lists those with cases here, in order.
func (h heard) culprits() []int32 {
	set := map[int32]bool{}
	for _, s := range h.sums {
		for f := range s.byF {
			set[f] = true
		}
	}
	for _, t := range h.terms {
		for f := range t.byF {
			set[f] = true
		}
	}
	return slices.Sorted(maps.Keys(set))
}

// usual gives the rates of a culprit elsewhere, from what is counted here.
func (s *spoken) usual(f int32, here said, hereFree float64) (mention, there float64) {
	all, free := s.any.of(f)
	rest, restFree := all.less(here), free-hereFree
	return shrunk(s.mention, s.mentionK.Elsewhere, rest.free, restFree-rest.free).mean(),
		shrunk(s.there, s.valueK.Elsewhere, rest.present, rest.mention-rest.present).mean()
}

// usuallyThere gives the share of all mentions that say that the symptom is there: most where people tell what they noticed, few where a
// form asks for everything.
func (e evidence) usuallyThere(fullForm bool) float64 {
	form := 0
	if fullForm {
		form = 1
	}
	x := e.m.stats.there[form]
	if e.minus != nil {
		x = x.plus(e.minus.there[form])
	}
	return (math.Max(0, x.present) + 1) / (math.Max(0, x.mention) + 2)
}

// rates gives, under culprit f, the rate at which the symptom is mentioned and the rate at which it is there when mentioned.
func (s *spoken) rates(f int) (mention, present beta) {
	here, free := s.here.of(int32(f))
	usual, there := s.usual(int32(f), here, free)
	return shrunk(usual, s.mentionK.Here, here.free, free-here.free), shrunk(there, s.valueK.Here, here.present, here.mention-here.present)
}

// ownWord marks a word of a complaint, see kb.Vocabulary.SymptomFeatures. That somebody uses other words tells nothing.
const ownWord = "word "

// mentionOf gives the exponent of a symptom being mentioned.
func (p Params) mentionOf(term string) float64 {
	if strings.HasPrefix(term, ownWord) {
		return p.Mention * p.Words
	}
	return p.Mention
}

// termsNear lists the symptoms that cases of the question's codes mention, in order; single words of complaints are none.
func (e evidence) termsNear() []string {
	set := map[string]bool{}
	for _, where := range e.scopes {
		if s := e.m.stats.scopes[where]; s != nil {
			for term := range s.terms {
				if !strings.HasPrefix(term, ownWord) {
					set[term] = true
				}
			}
		}
	}
	return slices.Sorted(maps.Keys(set))
}
