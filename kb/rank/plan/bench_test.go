package plan_test

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"ruledout/internal/testkit"
	"ruledout/kb/rank/plan"
)

// BenchmarkSolve measures a plan beside judging one sequence of all actions, which is the least any plan must do.
func BenchmarkSolve(b *testing.B) {
	r := rand.New(rand.NewPCG(1, 2))
	for _, x := range []struct {
		name string
		g    generator
		opt  plan.Options
	}{
		{"exact, 6 causes, 4 tests", generator{Rand: r, causes: 6, tests: 4, overlap: 0.2}, plan.Options{}},
		{"look-ahead, 10 causes, 6 tests", generator{Rand: r, causes: 10, tests: 6, overlap: 0.2}, plan.Options{NoExact: true}},
		{"both, 24 causes, 8 tests", generator{Rand: r, causes: 24, tests: 8, overlap: 0.2}, plan.Options{}},
	} {
		p := x.g.problem()
		var order []int
		for a := range p.Actions {
			order = append(order, a)
		}
		bare := testkit.Seconds(func() { _, _ = p.ECR(order) })
		b.Run(x.name, func(b *testing.B) {
			for b.Loop() {
				_, err := plan.Solve(p, x.opt)
				require.NoError(b, err)
			}
			b.ReportMetric(b.Elapsed().Seconds()/float64(b.N)/bare, "x/one-sequence")
		})
	}
}
