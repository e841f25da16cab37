package kb

import (
	"cmp"
	"slices"
	"strings"
)

// Merge gives what several cases tell of one repair as one case: that of into, with what the others add. It keeps every source and every span.
// The result does not depend on the order of others.
//
// What only one of them tells is taken; where several tell one thing (a test of one component by one method with one result, an action on one
// component) it stands once, with the words of all. Where they differ, into goes first, then the others in order of their ids, with three
// exceptions: a case is closed if one of them tells how it ended; of confirmations the strongest holds; of the outcomes of one repair the one
// that tells most. Steps keep their order in each case and their place before or after the cure.
func Merge(into Case, others []Case) Case {
	others = slices.Clone(others)
	slices.SortFunc(others, func(a, b Case) int { return cmp.Compare(a.ID, b.ID) })
	all := append([]Case{into}, others...)
	alignCures(all)
	out := all[0]
	for _, c := range all[1:] {
		out.Title = cmp.Or(out.Title, c.Title)
		out.Reporter = cmp.Or(out.Reporter, c.Reporter)
		out.Machine = mergeMachines(out.Machine, c.Machine)
		out.Codes = mergeLists(out.Codes, c.Codes, sameCode, joinCodes)
		out.Symptoms = mergeLists(out.Symptoms, c.Symptoms, sameSymptom, joinSymptoms)
		out.Tests = mergeLists(out.Tests, c.Tests, sameTest, joinTests)
		out.Fixes = mergeLists(out.Fixes, c.Fixes, sameFix, joinFixes)
		out.Sources = mergeLists(out.Sources, c.Sources, func(a, b Source) bool { return a == b }, func(a, _ Source) Source { return a })
		out.FollowUps = mergeLists(out.FollowUps, c.FollowUps, sameFollowUp, func(a, _ FollowUp) FollowUp { return a })
		out.Doubts = mergeLists(out.Doubts, c.Doubts, func(a, b Doubt) bool { return a.Question == b.Question && a.About == b.About }, func(a, _ Doubt) Doubt { return a })
		out.StatusEvidence = joinSpans(out.StatusEvidence, c.StatusEvidence)
		mergeEnds(&out, c)
		out.FullForm = out.FullForm && c.FullForm
	}
	slices.SortStableFunc(out.FollowUps, func(a, b FollowUp) int { return cmp.Compare(a.Date, b.Date) })
	return out
}

// alignCures moves the steps from the cure on so that all cures stand at one step: what was done before the cure stays before it, and what proved
// it after it. A case that tells of no cure tells of what was done before it.
func alignCures(all []Case) {
	last := 0
	for i := range all {
		if cure := all[i].lastCureStep(); cure > 0 {
			last = max(last, cure)
		} else {
			last = max(last, all[i].LastStep()+1)
		}
	}
	for i := range all {
		cure := all[i].lastCureStep()
		if cure == 0 || cure == last {
			continue
		}
		moved := func(step int) int {
			if step >= cure {
				return step + last - cure
			}
			return step
		}
		all[i].Tests, all[i].Fixes = slices.Clone(all[i].Tests), slices.Clone(all[i].Fixes)
		for j := range all[i].Tests {
			all[i].Tests[j].Step = moved(all[i].Tests[j].Step)
		}
		for j := range all[i].Fixes {
			all[i].Fixes[j].Step = moved(all[i].Fixes[j].Step)
		}
	}
}

// LastStep gives the last step of a case, 0 if none is known.
func (c *Case) LastStep() int {
	last := 0
	for _, t := range c.Tests {
		last = max(last, t.Step)
	}
	for _, f := range c.Fixes {
		last = max(last, f.Step)
	}
	return last
}

// mergeLists adds to a list what another has beside it.
func mergeLists[T any](list, more []T, same func(a, b T) bool, join func(a, b T) T) []T {
	out := slices.Clone(list)
	for _, x := range more {
		if i := slices.IndexFunc(out, func(y T) bool { return same(y, x) }); i >= 0 {
			out[i] = join(out[i], x)
		} else {
			out = append(out, x)
		}
	}
	return out
}

func joinSpans(a, b []Evidence) []Evidence {
	return mergeLists(a, b, func(x, y Evidence) bool { return x == y }, func(x, _ Evidence) Evidence { return x })
}

