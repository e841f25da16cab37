package link

import (
	"bytes"
	"math"
	"slices"
)

// Pattern is a vector with the number of pairs that have it.
type Pattern struct {
	Vector Vector
	N      int
}

// Patterns counts vectors, in an order that does not depend on theirs.
func Patterns(vectors []Vector) []Pattern {
	at := map[string]int{}
	var out []Pattern
	for _, v := range vectors {
		i, known := at[string(v)]
		if !known {
			i = len(out)
			at[string(v)] = i
			out = append(out, Pattern{Vector: v})
		}
		out[i].N++
	}
	slices.SortFunc(out, func(a, b Pattern) int { return bytes.Compare(a.Vector, b.Vector) })
	return out
}

// FitOptions bound a fit and say how much the starting point counts, each in pairs: with as many pairs of its own a book moves half-way.
type FitOptions struct {
	Rounds  int     // at most
	OfOne   float64 // weight of the starting M, in pairs that are one
	OfTwo   float64 // weight of the starting U, in pairs that are two
	OfPrior float64 // weight of the starting prior, in pairs
	Most    float64 // greatest prior; 0: a half
}

// DefaultFit is the way in which books are fitted: what distinguishes telling twice is much the same everywhere, how much
// cases resemble each other is the book's own.
func DefaultFit() FitOptions { return FitOptions{Rounds: 200, OfOne: 5000, OfTwo: 2000, OfPrior: 50} }

// Fitted is what a fit found.
type Fitted struct {
	Model     *Model
	Rounds    int
	Converged bool
	Switched  bool // the classes were about to change places: the starting point was kept
}

// converged is the greatest change of a probability at which a fit ends.
const converged = 1e-7

// Bounds of the prior in a fit, whatever the pairs: more than half of all candidates are never one.
const (
	leastPrior = 1e-5
	mostPrior  = 0.5
)

// Fit estimates a model from the patterns of pairs of which nothing is known (expectation maximisation; Dempster, Laird and Rubin 1977,
// for linkage Winkler 1988), each probability drawn to the starting point (a Dirichlet prior). In each field more agreement never weighs less.
func Fit(start *Model, patterns []Pattern, opt FitOptions) Fitted {
	base := withMissing(start, patterns)
	out := Fitted{Model: base.Clone()}
	for out.Rounds < opt.Rounds && !out.Converged && len(patterns) > 0 {
		next := step(out.Model, base, patterns, opt)
		out.Rounds++
		if switched(base, next, patterns) {
			return Fitted{Model: base, Rounds: out.Rounds, Switched: true}
		}
		out.Converged = change(out.Model, next) < converged
		out.Model = next
	}
	return out
}

// withMissing gives a model the share of pairs in which each field is not told.
func withMissing(m *Model, patterns []Pattern) *Model {
	m = m.Clone()
	total := 0
	missing := make([]int, len(m.Fields))
	for _, p := range patterns {
		total += p.N
		for f, level := range p.Vector {
			if level == 0 {
				missing[f] += p.N
			}
		}
	}
	for f := range m.Fields {
		if total > 0 {
			m.Fields[f].Missing = float64(missing[f]) / float64(total)
		}
	}
	return m
}

// step is one round: the expected counts of each level under the present model, and the model that they make most probable.
func step(now, base *Model, patterns []Pattern, opt FitOptions) *Model {
	one, two := emptyCounts(now), emptyCounts(now)
	total, matches := 0.0, 0.0
	for _, p := range patterns {
		n, share := float64(p.N), now.Probability(p.Vector)
		total += n
		matches += n * share
		for f, level := range p.Vector {
			if level > 0 {
				one[f][level-1] += n * share
				two[f][level-1] += n * (1 - share)
			}
		}
	}
	next := base.Clone()
	prior := (matches + opt.OfPrior*base.Prior) / (total + opt.OfPrior)
	most := mostPrior
	if opt.Most > 0 {
		most = min(opt.Most, mostPrior)
	}
	next.Prior = max(min(prior, most), leastPrior)
	for f := range next.Fields {
		levels := next.Fields[f].Levels
		setM(levels, one[f], opt.OfOne)
		setU(levels, two[f], opt.OfTwo)
		inOrder(levels)
	}
	return next
}

func emptyCounts(m *Model) [][]float64 {
	out := make([][]float64, len(m.Fields))
	for f := range out {
		out[f] = make([]float64, len(m.Fields[f].Levels))
	}
	return out
}

// setM shares what held levels leave among the others.
func setM(levels []Level, counts []float64, strength float64) {
	free, sum := 1.0, 0.0
	for i, l := range levels {
		if l.Held {
			free -= l.M
		} else {
			sum += counts[i] + strength*l.M
		}
	}
	for i, l := range levels {
		if !l.Held && sum > 0 {
			levels[i].M = max(free*(counts[i]+strength*l.M)/sum, tiny)
		}
	}
}

// tiny keeps a weight finite where neither pairs nor starting point know a level.
const tiny = 1e-9

func setU(levels []Level, counts []float64, strength float64) {
	sum := 0.0
	for i, l := range levels {
		sum += counts[i] + strength*l.U
	}
	for i, l := range levels {
		if sum > 0 {
			levels[i].U = max((counts[i]+strength*l.U)/sum, tiny)
		}
	}
}

// inOrder lets the weights of levels that are not held fall from most agreement on: neighbours out of order are given
// their common weight (pool adjacent violators), U staying as it is.
func inOrder(levels []Level) {
	type block struct {
		m, u float64
		n    int
	}
	var blocks []block
	for _, l := range levels {
		if l.Held {
			break // held levels stand last
		}
		blocks = append(blocks, block{l.M, l.U, 1})
		for k := len(blocks) - 1; k > 0 && blocks[k].m*blocks[k-1].u > blocks[k-1].m*blocks[k].u; k-- {
			blocks[k-1] = block{blocks[k-1].m + blocks[k].m, blocks[k-1].u + blocks[k].u, blocks[k-1].n + blocks[k].n}
			blocks = blocks[:k]
		}
	}
	at := 0
	for _, b := range blocks {
		for range b.n {
			if b.n > 1 {
				levels[at].M = levels[at].U * b.m / b.u
			}
			at++
		}
	}
}

// switched tells whether the pairs that a model takes for one weigh less, by the starting point, than those that it takes for two.
func switched(base, next *Model, patterns []Pattern) bool {
	var one, two, ofOne, ofTwo float64
	for _, p := range patterns {
		share, bits := next.Probability(p.Vector), base.Bits(p.Vector)
		one += float64(p.N) * share
		ofOne += float64(p.N) * share * bits
		two += float64(p.N) * (1 - share)
		ofTwo += float64(p.N) * (1 - share) * bits
	}
	return one > 0 && two > 0 && ofOne/one < ofTwo/two
}

func change(a, b *Model) float64 {
	most := math.Abs(a.Prior - b.Prior)
	for f := range a.Fields {
		for i, l := range a.Fields[f].Levels {
			other := b.Fields[f].Levels[i]
			most = max(most, math.Abs(l.M-other.M), math.Abs(l.U-other.U))
		}
	}
	return most
}
