package ingest

import (
	"cmp"
	"slices"
	"strings"

	"ruledout/kb"
)

// useSwaps makes tests of exchanges with a known-good part.
func (l *line) useSwaps() {
	var keep []*fixFound
	for _, fx := range l.fixes {
		c := fx.sent.clauseAt(fx.from)
		if !fx.sent.has(cueSwap, c.from, c.to) || fx.sent.newFor(fx.from, c) || fx.outcome == kb.Fixed || fx.credited {
			keep = append(keep, fx)
			continue
		}
		t := &testFound{sent: fx.sent, index: fx.index, from: fx.from, to: fx.to, comp: fx.comp, known: fx.known, name: "known-good swap"}
		if m, ok := l.x.v.Method("substitution"); ok {
			t.method = m.Name
		}
		switch fx.outcome {
		case kb.NoChange:
			t.result = kb.Pass
		case kb.Partial, kb.Returned:
			t.result = kb.Fail
		default:
			continue
		}
		l.tests = append(l.tests, t)
	}
	l.fixes = keep
	slices.SortStableFunc(l.tests, func(a, b *testFound) int { return cmp.Or(a.index-b.index, a.from-b.from) })
}

// dropRetold leaves one of several cures of one part by one action in a post, and drops a repair without an outcome that speaks of a
// cure just told: the writer told of it twice.
func (l *line) dropRetold() {
	var keep []*fixFound
	for _, fx := range l.fixes {
		if !slices.ContainsFunc(keep, func(o *fixFound) bool {
			again := fx.outcome == kb.Fixed || (fx.outcome == "" || fx.outcome == kb.UnknownOutcome) && fx.index-o.index <= 2
			return o.comp == fx.comp && o.action == fx.action && o.outcome == kb.Fixed && again && (o.sent.post == fx.sent.post || fx.outcome == kb.Fixed)
		}) {
			keep = append(keep, fx)
		}
	}
	l.fixes = keep
}

// stepOfCure tells whether a minor action without an outcome of its own was a step on the way to a cure told in the same post.
func (l *line) stepOfCure(fx *fixFound) bool {
	minor := slices.Contains([]kb.Action{kb.Refit, kb.Service, kb.Adjust, kb.Reprogram, kb.Modify}, fx.action)
	return minor && slices.ContainsFunc(l.fixes, func(o *fixFound) bool {
		return o.outcome == kb.Fixed && o.sent.post == fx.sent.post && o.index != fx.index
	})
}

// mergeSteps leaves one of several cures of one part in one post that were steps of one repair: the one that says most of what was done.
func (l *line) mergeSteps() {
	l.fixes = slices.DeleteFunc(l.fixes, func(fx *fixFound) bool {
		return fx.outcome == kb.Fixed && slices.ContainsFunc(l.fixes, func(o *fixFound) bool {
			near := o.sent.post == fx.sent.post && max(o.index-fx.index, fx.index-o.index) <= 3 && l.x.sameThing(o.comp, fx.comp)
			return o != fx && o.outcome == kb.Fixed && near && weight(o.action) > weight(fx.action)
		})
	})
}

// weight ranks actions by how much of a repair each makes.
func weight(a kb.Action) int {
	return 1 + slices.Index([]kb.Action{kb.Other, kb.Service, kb.Refit, kb.Reprogram, kb.Modify, kb.Adjust, kb.Clean, kb.Repair, kb.Replace}, a)
}

// dropTrials leaves out what was only taken off or isolated to see, unless its effect on the fault is told.
func (l *line) dropTrials() {
	l.fixes = slices.DeleteFunc(l.fixes, func(fx *fixFound) bool {
		if _, known := l.x.component(fx.comp); !known && (fx.outcome == "" || fx.outcome == kb.UnknownOutcome) && !fx.credited {
			return true // a thing that nobody knows, with an effect that nobody tells
		}
		if untold := fx.outcome == "" || fx.outcome == kb.UnknownOutcome; untold && !fx.credited && (fx.weak || l.stepOfCure(fx)) {
			return true
		}
		return (fx.trial || fx.action == kb.Other) && !fx.credited && fx.outcome != kb.Fixed && (fx.outcome == "" || fx.outcome == kb.UnknownOutcome || fx.settled != fx.sent)
	})
}

// concludeTests gives readings without a judgement the result that follows from the story: a component that was found to be
// the culprit had failed, one that is read after the cure is good.
func (l *line) concludeTests() {
	for _, t := range l.tests {
		if t.result != "" {
			continue
		}
		if l.uselessFix(t) {
			t.result = kb.Fail
			continue
		}
		for _, fx := range l.fixes {
			if fx.outcome != kb.Fixed {
				continue
			}
			switch {
			case t.index > fx.index || t.index == fx.index && t.from > fx.from:
				t.result, t.implied = kb.Pass, true
			case l.x.v.Relation(t.comp, fx.comp) != kb.Unrelated || l.x.near(t.comp, fx.comp):
				t.result, t.implied = kb.Fail, true
			case t.result == "":
				t.result, t.implied = kb.Pass, true
			}
		}
		if t.result == "" && t.reading != nil && !l.x.isQuantity(t.comp) && !l.isCulprit(t.comp) && !(t.reading.Unit == "V" && t.reading.Value != nil && *t.reading.Value == 0) {
			t.result, t.implied = kb.Pass, true // who finds a part bad says so
		}
	}
}

// isQuantity tells whether a name is of a measured quantity, which may well be what the complaint is about.
func (x *Extractor) isQuantity(name string) bool {
	c, ok := x.v.Component(name)
	if ok {
		return c.Quantity
	}
	words := strings.Fields(name)
	return len(words) > 0 && isQuantityWord(words[len(words)-1])
}

// isCulprit tells whether a fix was tried on what a check points to.
func (l *line) isCulprit(name string) bool {
	return slices.ContainsFunc(l.fixes, func(fx *fixFound) bool { return fx.outcome != kb.NoChange && l.x.near(name, fx.comp) })
}

// uselessFix tells whether a reading is told as the effect of a fix that changed nothing.
func (l *line) uselessFix(t *testFound) bool {
	return slices.ContainsFunc(l.fixes, func(fx *fixFound) bool {
		return fx.outcome == kb.NoChange && t.index >= fx.index && t.index-fx.index <= 1 && t.sent.post == fx.sent.post && (t.index > fx.index || t.from > fx.from) && fx.settled == t.sent
	})
}
