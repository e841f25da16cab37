package plan

// Kind is what a step does.
type Kind int

// The kinds of step.
const (
	Act  Kind = iota // try an action
	Look             // do a test
	Hand             // hand over
)

// String names the kind.
func (k Kind) String() string { return [...]string{"action", "test", "hand over"}[k] }

// Step is one step of a plan, given that the plan gets there. Steps and branches make a tree.
type Step struct {
	Kind     Kind
	Index    int       // of the action or test; 0 for handing over
	Cost     float64   // expected cost from here on, this step included
	P        []float64 // probability of each cause on getting here
	Branches []Branch  // none for handing over
}

// Branch is what a step may lead to.
type Branch struct {
	Outcome int     // of a test its outcome; of an action Cured or Failed
	P       float64 // probability, given that the step is done
	Next    *Step   // nil where the fault is cured
}

// The outcomes of an action.
const (
	Cured = iota
	Failed
)

// Method tells how a plan was found.
type Method string

// The methods.
const (
	Exact     Method = "exact"      // no plan is better
	LookAhead Method = "look-ahead" // better ones may be there
)

// Plan is what to do, and what the alternatives would cost.
type Plan struct {
	First     *Step
	Cost      float64 // expected cost of repair
	Method    Method
	States    int     // visited
	Ratio     float64 // expected cost of the order by probability over cost, handing over where that has the greater ratio
	Likeliest float64 // expected cost of trying what most probably cures first, whatever it costs, up to where handing over is cheapest
	HandOver  float64 // cost of handing over at once
}

// Options of one plan.
type Options struct {
	NoExact bool // look ahead even where the exact solution fits
	Limit   int  // most states that the exact solution may visit; 0: DefaultLimit, or less where there is much to choose from
}

// DefaultLimit is the most states that the exact solution visits unless told otherwise; with more than 20 actions and tests it is
// defaultWork divided by their number. Both are some 10 to 15 ms.
const (
	DefaultLimit = 15_000
	defaultWork  = 300_000
)

// Solve plans. The plan is never dearer than any of the alternatives that stand beside it.
func Solve(p Problem, opt Options) (Plan, error) {
	if err := p.Validate(); err != nil {
		return Plan{}, err
	}
	if opt.Limit == 0 {
		opt.Limit = min(DefaultLimit, defaultWork/max(1, len(p.Actions)+len(p.Tests)))
	}
	out := Plan{HandOver: p.HandOver * total(p.P)}
	s := newSearch(p)
	_, out.Ratio = s.follow(byRatio, 0, clone(p.P), nil)
	_, out.Likeliest = s.follow(byProbability, 0, clone(p.P), nil)
	if !opt.NoExact {
		x := &exact{search: s, settled: map[state]settled{}, limit: opt.Limit}
		if x.value(0, state{}, p.P); !x.over {
			b := &builder{search: s, choose: x.chosen}
			out.First, out.Method, out.States = b.step(state{}, p.P), Exact, len(x.settled)
			out.Cost = out.First.Cost
			return out, nil
		}
	}
	l := newLookAhead(s)
	out.First, out.Method = l.plan(), LookAhead
	out.Cost, out.States = out.First.Cost, len(l.judged)
	return out, nil
}

// builder makes the tree of a policy.
type builder struct {
	*search
	choose func(at state, w []float64) option
}

// step gives the step to take in a state of weights w, with everything that follows.
func (b *builder) step(at state, w []float64) *Step {
	m := total(w)
	o := b.choose(at, w)
	out := &Step{Kind: o.kind, Index: o.index, P: clone(w)}
	for c := range out.P {
		out.P[c] /= m
	}
	switch o.kind {
	case Hand:
		out.Cost = b.HandOver
	case Act:
		b.actBranches(out, at, w, m, o)
	case Look:
		b.lookBranches(out, at, w, m, o)
	}
	return out
}

func (b *builder) actBranches(out *Step, at state, w []float64, m float64, o option) {
	next := clone(w)
	left := m - b.fail(o.index, next)
	out.Cost = b.spend(o.index, w, m) / m
	out.Branches = []Branch{{Outcome: Cured, P: 1 - left/m}}
	if left > nothing*m {
		then := b.step(at.after(o, 0), next)
		out.Cost += then.Cost * left / m
		out.Branches = append(out.Branches, Branch{Failed, left / m, then})
	}
}

func (b *builder) lookBranches(out *Step, at state, w []float64, m float64, o option) {
	t := b.Tests[o.index]
	out.Cost = t.Cost
	for i, outcome := range t.Outcomes {
		next := clone(w)
		seen := show(next, w, outcome)
		if seen <= nothing*m {
			continue
		}
		then := b.step(at.after(o, i), next)
		out.Cost += then.Cost * seen / m
		out.Branches = append(out.Branches, Branch{i, seen / m, then})
	}
}

// chosen gives what the exact solution does in a state that it has settled.
func (s *exact) chosen(at state, w []float64) option {
	s.value(0, at, w)
	return s.settled[at].do
}
