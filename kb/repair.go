package kb

import "slices"

// MethodBridging is the test method that bridges a protective or emission device, and as which a bypass left in place counts.
const MethodBridging = "bridging"

// LastStep gives the last step of the record, 0 if none is known.
func (c *Case) LastStep() int {
	step := 0
	for _, t := range c.Tests {
		step = max(step, t.Step)
	}
	for _, f := range c.Fixes {
		step = max(step, f.Step)
	}
	return step
}

// lastCureStep gives the last step that the record names as (part of) the cure, 0 if none or unknown.
func (c *Case) lastCureStep() int {
	step := 0
	for _, f := range c.Fixes {
		if f.Outcome == Fixed {
			step = max(step, f.Step)
		}
	}
	return step
}

// IsProof tells whether a test proves or disproves a repair: a test of a component after the first change to it, or after the
// cure. Proof sets the confirmation and is never evidence on the culprit. Tests done together with a change (equal steps) or
// of unknown order are no proof.
func (c *Case) IsProof(t Test) bool {
	if t.Step == 0 {
		return false
	}
	if cure := c.lastCureStep(); cure > 0 && t.Step > cure {
		return true
	}
	return slices.ContainsFunc(c.Fixes, func(f Fix) bool {
		return f.Action != Bypass && f.Component == t.Component && f.Step > 0 && f.Step < t.Step
	})
}

// EvidenceTests gives the tests that bear on the culprit: proofs left out, and each bypass counted as the test by bridging that
// it amounts to.
func (c *Case) EvidenceTests() []Test {
	var out []Test
	for _, t := range c.Tests {
		if !c.IsProof(t) {
			out = append(out, t)
		}
	}
	for _, f := range c.Fixes {
		if f.Action == Bypass {
			out = append(out, bridged(f))
		}
	}
	return out
}

// bridged gives a bypass as a test: fail if the fault went with it, pass if it stayed.
func bridged(f Fix) Test {
	t := Test{Step: f.Step, Test: MethodBridging, Method: MethodBridging, Where: InPlace, Component: f.Component, Result: Inconclusive,
		Evidence: f.Evidence, Confidence: f.Confidence}
	switch f.Outcome {
	case Fixed, Partial, Returned:
		t.Result = Fail
	case NoChange:
		t.Result = Pass
	}
	return t
}

// Proofs gives the tests that prove or disprove a repair.
func (c *Case) Proofs() []Test {
	var out []Test
	for _, t := range c.Tests {
		if c.IsProof(t) {
			out = append(out, t)
		}
	}
	return out
}

// TriedFixes gives the fixes that did not cure: evidence against their components. Bypasses are tests, see EvidenceTests.
func (c *Case) TriedFixes() []Fix {
	var out []Fix
	for _, f := range c.Fixes {
		if f.Action != Bypass && oneOf(f.Outcome, NoChange, Partial, Returned) {
			out = append(out, f)
		}
	}
	return out
}

// Cures gives the fixes that the record names as the cure: those with outcome fixed, a bypass never. If the case was closed as
// repaired and names none, the cure is the fixes of unknown outcome that share the last step, or all of them where no steps are
// given. Of an open case there is none.
func (c *Case) Cures() []Fix {
	if c.Status != Closed || c.ClosedAs != Repaired {
		return nil
	}
	named := c.fixesWith(func(f Fix) bool { return f.Outcome == Fixed })
	if len(named) > 0 {
		return named
	}
	unknown := c.fixesWith(func(f Fix) bool { return f.Outcome == UnknownOutcome || f.Outcome == "" })
	last := 0
	for _, f := range unknown {
		last = max(last, f.Step)
	}
	return slices.DeleteFunc(unknown, func(f Fix) bool { return f.Step != last })
}

func (c *Case) fixesWith(keep func(Fix) bool) []Fix {
	var out []Fix
	for _, f := range c.Fixes {
		if f.Action != Bypass && keep(f) {
			out = append(out, f)
		}
	}
	return out
}

// Culprits gives what was at fault in a closed case: the components of its cures, each once, in order.
func (c *Case) Culprits() []string {
	var out []string
	for _, f := range c.Cures() {
		if !slices.Contains(out, f.Component) {
			out = append(out, f.Component)
		}
	}
	return out
}

// Held gives the confirmation of the case after its follow-ups, in order of date, and of one day as they were told: a later one goes before
// an earlier one, held makes verified, and a return takes the confirmation back.
func (c *Case) Held() Confirmation {
	if len(c.FollowUps) == 0 {
		return c.Confirmation
	}
	last := c.FollowUps[0]
	for _, f := range c.FollowUps[1:] {
		if f.Date >= last.Date { // of one day the one told last
			last = f
		}
	}
	if last.Held {
		return Verified
	}
	return Unconfirmed
}

// IsEvidence tells whether the case counts for others: published, closed as repaired, and confirmed by its writer or better.
func (c *Case) IsEvidence() bool {
	return c.State == Published && oneOf(c.Held(), Verified, Reported) && len(c.Culprits()) > 0
}
