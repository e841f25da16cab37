package testkit

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"

	"ruledout/kb"
)

// Measured is how a ranker did on the questions of a simulated workshop. Log losses are in nats, shares in [0, 1].
type Measured struct {
	N                     int
	LogLoss, BayesLogLoss float64
	LossSE                float64 // standard error of the difference of the two, by code
	Top1, BayesTop1       float64
	Intervals             int     // fixes with a true posterior of 0.02 or more among the ranker's top three
	Coverage              float64 // share of them whose interval holds the true posterior
	Below, Above          float64 // share of them whose true posterior is below or above the interval
	Unlisted              []Stratum
	ECE, ECE95            float64 // of the top answer; and its 95th percentile when outcomes are redrawn from what is stated
}

// Stratum compares the stated probability of an unlisted culprit with the share of questions whose culprit is not listed, over the
// codes with Low to High closed cases.
type Stratum struct {
	Low, High      int
	N, Codes       int
	Stated, Actual float64
	SE             float64 // standard error of the difference, questions of one code taken together
}

// Strata are the bounds of the number of closed cases of a code.
func Strata() [][2]int { return [][2]int{{1, 3}, {4, 10}, {11, 50}, {51, math.MaxInt}} }

// leastTrue is the true posterior from which on an interval is measured.
const leastTrue = 0.02

// one is what is measured at one question.
type one struct {
	loss, bayes     float64
	right, best     bool
	top, unlisted   float64
	listed          bool
	in, below, over int
}

// Evaluate asks every question and compares the answers with the truth.
func Evaluate(ask func(kb.Case) kb.Answer, questions []WorkshopQuestion) Measured {
	list := make([]one, len(questions))
	out := Measured{N: len(questions)}
	n := float64(len(questions))
	below, over := 0, 0
	difference := make([]float64, len(questions))
	for i, q := range questions {
		x := compare(ask(q.Case), q)
		list[i] = x
		out.LogLoss += x.loss / n
		out.BayesLogLoss += x.bayes / n
		difference[i] = x.loss - x.bayes
		out.Top1 += truth(x.right) / n
		out.BayesTop1 += truth(x.best) / n
		out.Intervals += x.in + x.below + x.over
		below, over = below+x.below, over+x.over
	}
	_, out.LossSE = byCode(questions, difference)
	if out.Intervals > 0 {
		all := float64(out.Intervals)
		out.Below, out.Above = float64(below)/all, float64(over)/all
		out.Coverage = 1 - out.Below - out.Above
	}
	for _, s := range Strata() {
		if stratum := stratumOf(s, questions, list); stratum.N > 0 {
			out.Unlisted = append(out.Unlisted, stratum)
		}
	}
	out.ECE, out.ECE95 = calibration(list)
	return out
}

func truth(b bool) float64 {
	if b {
		return 1
	}
	return 0
}

func compare(a kb.Answer, q WorkshopQuestion) one {
	x := one{bayes: -math.Log(q.Posterior[q.Culprit]), unlisted: a.Unlisted.Probability}
	p := a.Unlisted.Probability
	for i, f := range a.Fixes {
		if f.Component == q.Culprit {
			p, x.listed = f.Probability, true
		}
		if real := q.Posterior[f.Component]; i < 3 && real >= leastTrue {
			switch {
			case real < f.Low:
				x.below++
			case real > f.High:
				x.over++
			default:
				x.in++
			}
		}
	}
	x.loss = -math.Log(math.Max(p, 1e-15))
	if len(a.Fixes) > 0 {
		x.right, x.top = a.Fixes[0].Component == q.Culprit, a.Fixes[0].Probability
	}
	x.best = likeliest(q.Posterior) == q.Culprit
	return x
}

func likeliest(p map[string]float64) string {
	best := ""
	for f, x := range p {
		if best == "" || x > p[best] || x == p[best] && f < best {
			best = f
		}
	}
	return best
}

