package score_test

import (
	"math/rand/v2"

	"ruledout/kb/rank/score"
)

// drawn gives 400 questions whose first answer is right exactly as often as stated.
func drawn(seed uint64) []score.Outcome {
	random := rand.New(rand.NewPCG(seed, 99))
	out := make([]score.Outcome, 400)
	for i := range out {
		p := random.Float64()
		out[i] = score.Outcome{Listed: 1, Top: p, Right: 1 - p}
		if random.Float64() < p {
			out[i].Place, out[i].Right = 1, p
		}
	}
	return out
}
