package testkit

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"ruledout/kb"
)

// Evidence says what a question of a simulated workshop tells.
type Evidence struct{ Symptoms, Tests, Fixes bool }

// Everything is all that a question can tell.
func Everything() Evidence { return Evidence{Symptoms: true, Tests: true, Fixes: true} }

// WorkshopQuestion is an open case with the truth behind it.
type WorkshopQuestion struct {
	Case      kb.Case
	Code      string             // its fault code
	Cases     int                // closed cases of the code
	Culprit   string             // what is at fault
	Posterior map[string]float64 // Bayes-optimal, given the same evidence and the true rates, by component
}

// repair is a machine under repair. What is done next depends on the code and on what was seen so far, never on the culprit, so that the
// choice itself tells nothing.
type repair struct {
	w         *Workshop
	rnd       *rand.Rand
	code      *simCode
	machine   simMachine
	culprit   int       // place among the suspects
	suspicion []float64 // of each suspect, 0 once it was worked on
	record    kb.Case
	likely    []float64 // log likelihood of all that was seen, by cause
	checked   map[[2]int]bool
	failed    int // fixes without cure
	cured     bool
}

// Cases draws the closed cases.
func (w *Workshop) Cases() []kb.Case {
	rnd := rand.New(rand.NewPCG(w.cfg.Seed, 2))
	var out []kb.Case
	for _, c := range w.codes {
		for range c.size {
			r := w.arrive(rnd, c, Everything())
			r.record.ID = kb.CaseID(fmt.Sprintf("case%06d", len(out)))
			r.toTheEnd()
			out = append(out, r.record)
		}
	}
	return out
}

// Questions draws open cases, the codes in turn. seed tells sets of questions apart.
func (w *Workshop) Questions(n int, tell Evidence, seed uint64) []WorkshopQuestion {
	rnd := rand.New(rand.NewPCG(w.cfg.Seed, 3+seed))
	out := make([]WorkshopQuestion, 0, n)
	for i := range n {
		c := w.codes[i%len(w.codes)]
		r := w.arrive(rnd, c, tell)
		for !r.soFar(rnd.IntN(6), tell) {
			r = w.arrive(rnd, c, tell)
		}
		r.record.ID = kb.CaseID(fmt.Sprintf("question%06d", i))
		out = append(out, WorkshopQuestion{Case: r.record, Code: c.name, Cases: c.size, Culprit: r.name(r.culprit), Posterior: r.posterior()})
	}
	return out
}

// arrive draws a machine with its culprit and what is said of it.
func (w *Workshop) arrive(rnd *rand.Rand, c *simCode, tell Evidence) *repair {
	r := &repair{w: w, rnd: rnd, code: c, machine: w.drawMachine(rnd), checked: map[[2]int]bool{}}
	prior := w.prior(c, r.machine)
	r.culprit = draw(rnd, prior)
	for _, p := range prior {
		r.likely = append(r.likely, math.Log(p))
	}
	r.suspicion = slices.Clone(c.share)
	for range bystanders {
		r.suspicion = append(r.suspicion, 0.5/float64(len(c.share)))
	}
	r.record = kb.Case{V: kb.Version, Contributor: fmt.Sprintf("contributor %d", rnd.IntN(500)), Machine: w.machine(r.machine),
		Codes: []kb.CodeEntry{{Code: c.name}}, Status: kb.Open, State: kb.Published, Sources: []kb.Source{{Trusted: true}}, FullForm: !tell.Symptoms}
	if tell.Symptoms {
		r.tell()
	}
	return r
}

// tell says which symptoms are there and which are not, as far as they are mentioned.
func (r *repair) tell() {
	for _, s := range r.code.symptoms {
		if r.rnd.Float64() >= s.mentioned[r.culprit] {
			r.weigh(func(f int) float64 { return 1 - s.mentioned[f] })
			continue
		}
		there := r.rnd.Float64() < s.present[r.culprit]
		r.record.Symptoms = append(r.record.Symptoms, kb.Symptom{Symptom: s.name, Absent: !there})
		r.weigh(func(f int) float64 {
			if there {
				return s.mentioned[f] * s.present[f]
			}
			return s.mentioned[f] * (1 - s.present[f])
		})
	}
}