// byCode gives the mean, and its standard error when the values of one code are not independent.
func byCode(questions []WorkshopQuestion, values []float64) (mean, se float64) {
	for _, v := range values {
		mean += v / float64(len(values))
	}
	at := map[string]int{}
	var sums []float64
	for i, v := range values {
		j, ok := at[questions[i].Code]
		if !ok {
			j = len(sums)
			at[questions[i].Code], sums = j, append(sums, 0)
		}
		sums[j] += v - mean
	}
	for _, s := range sums {
		se += s * s
	}
	return mean, math.Sqrt(se) / float64(len(values))
}

func stratumOf(bounds [2]int, questions []WorkshopQuestion, list []one) Stratum {
	out := Stratum{Low: bounds[0], High: bounds[1]}
	codes := map[string]bool{}
	var difference []float64
	var asked []WorkshopQuestion
	for i, q := range questions {
		if q.Cases < bounds[0] || q.Cases > bounds[1] {
			continue
		}
		codes[q.Code] = true
		asked = append(asked, q)
		out.Stated += list[i].unlisted
		out.Actual += truth(!list[i].listed)
		difference = append(difference, list[i].unlisted-truth(!list[i].listed))
	}
	out.N, out.Codes = len(asked), len(codes)
	if out.N == 0 {
		return out
	}
	out.Stated, out.Actual = out.Stated/float64(out.N), out.Actual/float64(out.N)
	_, out.SE = byCode(asked, difference)
	return out
}

// calibration gives the expected calibration error of the top answer over ten bins of equal width, and the 95th percentile of the same
// when a perfectly calibrated forecaster states these probabilities (consistency resampling; Broecker and Smith 2007).
func calibration(list []one) (ece, limit float64) {
	const redraws = 500
	p, right := make([]float64, len(list)), make([]bool, len(list))
	for i, x := range list {
		p[i], right[i] = x.top, x.right
	}
	rnd := rand.New(rand.NewPCG(7, 7))
	drawn := make([]float64, redraws)
	again := make([]bool, len(list))
	for k := range drawn {
		for i := range again {
			again[i] = rnd.Float64() < p[i]
		}
		drawn[k] = CalibrationError(p, again)
	}
	slices.Sort(drawn)
	return CalibrationError(p, right), drawn[redraws*95/100]
}

// CalibrationError gives the expected calibration error over ten bins of equal width: the mean over the forecasts of the distance
// between the mean forecast and the share that came true in the forecast's bin.
func CalibrationError(p []float64, cameTrue []bool) float64 {
	var off [10]float64
	for i, x := range p {
		off[min(int(x*10), 9)] += x - truth(cameTrue[i])
	}
	sum := 0.0
	for _, x := range off {
		sum += math.Abs(x)
	}
	return sum / float64(len(p))
}

// String prints the figures.
func (m Measured) String() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%d questions: log loss %.3f, Bayes %.3f, difference %.3f (se %.3f); ", m.N, m.LogLoss, m.BayesLogLoss, m.LogLoss-m.BayesLogLoss, m.LossSE)
	fmt.Fprintf(&b, "top-1 %.3f, Bayes %.3f, ratio %.3f; ", m.Top1, m.BayesTop1, m.Top1/m.BayesTop1)
	fmt.Fprintf(&b, "coverage %.3f of %d (below %.3f, above %.3f); ", m.Coverage, m.Intervals, m.Below, m.Above)
	fmt.Fprintf(&b, "ECE %.4f (95 %%: %.4f)", m.ECE, m.ECE95)
	for _, s := range m.Unlisted {
		high := fmt.Sprint(s.High)
		if s.High == math.MaxInt {
			high = "more"
		}
		fmt.Fprintf(&b, "\n  unlisted, codes with %d to %s cases: stated %.4f, actual %.4f (se %.4f, %d questions, %d codes)",
			s.Low, high, s.Stated, s.Actual, s.SE, s.N, s.Codes)
	}
	return b.String()
}
