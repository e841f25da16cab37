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

// likeness is what a workshop is like: how far makes and models tilt the causes, and how far causes differ in their symptoms.
type likeness struct {
	name                            string
	makes, models, present, mention float64
}

// likenesses: A, where causes differ in which symptoms are mentioned, and B, where they do not; at full size also with makes and symptoms
// that tell much, where causes differ more and are harder to learn.
func likenesses() []likeness {
	return []likeness{{"A", 0.2, 0.1, 0.4, 0.2}, {"B", 0.2, 0.1, 0.4, 0}, {"A strong", 0.4, 0.3, 1.5, 0.8}, {"B strong", 0.4, 0.3, 1.5, 0}}
}

func (l likeness) workshop(cases int) testkit.WorkshopConfig {
	return testkit.WorkshopConfig{Seed: 11, Codes: sized(6, 20), Sizes: [][2]int{{cases, cases}}, MakeTilt: l.makes, ModelTilt: l.models,
		Present: l.present, Mentioned: l.mention, MentionLevel: -0.5, SharedRates: 0.5, WrongCredit: 0.03}
}

// Own derivation: the truth is known, so the best possible answer is too.
func TestSimulatedWorkshops(t *testing.T) {
	for _, l := range likenesses()[:sized(2, 4)] {
		for _, cases := range []int{400, 200, 100} {
			t.Run(fmt.Sprintf("%s, %d cases", l.name, cases), func(t *testing.T) {
				t.Log(simulated(l.workshop(cases), sized(2000, 20000), rank.DefaultParams()))
			})
		}
	}
}

// Codes of every size, asked alike.
func TestSimulatedUnlisted(t *testing.T) {
	for _, l := range likenesses()[:2] {
		cfg := l.workshop(0)
		cfg.Codes = sized(80, 400)
		cfg.Sizes = [][2]int{{1, 3}, {4, 10}, {1, 3}, {11, 50}, {1, 3}, {4, 10}, {1, 3}, {60, 150}}
		t.Log(l.name, simulated(cfg, sized(2000, 20000), rank.DefaultParams()))
	}
}