// weigh multiplies the likelihood of every cause.
func (r *repair) weigh(likelihood func(cause int) float64) {
	for f := range r.likely {
		r.likely[f] += math.Log(likelihood(f))
	}
}

// posterior is exact: the prior on this machine times the likelihood of all that was seen. Machines that were cured before they could be
// asked about do not count, and need no term: that they were not is the likelihood of the fixes without cure.
func (r *repair) posterior() map[string]float64 {
	top, sum := slices.Max(r.likely), 0.0
	for _, l := range r.likely {
		sum += math.Exp(l - top)
	}
	out := map[string]float64{}
	for f, l := range r.likely {
		out[r.name(f)] = math.Exp(l-top) / sum
	}
	return out
}

func (r *repair) part(suspect int) simPart { return r.w.parts[r.code.suspects[suspect]] }
func (r *repair) name(suspect int) string  { return r.part(suspect).name }
func (r *repair) step() int                { return len(r.record.Tests) + len(r.record.Fixes) + 1 }

// soFar goes some steps; false if the machine is cured by then and nobody asks.
func (r *repair) soFar(steps int, tell Evidence) bool {
	for range steps {
		test := tell.Tests && len(r.record.Tests) < 4 && (!tell.Fixes || r.rnd.Float64() < 0.65)
		switch {
		case test:
			r.test()
		case tell.Fixes && r.failed < 3:
			r.fix(r.suspect())
		}
		if r.cured {
			return false
		}
	}
	return true
}

// test checks a suspect by a method not used on it yet, if there is one.
func (r *repair) test() {
	f := r.suspect()
	for m, c := range r.part(f).checks {
		if r.checked[[2]int{f, m}] {
			continue
		}
		r.checked[[2]int{f, m}] = true
		r.check(f, c)
		return
	}
}

// check draws the result of a test and moves the suspicion by it.
func (r *repair) check(f int, c simCheck) {
	failRate := func(cause int) float64 {
		if cause == f {
			return c.sensitivity
		}
		return 1 - c.specificity
	}
	result := kb.Pass
	if r.rnd.Float64() < failRate(r.culprit) {
		result = kb.Fail
		r.suspicion[f] *= 6
		r.weigh(failRate)
	} else {
		r.suspicion[f] *= 0.2
		r.weigh(func(cause int) float64 { return 1 - failRate(cause) })
	}
	r.record.Tests = append(r.record.Tests, kb.Test{Step: r.step(), Test: c.method, Method: c.method, Component: r.name(f), Result: result})
}

// suspect chooses what to work on by what was seen so far.
func (r *repair) suspect() int { return draw(r.rnd, r.suspicion) }

// fix works on a suspect: the culprit is cured, unless the repair was badly done; anything else changes nothing.
func (r *repair) fix(f int) {
	p := r.part(f)
	r.cured = f == r.culprit && r.rnd.Float64() >= p.fails
	fix := kb.Fix{Step: r.step(), Action: p.action, Component: p.name, Outcome: kb.NoChange}
	r.suspicion[f] = 0
	if r.cured {
		fix.Outcome = kb.Fixed
	} else {
		r.failed++
		r.weigh(func(cause int) float64 {
			if cause == f {
				return p.fails
			}
			return 1
		})
	}
	r.record.Fixes = append(r.record.Fixes, fix)
}

// toTheEnd goes on until the machine is cured, and closes the case. What leads to the culprit in the end need not be on record.
func (r *repair) toTheEnd() {
	for tests := r.rnd.IntN(5); !r.cured; {
		switch {
		case tests > 0 && r.rnd.Float64() < 0.65:
			r.test()
			tests--
		case r.failed >= 3 || r.rnd.Float64() < 0.4:
			r.fix(r.culprit)
		default:
			r.fix(r.suspect())
		}
	}
	r.close()
}

// close names the culprit, now and then a wrong one: what was suspected most.
func (r *repair) close() {
	r.record.Status, r.record.ClosedAs, r.record.Confirmation = kb.Closed, kb.Repaired, kb.Reported
	if r.rnd.Float64() < 0.6 {
		r.record.Confirmation = kb.Verified
	}
	if r.rnd.Float64() >= r.w.cfg.WrongCredit {
		return
	}
	last := &r.record.Fixes[len(r.record.Fixes)-1]
	p := r.part(r.suspect()) // not the culprit: that was worked on
	last.Component, last.Action = p.name, p.action
}
