package rank_test

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"ruledout/kb"
	"ruledout/kb/rank"
)

// share is the rate of a thing that happens in a share s of cases, given and not counted.
func share(s float64) rank.Rate { return rank.NewRate(s, 1-s) }

// counted is the rate of yes in yes + no cases without any prior.
func counted(yes, no float64) rank.Rate { return rank.Shrunk(0.5, 0, yes, no) }

// posterior gives probabilities by the kernel, untempered.
func posterior(prior []float64, observed ...[]rank.Rate) []float64 {
	out := rank.LogPosterior(prior, observed, 1)
	for f := range out {
		out[f] = math.Exp(out[f])
	}
	return out
}

// scores gives prior times rates, not normalised: the odds against a culprit of weight 1 that makes everything observed certain.
func scores(prior []float64, observed ...[]rank.Rate) []float64 {
	prior = append(append([]float64{}, prior...), 1)
	for j := range observed {
		observed[j] = append(append([]rank.Rate{}, observed[j]...), rank.NewRate(1, 0))
	}
	p := posterior(prior, observed...)
	last := len(p) - 1
	for f := range p[:last] {
		p[f] /= p[last]
	}
	return p[:last]
}

// Play-tennis, sunny, cool, high, strong, without smoothing: T. Mitchell, Machine Learning, 1997, section 6.9.1 prints 0.0053, 0.0206
// and 0.795.
func TestKernelOnPlayTennis(t *testing.T) {
	prior := []float64{9.0 / 14, 5.0 / 14}
	day := func() [][]rank.Rate {
		return [][]rank.Rate{{counted(2, 7), counted(3, 2)}, {counted(3, 6), counted(1, 4)}, {counted(3, 6), counted(4, 1)}, {counted(3, 6), counted(3, 2)}}
	}
	s := scores(prior, day()...)
	assert.InDelta(t, 0.005291005, s[0], 1e-9)
	assert.InDelta(t, 0.020571429, s[1], 1e-9)
	assert.InDelta(t, 0.795417349, posterior(prior, day()...)[1], 1e-9)
}

// chinaDocs are the documents of Manning, Raghavan and Schuetze, Introduction to Information Retrieval, 2008, table 13.1: in how many of
// the three on China, and whether in the one that is not, each word of Beijing, Chinese, Japan, Macao, Shanghai, Tokyo stands.
var chinaDocs = []struct {
	word          string
	china, not    float64
	inTheQuestion bool
}{{"Beijing", 1, 0, false}, {"Chinese", 3, 1, true}, {"Japan", 0, 1, true}, {"Macao", 1, 0, false}, {"Shanghai", 1, 0, false}, {"Tokyo", 0, 1, true}}

// The Bernoulli model of the same book: scores and probability as scikit-learn's test_bnb has them. The book's multinomial model says
// 0.690 for China on the same document (every occurrence of a word counts): that is not our model and must not be its answer.
func TestKernelOnBernoulliDocuments(t *testing.T) {
	prior := []float64{3.0 / 4, 1.0 / 4}
	wantChina, wantNot := []float64{0.4, 0.8, 0.2, 0.4, 0.4, 0.2}, []float64{1.0 / 3, 2.0 / 3, 2.0 / 3, 1.0 / 3, 1.0 / 3, 2.0 / 3}
	var observed [][]rank.Rate
	for i, w := range chinaDocs {
		china, not := rank.Shrunk(0.5, 2, w.china, 3-w.china), rank.Shrunk(0.5, 2, w.not, 1-w.not)
		assert.InDelta(t, wantChina[i], china.Mean(), 1e-15)
		assert.InDelta(t, wantNot[i], not.Mean(), 1e-15)
		if !w.inTheQuestion {
			china, not = china.Not(), not.Not()
		}
		observed = append(observed, []rank.Rate{china, not})
	}
	p := posterior(prior, observed...)
	assert.InDelta(t, 0.191066789, p[0], 1e-9)
	assert.Greater(t, math.Abs(p[0]-0.689758612), 0.1, "the multinomial answer")
	s := scores(prior, observed...)
	assert.InDelta(t, 0.005184, s[0], 1e-15)
	assert.InDelta(t, 0.02194787379972565, s[1], 1e-15)
}

// A word said three times is said: the count of occurrences, by which the multinomial model says China, does not enter.
func TestSayingItAgainTellsNothing(t *testing.T) {
	var cases []kb.Case
	for i, words := range [][]string{{"Chinese", "Beijing"}, {"Chinese", "Shanghai"}, {"Chinese", "Macao"}, {"Tokyo", "Japan", "Chinese"}} {
		c := closedCase(fmt.Sprint(i), []string{"china", "not china"}[i/3])
		for _, w := range words {
			c.Symptoms = append(c.Symptoms, kb.Symptom{Symptom: w})
		}
		cases = append(cases, c)
	}
	m := modelOf(rank.DefaultParams(), cases...)
	ask := func(words ...string) float64 {
		q := question()
		for _, w := range words {
			q.Symptoms = append(q.Symptoms, kb.Symptom{Symptom: w})
		}
		return probability(m.Ask(q, rank.Options{}), "china")
	}
	once := ask("Chinese", "Tokyo", "Japan")
	assert.Equal(t, once, ask("Chinese", "Chinese", "Chinese", "Tokyo", "Japan"))
	assert.NotEqual(t, once, ask("Tokyo", "Japan"))
}

