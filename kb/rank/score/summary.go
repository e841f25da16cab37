package score

// Settings of the figures that are shown.
const (
	Bins    = 10   // of the table of stated against observed
	Redraws = 1000 // of its error by chance
	Level   = 0.95 // of the intervals of shares
	seed    = 1
)

// Outcome is one question with what was stated and what was so.
type Outcome struct {
	Place  int     // of the first right answer, from 1; 0: not among those listed
	Listed int     // answers listed, >= 0
	Top    float64 // probability stated for the first of them, in [0, 1]
	Right  float64 // probability stated for what was so, in [0, 1]
	Brier  float64 // over all answers, the remainder as one of them, in [0, 2]
}

// Share is a count of questions with its interval at Level (Wilson).
type Share struct {
	Count int     `json:"count"`
	Share float64 `json:"share"`
	Interval
}

// Summary is how good the answers to some questions were. Means are over the questions; all figures are 0 without any.
type Summary struct {
	N       int         `json:"n"`
	Top1    Share       `json:"top1"`
	Top3    Share       `json:"top3"`
	MRR     float64     `json:"mrr"`      // mean reciprocal rank
	Listed  Share       `json:"listed"`   // questions whose right answer was listed at all
	LogLoss float64     `json:"log_loss"` // nats
	Brier   float64     `json:"brier"`    // over all answers, the remainder as one of them
	First   FirstAnswer `json:"first"`
}

// FirstAnswer is how far the probability of the first answer can be trusted. Questions without any answer are left out.
type FirstAnswer struct {
	N     int     `json:"n"`
	Brier float64 `json:"brier"` // two-valued: the first answer was right or not
	Decomposition
	Calibration
	ByChance Spread `json:"ece_by_chance"` // the error that a perfectly calibrated forecaster would show with these probabilities
}

// Calibrated tells whether the error is no more than chance: at most the 95th percentile of what perfect calibration would show.
func (f FirstAnswer) Calibrated() bool { return f.ECE <= f.ByChance.High }

// Summarize gives the figures of many questions.
func Summarize(list []Outcome) Summary {
	s := Summary{N: len(list), First: firstAnswer(list)}
	if s.N == 0 {
		return s
	}
	places, right, brier := make([]int, s.N), make([]float64, s.N), make([]float64, s.N)
	for i, o := range list {
		places[i], right[i], brier[i] = o.Place, o.Right, o.Brier
	}
	s.Top1, s.Top3, s.Listed = shareOf(TopK(places, 1), s.N), shareOf(TopK(places, 3), s.N), shareOf(s.N-count(places, 0), s.N)
	s.MRR, s.LogLoss, s.Brier = ReciprocalRank(places), LogLoss(right), mean(brier)
	return s
}

func shareOf(x, n int) Share {
	return Share{Count: x, Share: float64(x) / float64(n), Interval: Wilson(x, n, Level)}
}

func count(places []int, which int) int {
	n := 0
	for _, at := range places {
		if at == which {
			n++
		}
	}
	return n
}

func firstAnswer(list []Outcome) FirstAnswer {
	var events []Event
	var stated []float64
	for _, o := range list {
		if o.Listed > 0 {
			events, stated = append(events, Event{P: o.Top, So: o.Place == 1}), append(stated, o.Top)
		}
	}
	f := FirstAnswer{N: len(events), Calibration: Calibrate(events, Bins)}
	if f.N == 0 {
		return f
	}
	f.Brier, f.Decomposition = BrierBinary(events), Decompose(events)
	f.ByChance = PerfectECE(stated, Bins, Redraw{Times: Redraws, Seed: seed})
	return f
}
