package testkit

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"ruledout/kb"
)

// WorkshopConfig says what a simulated workshop is like. All of it is judgement, made so that the truth is known: no source.
type WorkshopConfig struct {
	Seed         uint64   // equal seeds give equal workshops
	Codes        int      // number of codes, >= 1
	Sizes        [][2]int // least and most closed cases of a code; the codes take them in turn
	MakeTilt     float64  // spread of the logarithm of a cause's share between makes, >= 0
	ModelTilt    float64  // the same between the models of a make
	Present      float64  // spread between causes of the logit of a symptom's being there, >= 0
	Mentioned    float64  // spread between causes of the logit of its being mentioned, >= 0; with 0 a mention tells nothing
	MentionLevel float64  // logit of the usual rate at which a symptom is mentioned
	SharedRates  float64  // part of a cause's effect on a symptom that is the same under all codes, in [0, 1]
	Drift        float64  // spread of the logarithm of the shares over ten years, >= 0
	WrongCredit  float64  // part of the closed cases that name a wrong culprit, in [0, 1]
}

// Figures of a simulated workshop.
const (
	poolSize   = 300 // components that the codes share
	symptomSet = 40  // symptoms that the codes share
	bystanders = 3   // components of a code that are suspected and never at fault
	firstYear  = 2008
	years      = 15
)

// Workshop is a simulated workshop with known truth.
type Workshop struct {
	cfg    WorkshopConfig
	makes  [][]string // names of the models of each make
	codes  []*simCode
	parts  []simPart
	level  [2][]float64          // of each symptom: logit of its being there, and of its being mentioned
	common [2]map[[2]int]float64 // effect of a component on a symptom under any code
}

// simPart is a component with what can be done to it.
type simPart struct {
	name   string
	checks []simCheck
	action kb.Action
	fails  float64 // probability that the right repair of it does not cure
}

// simCheck is a test of a component by a method.
type simCheck struct {
	method                   string
	sensitivity, specificity float64
}

// simCode is a code with the truth behind it.
type simCode struct {
	name     string
	size     int         // closed cases
	suspects []int       // components: the causes, then the bystanders
	share    []float64   // of the causes over all machines
	tilt     [][]float64 // logarithms: of each make its own, then those of its models (Workshop.prior)
	drift    []float64   // of the logarithm in ten years
	symptoms []simSymptom
}

// simSymptom is a symptom under a code with its rates by cause.
type simSymptom struct {
	name               string
	present, mentioned []float64
}

// NewWorkshop draws a workshop.
func NewWorkshop(cfg WorkshopConfig) *Workshop {
	rnd := rand.New(rand.NewPCG(cfg.Seed, 1))
	w := &Workshop{cfg: cfg}
	for i := range 3 + rnd.IntN(4) {
		var models []string
		for j := range 2 + rnd.IntN(3) {
			models = append(models, fmt.Sprintf("model %d.%d", i+1, j+1))
		}
		w.makes = append(w.makes, models)
	}
	w.drawParts(rnd)
	middle := [2]float64{0, w.cfg.MentionLevel}
	for k := range w.level {
		w.common[k] = map[[2]int]float64{}
		for range symptomSet {
			w.level[k] = append(w.level[k], middle[k]+0.8*rnd.NormFloat64())
		}
	}
	for i := range cfg.Codes {
		w.codes = append(w.codes, w.drawCode(rnd, i))
	}
	return w
}

// drawParts draws the components: each has one to three methods of test whose rates lie around those of the method.
func (w *Workshop) drawParts(rnd *rand.Rand) {
	methods := []string{"look", "resistance", "voltage", "drive", "leak down", "scope"}
	sens, spec := make([]float64, len(methods)), make([]float64, len(methods))
	for i := range methods {
		sens[i], spec[i] = 0.75+0.2*rnd.Float64(), 0.88+0.1*rnd.Float64()
	}
	actions := []kb.Action{kb.Replace, kb.Replace, kb.Replace, kb.Repair, kb.Repair, kb.Clean, kb.Adjust}
	fails := map[kb.Action]float64{kb.Replace: 0.03, kb.Repair: 0.08, kb.Clean: 0.2, kb.Adjust: 0.15}
	for i := range poolSize {
		p := simPart{name: fmt.Sprintf("part %03d", i+1), action: actions[rnd.IntN(len(actions))]}
		p.fails = fails[p.action]
		for _, m := range rnd.Perm(len(methods))[:1+rnd.IntN(3)] {
			p.checks = append(p.checks, simCheck{method: methods[m], sensitivity: within(sens[m]+0.05*rnd.NormFloat64(), 0.7, 0.98),
				specificity: within(spec[m]+0.03*rnd.NormFloat64(), 0.85, 0.99)})
		}
		w.parts = append(w.parts, p)
	}
}

func within(x, low, high float64) float64 { return math.Min(high, math.Max(low, x)) }

