package rank

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
)

const (
	rounds     = 4    // most rounds over the constants
	worthRound = 1e-4 // a round that gains less, in nats a question, is the last
	strides    = 5    // most strides in one direction
)

// to gives a value on the constant's scale, from its inverse.
func (c Constant) to(v float64) float64 {
	switch c.Scale {
	case Log:
		return math.Log(v)
	case Logit:
		return math.Log(v / (1 - v))
	}
	return v
}

func (c Constant) from(z float64) float64 {
	switch c.Scale {
	case Log:
		z = math.Exp(z)
	case Logit:
		z = logistic(z)
	}
	return math.Max(c.Low, math.Min(c.High, z))
}

// width is the distance on the constant's scale that costs half a nat: how far a constant may well be from its default.
func (c Constant) width() float64 {
	if c.Scale == Linear {
		return (c.High - c.Low) / 4
	}
	return 1
}

// state is a search under way.
type state struct {
	pr     *problem
	start  Params
	p      Params
	loss   float64            // mean log loss under p, the pull included
	step   map[string]float64 // by constant, on its scale
	gained map[string]float64 // by each constant in its last line search
}

// probe is a point of a line search.
type probe struct {
	z    float64
	p    Params
	loss float64
	list []*trial
	anew *problem // of a constant of crediting: everything under it
}

// search finds the constants of least log loss, from start on and drawn to it.
func (pr *problem) search(start Params, tick func() error) (Params, error) {
	s := &state{pr: pr, start: start, p: start, step: map[string]float64{}, gained: map[string]float64{}}
	pr.open(s.p)
	s.loss = s.total(pr, s.p, nil)
	order, err := s.promising(tick)
	if err != nil {
		return start, err
	}
	for round := range rounds {
		if round == 1 { // credits follow the constants once; after that they hardly move
			pr.open(s.p)
		}
		s.loss = s.total(s.pr, s.p, nil)
		before := s.loss
		for _, c := range order {
			if err := tick(); err != nil {
				return start, err
			}
			if round == 0 || s.gained[c.Name] > worthRound/10 {
				s.line(c)
			}
		}
		if before-s.loss < worthRound {
			break
		}
		s.sort(order)
	}
	s.prune()
	return s.better(), nil
}

func (s *state) sort(order []Constant) {
	slices.SortStableFunc(order, func(a, b Constant) int { return cmp.Compare(s.gained[b.Name], s.gained[a.Name]) })
}

// promising lists the constants that act on any question, those first that promise most by a step to either side: of two that can stand
// for each other the better one shall move. Constants of crediting come last, since a look at them costs a model.
func (s *state) promising(tick func() error) ([]Constant, error) {
	var out []Constant
	for _, c := range searched() {
		if err := tick(); err != nil {
			return nil, err
		}
		if c.acts&onCredit != 0 {
			out = append(out, c)
			continue
		}
		seen, acts := s.sides(c)
		if !acts {
			continue
		}
		out = append(out, c)
		best := seen[lowest(seen)].loss
		if _, promised, ok := vertex(seen); ok {
			best -= promised
		}
		s.gained[c.Name] = s.loss - best
	}
	s.sort(out)
	return out, nil
}

// sides looks a step to either side of a constant's value; false if it acts on no question.
func (s *state) sides(c Constant) ([]probe, bool) {
	h := cmp.Or(s.step[c.Name], c.width()/2)
	here := probe{z: c.to(c.Get(s.p)), p: s.p, loss: s.loss}
	low := s.at(c, here.z-h)
	if low.z < here.z && low.loss == s.total(s.pr, low.p, nil) {
		return nil, false
	}
	return []probe{low, here, s.at(c, here.z+h)}, true
}

// total gives the objective: the mean log loss and the pull towards the start.
func (s *state) total(pr *problem, p Params, list []*trial) float64 {
	n := float64(len(pr.questions))
	pull := 0.0
	for _, c := range searched() {
		d := (c.to(c.Get(p)) - c.to(c.Get(s.start))) / c.width()
		if c.Get(p) != c.Get(s.start) {
			pull += d * d / 2
		}
	}
	return floats.Sum(pr.losses(list))/n + pull/n
}

// at tries one value of a constant out.
func (s *state) at(c Constant, z float64) probe {
	x := probe{z: z, p: s.p, loss: math.Inf(1)}
	c.Set(&x.p, c.from(z))
	x.z = c.to(c.Get(x.p))
	if x.p.Validate() != nil || math.IsNaN(x.z) || math.IsInf(x.z, 0) {
		return x
	}
	if c.acts&onCredit != 0 {
		x.anew = s.pr.again(x.p)
		x.loss = s.total(x.anew, x.p, nil)
		return x
	}
	x.list = s.pr.ask(x.p, c.acts, c.only)
	x.loss = s.total(s.pr, x.p, x.list)
	return x
}

