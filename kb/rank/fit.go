package rank

import (
	"cmp"
	"hash/fnv"
	"math"
	"slices"

	"ruledout/kb"
)

// FitOptions say how constants are fitted. The zero value gives the usual fit.
type FitOptions struct {
	Folds        int                   // parts of the book of which each is asked once, 5 if 0
	MaxQuestions int                   // most cases asked, 1500 if 0; a bigger book is sampled by the hash of the case's id
	Quick        bool                  // no outer folds: what is reported is measured on the folds that the fit saw
	Progress     func(done, total int) // told of every constant looked at, may be nil
	Stop         func() error          // asked before every constant: an error ends the fit with it; may be nil
}

// Gain is what one constant's fitted value is worth.
type Gain struct {
	Name    string  `json:"name"`
	Default float64 `json:"default"` // value before the fit
	Value   float64 `json:"value"`   // value after it
	Gain    float64 `json:"gain"`    // log loss a question that the value before would add, all others at their fitted values, in nats
	Error   float64 `json:"error"`   // standard error of Gain over the groups
}

// Fitted is the outcome of a fit. Log losses are means over the questions of -ln of the culprit's probability, in nats.
type Fitted struct {
	Params    Params
	Cases     int     // cases that count
	Questions int     // of them asked
	Before    float64 // log loss under the constants before
	After     float64 // log loss under the fitted ones
	Error     float64 // standard error of Before - After over the groups
	Nested    bool    // Before, After and Gains are measured on folds that the fit did not see
	Gains     []Gain  // of every constant that was searched, in the order of Constants
}

// Fit finds the constants under which held-out cases are answered best: it maximises the mean log probability of the culprit over folds
// that never split a group. Each case is asked twice, and the two count alike: at the start (machine, codes, symptoms) and with all that
// was tested and tried before the cure. The second is taken whole, and not up to the first failing test of the culprit: a record that
// ends because of what was found says as much as its evidence does, but one cut short just before the finding never shows a failing
// test of the culprit, and a fit to such records would unlearn what a failing test means.
//
// The culprit is all that the case names together, a component that the rest of the book does not name counting as omega. Each constant
// is drawn to its value in start: ((z - z0)/s)^2/2 over the number of questions is added to the log loss, z being the value on the constant's
// scale and s 1 there (a quarter of the range on a linear scale), and a value that gains less than ln(n)/2 nats over all n questions
// together goes back (Schwarz 1978).
//
// The search is by coordinates, each by a parabola through three points, with the cases' credits held meanwhile. It is deterministic and
// independent of the order of cases. groups gives the group of each case. Unless opt.Quick, the whole is done once for each of Folds
// outer folds without that fold, and what is reported is measured there; the constants are those fitted to all, or those of start where
// the outer folds show no gain.
func Fit(cases []kb.Case, groups []int, t Terms, start Params, opt FitOptions) (Fitted, error) {
	if err := start.Validate(); err != nil {
		return Fitted{}, err
	}
	opt.Folds = cmp.Or(opt.Folds, 5)
	opt.MaxQuestions = cmp.Or(opt.MaxQuestions, 1500)
	b, err := newBooklet(cases, groups, &remembered{Terms: t}, opt)
	if err != nil {
		return Fitted{}, err
	}
	if b.folds < 2 || !opt.Quick && b.folds < 3 {
		return Fitted{}, kb.Errorf(kb.Conflict, "to fit constants takes closed cases of three independent sources or more")
	}
	return b.fit(start, opt)
}