// drawCode draws a code: 4 to 15 causes with long-tailed shares, 6 to 12 symptoms.
func (w *Workshop) drawCode(rnd *rand.Rand, i int) *simCode {
	c := &simCode{name: fmt.Sprintf("P0%03d", 100+(37*i)%900)}
	if i >= 900 {
		c.name = fmt.Sprintf("P2%03d", 100+(37*i)%900)
	}
	size := w.cfg.Sizes[i%len(w.cfg.Sizes)]
	c.size = size[0] + rnd.IntN(size[1]-size[0]+1)
	causes := 4 + rnd.IntN(12)
	c.suspects = w.drawSuspects(rnd, causes+bystanders)
	c.share = drawShares(rnd, causes)
	for _, models := range w.makes {
		for m := range len(models) + 1 { // the make's own tilt, then one for each of its models
			spread := w.cfg.ModelTilt
			if m == 0 {
				spread = w.cfg.MakeTilt
			}
			c.tilt = append(c.tilt, normals(rnd, causes, spread))
		}
	}
	c.drift = normals(rnd, causes, w.cfg.Drift)
	for _, s := range rnd.Perm(symptomSet)[:6+rnd.IntN(7)] {
		c.symptoms = append(c.symptoms, w.drawSymptom(rnd, c, s))
	}
	return c
}

// drawSuspects draws components without repetition; some turn up under many codes.
func (w *Workshop) drawSuspects(rnd *rand.Rand, n int) []int {
	var out []int
	for len(out) < n {
		f := int(poolSize * math.Pow(rnd.Float64(), 1.5))
		if !slices.Contains(out, f) {
			out = append(out, f)
		}
	}
	return out
}

// drawShares draws shares either from a Dirichlet distribution or by the rule of Zipf.
func drawShares(rnd *rand.Rand, n int) []float64 {
	out := make([]float64, n)
	alpha, power, dirichlet := 0.3+0.5*rnd.Float64(), 1+0.8*rnd.Float64(), rnd.IntN(2) == 0
	g := distuv.Gamma{Alpha: alpha, Beta: 1, Src: rnd}
	for i := range out {
		if dirichlet {
			out[i] = math.Max(g.Rand(), 1e-4)
		} else {
			out[i] = math.Pow(float64(i+1), -power)
		}
	}
	return normalised(out)
}

func normalised(p []float64) []float64 {
	sum := 0.0
	for _, x := range p {
		sum += x
	}
	for i := range p {
		p[i] /= sum
	}
	return p
}

func normals(rnd *rand.Rand, n int, spread float64) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = spread * rnd.NormFloat64()
	}
	return out
}

// drawSymptom draws the rates of a symptom under each cause of a code.
func (w *Workshop) drawSymptom(rnd *rand.Rand, c *simCode, s int) simSymptom {
	out := simSymptom{name: fmt.Sprintf("symptom %02d", s+1)}
	rates, spread := [2][]float64{}, [2]float64{w.cfg.Present, w.cfg.Mentioned}
	for k := range rates {
		level := w.level[k][s] + 0.4*rnd.NormFloat64()
		for _, f := range c.suspects[:len(c.share)] {
			own := rnd.NormFloat64()
			common, ok := w.common[k][[2]int{s, f}]
			if !ok {
				common = rnd.NormFloat64()
				w.common[k][[2]int{s, f}] = common
			}
			by := spread[k] * (math.Sqrt(w.cfg.SharedRates)*common + math.Sqrt(1-w.cfg.SharedRates)*own)
			rates[k] = append(rates[k], within(1/(1+math.Exp(-level-by)), 0.02, 0.98))
		}
	}
	out.present, out.mentioned = rates[0], rates[1]
	return out
}

// simMachine is a machine by make, model and year.
type simMachine struct{ maker, model, year int }

func (w *Workshop) drawMachine(rnd *rand.Rand) simMachine {
	maker := rnd.IntN(len(w.makes))
	return simMachine{maker, rnd.IntN(len(w.makes[maker])), firstYear + rnd.IntN(years)}
}

func (w *Workshop) machine(m simMachine) kb.Machine {
	return kb.Machine{Kind: "van", Make: fmt.Sprintf("make %d", m.maker+1), Model: w.makes[m.maker][m.model], Year: m.year}
}

// prior gives the shares of a code's causes on a machine.
func (w *Workshop) prior(c *simCode, m simMachine) []float64 {
	at := 0
	for _, models := range w.makes[:m.maker] {
		at += len(models) + 1
	}
	out := slices.Clone(c.share)
	when := float64(m.year-firstYear-years/2) / 10
	for f := range out {
		out[f] *= math.Exp(c.tilt[at][f] + c.tilt[at+1+m.model][f] + c.drift[f]*when)
	}
	return normalised(out)
}

// draw gives the place of one of several weights, taken at random in proportion.
func draw(rnd *rand.Rand, weights []float64) int {
	sum := 0.0
	for _, x := range weights {
		sum += x
	}
	at := sum * rnd.Float64()
	for i, x := range weights {
		if at -= x; at < 0 {
			return i
		}
	}
	return len(weights) - 1
}