func mergeMachines(a, b Machine) Machine {
	a.Kind, a.Make, a.Model = cmp.Or(a.Kind, b.Kind), cmp.Or(a.Make, b.Make), cmp.Or(a.Model, b.Model)
	a.Year, a.Variant = cmp.Or(a.Year, b.Year), cmp.Or(a.Variant, b.Variant)
	a.Odometer, a.Hours, a.Cycles, a.VIN = cmp.Or(a.Odometer, b.Odometer), cmp.Or(a.Hours, b.Hours), cmp.Or(a.Cycles, b.Cycles), cmp.Or(a.VIN, b.VIN)
	a.Evidence, a.Confidence = joinSpans(a.Evidence, b.Evidence), max(a.Confidence, b.Confidence)
	return a
}

func sameCode(a, b CodeEntry) bool { return strings.EqualFold(a.Code, b.Code) && a.Issuer == b.Issuer }

func joinCodes(a, b CodeEntry) CodeEntry {
	a.Scheme, a.Status, a.SetAgain = cmp.Or(a.Scheme, b.Scheme), cmp.Or(a.Status, b.Status), cmp.Or(a.SetAgain, b.SetAgain)
	a.Evidence, a.Confidence = joinSpans(a.Evidence, b.Evidence), max(a.Confidence, b.Confidence)
	return a
}

func sameSymptom(a, b Symptom) bool {
	return Fold(a.Symptom) == Fold(b.Symptom) && a.Absent == b.Absent
}

func joinSymptoms(a, b Symptom) Symptom {
	a.Conditions = mergeLists(a.Conditions, b.Conditions, func(x, y string) bool { return x == y }, func(x, _ string) string { return x })
	a.Evidence, a.Confidence = joinSpans(a.Evidence, b.Evidence), max(a.Confidence, b.Confidence)
	return a
}

// sameTest tells whether two tests are one: component, method, result and value agree.
func sameTest(a, b Test) bool {
	return Fold(a.Component) == Fold(b.Component) && Fold(cmp.Or(a.Method, a.Test)) == Fold(cmp.Or(b.Method, b.Test)) && a.Result == b.Result && sameReading(a.Reading, b.Reading)
}

// sameReading tells whether two readings are of one value; one that is not told agrees with any.
func sameReading(a, b *Reading) bool {
	if a == nil || b == nil {
		return true
	}
	if a.Value == nil || b.Value == nil {
		return a.Value == b.Value && a.Bound == b.Bound
	}
	return *a.Value == *b.Value && a.Unit == b.Unit
}

func joinTests(a, b Test) Test {
	a.Method, a.Where, a.Reading = cmp.Or(a.Method, b.Method), cmp.Or(a.Where, b.Where), cmp.Or(a.Reading, b.Reading)
	a.Step, a.Minutes = cmp.Or(a.Step, b.Step), cmp.Or(a.Minutes, b.Minutes)
	a.Evidence, a.Confidence = joinSpans(a.Evidence, b.Evidence), max(a.Confidence, b.Confidence)
	return a
}

func sameFix(a, b Fix) bool {
	return a.Action == b.Action && Fold(a.Component) == Fold(b.Component) && (a.Outcome == b.Outcome || tells(a.Outcome) == 0 || tells(b.Outcome) == 0)
}

// tells orders outcomes by how much they tell.
func tells(o Outcome) int {
	return slices.Index([]Outcome{UnknownOutcome, NoChange, Partial, Returned, Fixed}, cmp.Or(o, UnknownOutcome))
}

func joinFixes(a, b Fix) Fix {
	if tells(b.Outcome) > tells(a.Outcome) {
		a.Outcome, a.Step = b.Outcome, cmp.Or(b.Step, a.Step)
	}
	a.Step, a.Minutes = cmp.Or(a.Step, b.Step), cmp.Or(a.Minutes, b.Minutes)
	a.Part, a.PartsCost = cmp.Or(a.Part, b.Part), cmp.Or(a.PartsCost, b.PartsCost)
	a.Evidence, a.Confidence = joinSpans(a.Evidence, b.Evidence), max(a.Confidence, b.Confidence)
	return a
}

func sameFollowUp(a, b FollowUp) bool {
	return a.Date == b.Date && a.Held == b.Held && a.Note == b.Note
}

// mergeEnds joins how two cases ended.
func mergeEnds(into *Case, c Case) {
	if c.Status == Closed && (into.Status != Closed || c.ClosedAs == Repaired && into.ClosedAs != Repaired) {
		into.Status, into.ClosedAs = c.Status, c.ClosedAs
	}
	order := []Confirmation{"", Unconfirmed, Reported, Verified}
	if slices.Index(order, c.Confirmation) > slices.Index(order, into.Confirmation) {
		into.Confirmation = c.Confirmation
	}
}
