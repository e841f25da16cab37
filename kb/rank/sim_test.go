package rank_test

import (
	"fmt"
	"os"
	"testing"

	"ruledout/internal/testkit"
	"ruledout/kb"
	"ruledout/kb/rank"
)

// full tells whether the measurements are made at the size that the figures are stated for.
func full() bool { return os.Getenv("RULEDOUT_FULL") != "" }

// sized gives the one or the other size.
func sized(small, large int) int {
	if full() {
		return large
	}
	return small
}

// simulated asks a ranker the questions of a simulated workshop.
func simulated(cfg testkit.WorkshopConfig, n int, p rank.Params) testkit.Measured {
	w := testkit.NewWorkshop(cfg)
	m := modelOf(p, w.Cases()...)
	ask := func(q kb.Case) kb.Answer { return m.Ask(q, rank.Options{NoNext: true}) }
	return testkit.Evaluate(ask, w.Questions(n, testkit.Everything(), 0))
}

func workshop(cases int, mentioned float64) testkit.WorkshopConfig {
	return testkit.WorkshopConfig{Seed: 11, Codes: sized(6, 20), Sizes: [][2]int{{cases, cases}}, Mentioned: mentioned,
		MakeTilt: 0.3, ModelTilt: 0.2, Present: 1, SharedRates: 0.5, WrongCredit: 0.03}
}

// Own derivation: the truth is known, so the best possible answer is too.
func TestSimulatedWorkshops(t *testing.T) {
	for _, cases := range []int{400, 200, 100} {
		for _, mentioned := range []float64{0.7, 0} {
			t.Run(fmt.Sprintf("%d cases, spread of mention %v", cases, mentioned), func(t *testing.T) {
				t.Log(simulated(workshop(cases, mentioned), sized(2000, 20000), rank.DefaultParams()))
			})
		}
	}
}

// Codes of every size, asked alike.
func TestSimulatedUnlisted(t *testing.T) {
	cfg := workshop(0, 0.7)
	cfg.Codes = sized(80, 400)
	cfg.Sizes = [][2]int{{1, 3}, {4, 10}, {1, 3}, {11, 50}, {1, 3}, {4, 10}, {1, 3}, {60, 150}}
	t.Log(simulated(cfg, sized(2000, 20000), rank.DefaultParams()))
}