// fit does the fit to all, and the nested ones that measure it.
func (b *booklet) fit(start Params, opt FitOptions) (Fitted, error) {
	tick := ticker(opt, b.folds)
	all := func(int) bool { return true }
	whole := b.problem(all, b.enough(-1, opt.MaxQuestions), opt.MaxQuestions)
	p, err := whole.search(start, tick)
	if err != nil {
		return Fitted{}, err
	}
	out := Fitted{Params: p, Cases: len(b.rows), Nested: !opt.Quick}
	measured := []*measure{}
	if opt.Quick {
		measured = append(measured, whole.measure(start, out.Params))
	}
	for k := 0; k < b.folds && !opt.Quick; k++ {
		most := max(1, min(opt.MaxQuestions, len(b.rows))/nestedShare)
		p, err := b.problem(func(f int) bool { return f != k }, b.enough(k, most), most).search(start, tick)
		if err != nil {
			return Fitted{}, err
		}
		measured = append(measured, b.problem(all, []int{k}, max(1, opt.MaxQuestions/b.folds)).measure(start, p))
	}
	out.report(start, measured)
	if out.Nested && out.After >= out.Before {
		out.stay(start)
	}
	if opt.Progress != nil {
		opt.Progress(1, 1)
	}
	return out, nil
}

// stay keeps the constants of the start: on cases that the fit did not see it gained nothing.
func (out *Fitted) stay(start Params) {
	out.Params, out.After, out.Error = start, out.Before, 0
	for i, g := range out.Gains {
		out.Gains[i] = Gain{Name: g.Name, Default: g.Default, Value: g.Default}
	}
}

// nestedShare is the part of the questions that each nested fit is asked: there are as many fits as folds, so that together they cost
// one and two thirds the fit to all.
const nestedShare = 3

// ticker tells of the constants looked at, and whether to go on.
func ticker(opt FitOptions, folds int) func() error {
	total := len(searched()) * (rounds + 1)
	if !opt.Quick {
		total *= folds + 1
	}
	done := 0
	return func() error {
		done++
		if opt.Progress != nil {
			opt.Progress(done, total)
		}
		if opt.Stop != nil {
			return opt.Stop()
		}
		return nil
	}
}

// searched lists the constants that are searched.
func searched() []Constant {
	return slices.DeleteFunc(Constants(), func(c Constant) bool { return c.Scale == Whole })
}

// measure holds, for every question of a problem, the log loss before and after, and what each constant's value before would add.
type measure struct {
	groups        []int
	before, after []float64
	added         [][]float64 // by constant searched
}

// report sums up what was measured.
func (out *Fitted) report(start Params, list []*measure) {
	var before, after spreadOf
	for _, m := range list {
		out.Questions += len(m.groups)
		for i, g := range m.groups {
			before.add(g, m.before[i])
			after.add(g, m.before[i]-m.after[i])
		}
	}
	gain, e := after.mean()
	out.Before, _ = before.mean()
	out.After, out.Error = out.Before-gain, e
	for j, c := range searched() {
		var s spreadOf
		for _, m := range list {
			for i, g := range m.groups {
				s.add(g, m.added[j][i])
			}
		}
		x := Gain{Name: c.Name, Default: c.Get(start), Value: c.Get(out.Params)}
		x.Gain, x.Error = s.mean()
		out.Gains = append(out.Gains, x)
	}
}

// spreadOf sums a value over questions and, within groups, its differences.
type spreadOf struct {
	n     float64
	sum   float64
	group map[int][2]float64 // sum and number
	order []int
}

func (s *spreadOf) add(group int, x float64) {
	if s.group == nil {
		s.group = map[int][2]float64{}
	}
	old, known := s.group[group]
	if !known {
		s.order = append(s.order, group)
	}
	s.group[group] = [2]float64{old[0] + x, old[1] + 1}
	s.n++
	s.sum += x
}

// mean gives the mean and its standard error, the groups being what is independent.
func (s *spreadOf) mean() (mean, err float64) {
	if s.n == 0 {
		return 0, 0
	}
	mean = s.sum / s.n
	for _, g := range s.order {
		d := s.group[g][0] - s.group[g][1]*mean
		err += d * d
	}
	return mean, math.Sqrt(err) / s.n
}

// hashOf orders ids in a way that has nothing to do with what they stand for.
func hashOf(id kb.CaseID) uint64 {
	h := fnv.New64a()
	h.Write([]byte(id))
	x := h.Sum64()
	x ^= x >> 33 // the finaliser of MurmurHash3 (public domain): FNV alone leaves ids that differ at the end close together
	x *= 0xff51afd7ed558ccd
	x ^= x >> 33
	x *= 0xc4ceb9fe1a85ec53
	return x ^ x>>33
}
