package rank_test

import (
	"ruledout/internal/testkit"
	"ruledout/kb"
	"ruledout/kb/rank"
	"testing"
"fmt"
)

func TestTmp(t *testing.T) {
	for _, mention := range []bool{true, false} {
		for _, n := range []int{400, 100} {
			w := testkit.NewWorkshop(testkit.WorkshopConfig{Seed: 12, Codes: 8, Sizes: [][2]int{{n, n}}, MentionByCause: mention, SharedRates: 0.5, WrongCredit: 0.03})
			cases := w.Cases()
			for name, tell := range map[string]testkit.Evidence{"sym": {Symptoms: true}, "tests": {Tests: true}, "all": testkit.Everything()} {
				qs := w.Questions(1500, tell, 5)
				for pn, p := range variants() {
					m := modelOf(p, cases...)
					r := testkit.Evaluate(func(q kb.Case) kb.Answer { return m.Ask(q, rank.Options{NoNext: true}) }, qs)
					t.Logf("mention %v n %d %-6s %-12s diff %.3f top %.3f cover %.3f (%.3f %.3f)", mention, n, name, pn, r.LogLoss-r.BayesLogLoss, r.Top1/r.BayesTop1, r.Coverage, r.Below, r.Above)
				}
			}
		}
	}
}

func variants() map[string]rank.Params {
	d := rank.DefaultParams()
	d.Mention, d.Unsaid, d.Lambda = 1, 1, 1
	d.K[rank.LevelMake], d.K[rank.LevelModel], d.K[rank.LevelYears] = 40, 80, 200
	out := map[string]rank.Params{"base": d}
	nom := d; nom.Mention, nom.Unsaid = 0, 0
	out["nomention"] = nom
	for _, e := range []float64{1, 10, 30, 1000} { p := d; p.MentionK.Elsewhere, p.ValueK.Elsewhere = e, e; out[fmt.Sprint("else", e)] = p }
	for _, e := range []float64{3, 10, 30} { p := d; p.MentionK.Here, p.ValueK.Here = e, e; out[fmt.Sprint("here", e)] = p 
	 p.MentionK.Elsewhere, p.ValueK.Elsewhere = 30, 30; out[fmt.Sprint("else30here", e)] = p }
	p := d; p.Overlap = 0; out["nooverlap"] = p
	p = d; p.FoundW = 40; out["found40"] = p
	return out
}