// The form of the smoothing, (count + 1) / (class + 2): scikit-learn's test_bnb_feature_log_prob, X = [[0,0,0],[1,1,0],[0,1,0],[1,0,1],
// [0,1,0]], y = [0,0,1,2,2], alpha 1.
func TestKernelSmoothing(t *testing.T) {
	class := []float64{2, 1, 2}
	count := [][]float64{{1, 1, 0}, {0, 1, 0}, {1, 1, 1}}
	for f, n := range class {
		for a, yes := range count[f] {
			assert.InDelta(t, math.Log((yes+1)/(n+2)), math.Log(rank.Shrunk(0.5, 2, yes, n-yes).Mean()), 1e-15, "class %d feature %d", f, a)
		}
	}
}

// diagnostic is a test with two results by the trade's four counts.
type diagnostic struct {
	name                       string
	tp, fp, fn, tn             float64
	pre, ppv, npv, plus, minus float64
	digits                     float64 // half a unit of the last printed place, as far as rounding goes
}

// Post-test probabilities and likelihood ratios by the kernel's rates.
func TestKernelOnDiagnosticTests(t *testing.T) {
	for _, d := range []diagnostic{
		// Stool test for bowel cancer, the encyclopedia's worked example: 10 %, 99.45 %, 7.41, 0.366; prevalence 1.48 %.
		{"stool test", 20, 180, 10, 1820, 30.0 / 2030, 0.1, 0.994535519, 7.407407, 0.366300, 5e-7},
		// The same in a tenth of the cases, as another source prints it.
		{"stool test, fewer", 2, 18, 1, 182, 3.0 / 203, 0.1, 0.994535519, 7.407407, 0.366300, 5e-7},
		// Ferritin, worksheet of the Centre for Evidence-Based Medicine, which prints 31 %, 73 %, 95 %, 6 and 0.12; its LR+ 6 is 5.92.
		{"ferritin", 731, 270, 78, 1500, 0.313687476, 0.730269730, 0.950570342, 5.923499519, 0.113770087, 5e-10},
		// scikit-learn's class_likelihood_ratios, docstring: labels 0,1,0,1,0, predictions 1,1,0,0,0.
		{"five labels", 1, 1, 1, 2, 0.4, 0.5, 2.0 / 3, 1.5, 0.75, 1e-12},
	} {
		t.Run(d.name, func(t *testing.T) {
			ill, well := counted(d.tp, d.fn), counted(d.fp, d.tn)
			n := d.tp + d.fp + d.fn + d.tn
			prior := []float64{(d.tp + d.fn) / n, (d.fp + d.tn) / n}
			assert.InDelta(t, d.pre, prior[0], 5e-10)
			assert.InDelta(t, d.ppv, posterior(prior, []rank.Rate{ill, well})[0], 5e-10)
			assert.InDelta(t, d.npv, posterior(prior, []rank.Rate{ill.Not(), well.Not()})[1], 5e-10)
			assert.InDelta(t, d.plus, ill.Mean()/well.Mean(), d.digits)
			assert.InDelta(t, d.minus, ill.Not().Mean()/well.Not().Mean(), d.digits)
			assert.InDelta(t, d.plus, odds(posterior(prior, []rank.Rate{ill, well})[0])/odds(prior[0]), 10*d.digits)
		})
	}
}

func odds(p float64) float64 { return p / (1 - p) }

// prePost are published pre- and post-test probabilities of a test of known sensitivity and specificity.
var prePost = []struct {
	name                  string
	of, hundred           int // pre-test probability: of in a hundred
	sensitivity, specific float64
	positive, negative    float64 // post-test probability of the fault after a failed and after a passed test; 0 where none is printed
}{
	// Therapeutic Guidelines, worked example: sensitivity 90 %, specificity 85 %, prints 11 % and 86 %.
	{"2 % before", 2, 100, 0.90, 0.85, 0.109091, 0},
	{"50 % before", 50, 100, 0.90, 0.85, 0.857143, 0},
	// OpenMarkov tutorial: prevalence 8 %, sensitivity 75 %, specificity 96 %; values computed from these inputs.
	{"8 % before", 8, 100, 0.75, 0.96, 0.619834711, 1 - 0.977856510},
}