// line searches along one constant: a step to either side, strides on in a direction that gains, and the lowest point of the parabola
// through the best three.
func (s *state) line(c Constant) {
	seen, acts := s.sides(c)
	if !acts {
		s.gained[c.Name] = 0
		return
	}
	here := c.to(c.Get(s.p))
	for range strides {
		best := lowest(seen)
		if best == 0 && seen[0].z < seen[1].z {
			seen = slices.Insert(seen, 0, s.at(c, seen[0].z-2*(seen[1].z-seen[0].z)))
		} else if best == len(seen)-1 && seen[best].z > seen[best-1].z {
			seen = append(seen, s.at(c, seen[best].z+2*(seen[best].z-seen[best-1].z)))
		} else {
			break
		}
	}
	if z, _, ok := vertex(seen); ok {
		seen = append(seen, s.at(c, z))
	}
	best := seen[lowest(seen)]
	s.gained[c.Name] = s.loss - best.loss
	s.step[c.Name] = math.Max(math.Abs(best.z-here), cmp.Or(s.step[c.Name], c.width()/2)/4)
	if best.loss < s.loss {
		s.take(best)
	}
}

func (s *state) take(x probe) {
	if x.anew != nil {
		s.pr.models, s.pr.questions = x.anew.models, x.anew.questions
	} else {
		s.pr.keep(x.list)
	}
	s.p, s.loss = x.p, x.loss
}

// worthMoving is what a constant must gain over all of n questions together, in nats, to leave its default: ln(n)/2 (Schwarz 1978).
func worthMoving(n int) float64 { return math.Log(float64(n)) / 2 }

// prune takes back what gains too little, the least first.
func (s *state) prune() {
	back := func(c Constant) probe { return s.at(c, c.to(c.Get(s.start))) }
	cost := map[string]float64{}
	var moved []Constant
	for _, c := range searched() {
		if c.Get(s.p) != c.Get(s.start) {
			moved = append(moved, c)
			cost[c.Name] = back(c).loss
		}
	}
	slices.SortStableFunc(moved, func(a, b Constant) int { return cmp.Compare(cost[a.Name], cost[b.Name]) })
	for _, c := range moved {
		x := back(c)
		if n := len(s.pr.questions); (x.loss-s.loss)*float64(n) < worthMoving(n) {
			c.Set(&x.p, c.Get(s.start)) // to the bit
			s.take(x)
		}
	}
}

// better gives the constants found, or those of the start where these are no worse once every credit is given anew.
func (s *state) better() Params {
	if floats.Sum(s.pr.again(s.p).losses(nil)) < floats.Sum(s.pr.again(s.start).losses(nil)) {
		return s.p
	}
	return s.start
}

// measure holds two sets of constants against each other, and each constant against its value in the first.
func (pr *problem) measure(start, p Params) *measure {
	pr.open(p)
	out := &measure{before: pr.again(start).losses(nil), after: pr.losses(nil)}
	for _, q := range pr.questions {
		out.groups = append(out.groups, pr.b.group[q.at])
	}
	for _, c := range searched() {
		added := make([]float64, len(pr.questions))
		if c.Get(p) != c.Get(start) {
			back := p
			c.Set(&back, c.Get(start))
			without := pr
			var list []*trial
			if c.acts&onCredit != 0 {
				without = pr.again(back)
			} else {
				list = pr.ask(back, c.acts, c.only)
			}
			floats.SubTo(added, without.losses(list), out.after)
		}
		out.added = append(out.added, added)
	}
	return out
}

func lowest(list []probe) int {
	best := 0
	for i, x := range list {
		if x.loss < list[best].loss {
			best = i
		}
	}
	return best
}

// vertex gives the lowest point of the parabola through the best point and its neighbours, and how much lower it is; false where it
// promises no gain.
func vertex(list []probe) (z, promised float64, ok bool) {
	i := lowest(list)
	if i == 0 || i == len(list)-1 {
		return 0, 0, false
	}
	a, b, c := list[i-1], list[i], list[i+1]
	l, r := b.z-a.z, c.z-b.z
	if l <= 0 || r <= 0 || math.IsInf(a.loss, 1) || math.IsInf(c.loss, 1) {
		return 0, 0, false
	}
	u, v := (a.loss-b.loss)/l, (c.loss-b.loss)/r
	if u+v <= 0 {
		return 0, 0, false
	}
	slope := u*r - v*l
	promised = slope * slope / (u + v) / (l + r) / 4
	return b.z + slope/(u+v)/2, promised, promised > worthRound/10
}
