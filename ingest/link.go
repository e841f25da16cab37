package ingest

import (
	"slices"
)

// line is what one person did, saw and concluded, in the order told, with outcomes tied to the fixes they belong to.
type line struct {
	x       *Extractor
	r       *reading
	p       *person
	fixes   []*fixFound
	tests   []*testFound
	cured   *event      // what said last that the fault is gone; nil once it came back
	held    *event      // what said that the cure held
	back    *event      // the last return of the fault
	open    *event      // what says that the repair is not finished
	both    *event      // what says that each of several repairs took part
	gone    *event      // what says that the machine went to somebody else, or to scrap
	credits []event     // what names a culprit
	good    []event     // what says that all is well while no fix waits
	group   []*fixFound // fixes without an outcome yet, in order
	last    []*fixFound // the fixes that the last outcome was tied to
	doubt   string      // question about a group that nobody could part
}

// event is a phrase of outcome in a sentence.
type event struct {
	class    string
	sent     *sentence
	index    int
	from, to int
	comp     string // of credit and clear
}

// lineOf reads a person's sentences in order and ties outcomes to fixes.
func (x *Extractor) lineOf(r *reading, p *person) *line {
	l := &line{x: x, r: r, p: p}
	f := &focus{}
	f.note(x.components(r.title))
	for i, s := range p.sents[:p.told] {
		if p.told < len(p.sents) && s.post == p.sents[p.told].post && i >= p.told-3 {
			f.note(x.components(s))
		}
	}
	var spent []*testFound // of the sentence before
	for i := p.told; i < len(p.sents); i++ {
		s := p.sents[i]
		var next *sentence
		if i+1 < len(p.sents) {
			next = p.sents[i+1]
		}
		if i > p.told && s.post != p.sents[i-1].post {
			f.newPost(x.saidBetween(r, p.sents[i-1].post, s.post))
			f.wanted = x.wantedBetween(r, p, p.sents[i-1].post, s.post)
		}
		fixes := x.fixesIn(f, s, i)
		tests := x.testsIn(f, s, next, i, fixes)
		comps := x.components(s)
		fixes = slices.DeleteFunc(fixes, func(fx *fixFound) bool { return fx.trial && testedBy(tests, fx) })
		events := unspent(append(slices.Clone(spent), tests...), s, x.eventsIn(f, s, i, comps))
		if e, ok := l.answered(i); ok {
			events = append([]event{e}, events...)
		}
		if l.cured != nil && s.reproduces(events) {
			l.reproduced(event{class: cueBack, sent: s, index: i, from: 0, to: len(s.toks)})
			fixes, events = nil, nil
		}
		spent = tests
		f.note(comps)
		f.noteBad(s, tests)
		f.noteDamage(x.damageAt(s))
		f.notePair(comps)
		f.noteLitter(x.litterAt(s, len(s.toks)))
		f.note(namesOf(fixes, comps))
		l.takeSentence(i, fixes, tests, events)
	}
	l.finish()
	return l
}

// saidBetween gives the components that other people spoke of in the posts between two of one person, those of the last post only.
func (x *Extractor) saidBetween(r *reading, from, to int) []nounPhrase {
	for post := to - 1; post > from; post-- {
		var out []nounPhrase
		for _, o := range r.inPost(post) {
			out = append(out, x.components(o.s)...)
		}
		if len(out) > 0 {
			return out
		}
	}
	return nil
}

// testedBy tells whether a trial is told as a test already.
func testedBy(tests []*testFound, fx *fixFound) bool {
	return slices.ContainsFunc(tests, func(t *testFound) bool { return t.spends != nil && t.from < fx.to && fx.from < t.to })
}

// unspent leaves out the outcomes of a sentence that tell the result of a test.
func unspent(tests []*testFound, s *sentence, events []event) []event {
	return slices.DeleteFunc(events, func(e event) bool {
		return slices.Contains([]string{cueNoChange, cueFixed, cuePartial, cueBack, cueHold}, e.class) && slices.ContainsFunc(tests, func(t *testFound) bool {
			return t.spends == s && !speaksOfAll(s) && (t.sent != s || e.from >= t.from)
		})
	})
}

// namesOf gives the parts of fixes that are not among the sentence's components, since the vocabulary does not know them.
func namesOf(fixes []*fixFound, comps []nounPhrase) []nounPhrase {
	var out []nounPhrase
	for _, fx := range fixes {
		if !slices.ContainsFunc(comps, func(np nounPhrase) bool { return np.name == fx.comp }) {
			out = append(out, nounPhrase{name: fx.comp, known: fx.known})
		}
	}
	return out
}

// takeSentence adds a sentence's findings in the order of their words.
func (l *line) takeSentence(index int, fixes []*fixFound, tests []*testFound, events []event) {
	l.tests = append(l.tests, tests...)
	fi := 0
	for _, e := range events {
		for fi < len(fixes) && (fixes[fi].from <= e.from || announces(e, fixes[fi])) {
			l.addFix(fixes[fi])
			fi++
		}
		l.take(e)
	}
	for ; fi < len(fixes); fi++ {
		l.addFix(fixes[fi])
	}
}
