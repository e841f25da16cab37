package rank_test
import ("testing";"math";"ruledout/internal/testkit";"ruledout/kb/rank")
func TestTmp(t *testing.T){
 set := func(n string, f func(p *rank.Params)) { p := rank.DefaultParams(); f(&p)
  for _, name := range []string{"soybean.arff","dermatology.arff","lymph.arff"} {
	d := testkit.ReadARFF(t, name)
	last, fold := d.Class(), d.Folds(10)
	right, loss := 0, 0.0
	for k := range 10 {
		tab := rank.NewTable(noTerms{})
		for i := range d.Rows { if fold[i] != k { tab.Put(d.Case(i, false)) } }
		m := tab.Model(p)
		for i, r := range d.Rows {
			if fold[i] != k { continue }
			a := m.Ask(d.Case(i, true), rank.Options{NoNext: true})
			if a.Fixes[0].Component == r[last] { right++ }
			loss -= math.Log(probability(a, r[last]))
		}
	}
	t.Logf("%-14s %-16s %.2f %.4f", n, name, 100*float64(right)/float64(len(d.Rows)), loss/float64(len(d.Rows)))
 }}
 set("base", func(p *rank.Params) {})
 set("adapt0", func(p *rank.Params) {p.Adapt=0})
 set("adapt1", func(p *rank.Params) {p.Adapt=1})
 set("adapt1.k2", func(p *rank.Params) {p.Adapt=1;p.ValueK.Here=2})
 set("near60", func(p *rank.Params) {p.ValueK.Near=60})
 set("lam.85", func(p *rank.Params) {p.Lambda=.85})
 set("passes0", func(p *rank.Params) {p.Passes=0})
}