func TestKernelOnPostTestProbabilities(t *testing.T) {
	for _, d := range prePost {
		pre := float64(d.of) / float64(d.hundred)
		fails := []rank.Rate{share(d.sensitivity), share(1 - d.specific)}
		assert.InDelta(t, d.positive, posterior([]float64{pre, 1 - pre}, fails)[0], 5e-7, d.name)
		if d.negative > 0 {
			assert.InDelta(t, d.negative, posterior([]float64{pre, 1 - pre}, []rank.Rate{fails[0].Not(), fails[1].Not()})[0], 5e-10, d.name)
		}
	}
}

// heldParams are constants under which a question is plain Bayes with the rates as stated: nothing tempered, nothing learned of tests, no
// weight on wider contexts, no doubt about namings.
func heldParams(found, falseAlarm float64) rank.Params {
	p := rank.DefaultParams()
	for l := range p.K {
		p.K[l] = 1e-12
	}
	p.Lambda, p.Passes, p.FoundW, p.Discount, p.Struct = 1, 0, 1e15, [3]float64{}, 0
	p.Mention, p.Value, p.Unsaid = 1, 1, 1
	p.Found, p.Upstream, p.FalseAlarm = map[string]float64{"": found}, (found+falseAlarm)/2, falseAlarm
	return p
}

// The same through the whole ranker: of a hundred cases so many have the fault, and the question has one test of it.
func TestAQuestionIsDiagnosticArithmetic(t *testing.T) {
	for _, d := range prePost {
		var cases []kb.Case
		for i := range d.hundred {
			part := "fuse"
			if i < d.of {
				part = "relay"
			}
			cases = append(cases, closedCase(fmt.Sprintf("c%03d", i), part))
		}
		p := heldParams(d.sensitivity, 1-d.specific)
		assert.NoError(t, p.Validate())
		m := modelOf(p, cases...)
		after := func(r kb.Result) float64 {
			q := question()
			q.Tests = []kb.Test{{Test: "coil", Component: "relay", Result: r}}
			return probability(m.Ask(q, rank.Options{}), "relay")
		}
		assert.InDelta(t, d.positive, after(kb.Fail), 5e-7, d.name)
		if d.negative > 0 {
			assert.InDelta(t, d.negative, after(kb.Pass), 5e-10, d.name)
		}
	}
}

// A result with several bands, as of a reading: ferritin by Guyatt et al. 1990 as a worksheet of the Centre for Evidence-Based Medicine
// has it, 85 ill and 150 well. It prints likelihood ratios of 8.2, 0.44 and 0.13; from its own counts the second is 0.4575. From 30 and
// 70 % it prints 78 to 95 % in the first band and 5 to 23 % in the third.
func TestKernelOnBands(t *testing.T) {
	for _, band := range []struct {
		name            string
		ill, well       float64
		ratio, from, to float64
	}{
		{"up to 45", 70, 15, 8.235294, 0.7792, 0.9505},
		{"45 to 100", 7, 27, 0.457516, 0, 0},
		{"over 100", 8, 108, 0.130719, 0.0531, 0.2337},
	} {
		result := []rank.Rate{counted(band.ill, 85-band.ill), counted(band.well, 150-band.well)}
		assert.InDelta(t, band.ratio, result[0].Mean()/result[1].Mean(), 5e-7, band.name)
		if band.from > 0 {
			assert.InDelta(t, band.from, posterior([]float64{0.3, 0.7}, result)[0], 5e-5, band.name)
			assert.InDelta(t, band.to, posterior([]float64{0.7, 0.3}, result)[0], 5e-5, band.name)
		}
	}
}

// Rule of succession (Laplace): after 18 of 20 under a uniform prior, 19/22.
func TestShrinkingToAUniformPrior(t *testing.T) {
	assert.InDelta(t, 0.863636, rank.Shrunk(0.5, 2, 18, 2).Mean(), 5e-7)
}

// Shrinkage of rates towards those of other groups: the rat tumours of Gelman et al., Bayesian Data Analysis (3rd ed.), table 5.1. The
// estimates follow from the maximum-likelihood prior of all 71 groups, alpha 2.341614, beta 14.114801 (both computed); for the 71st
// group, 4 of 14, the book prints 0.223 from its moment estimates, which (1.356149, 8.615058) reproduce; its printed roundings of
// these, 1.4 and 8.6, give 0.225.
func TestShrinkingToOtherGroups(t *testing.T) {
	for _, g := range []struct{ alpha, beta, y, n, want, within float64 }{
		{2.341614, 14.114801, 0, 20, 0.06423050, 5e-8},
		{2.341614, 14.114801, 1, 10, 0.12630638, 5e-8},
		{2.341614, 14.114801, 9, 48, 0.17595788, 5e-8},
		{2.341614, 14.114801, 4, 14, 0.20821932, 5e-8},
		{1.356149, 8.615058, 4, 14, 0.223, 5e-4},
		{1.4, 8.6, 4, 14, 0.225, 1e-9},
	} {
		r := rank.Shrunk(g.alpha/(g.alpha+g.beta), g.alpha+g.beta, g.y, g.n-g.y)
		assert.InDelta(t, g.want, r.Mean(), g.within, "%v of %v", g.y, g.n)
	}
}
