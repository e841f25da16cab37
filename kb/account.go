package kb

// Account is the whole reckoning of one possible culprit, so that a person can check it with a pocket calculator: the prior level by level,
// then each observation with its rate, the average of all others, the factor and the odds after it.
type Account struct {
	Component   string            `json:"component"`
	Prior       []AccountLevel    `json:"prior"` // p(f | m), widest level first; empty if no case names the culprit
	PriorP      float64           `json:"prior_probability"`
	PriorOdds   float64           `json:"prior_odds"`
	Evidence    []AccountEvidence `json:"evidence"`
	Odds        float64           `json:"odds"` // the prior odds times all factors
	Probability float64           `json:"probability"`
}

// AccountLevel is one step of a prior: p = (n - d + (k + D) above) / (N + k).
type AccountLevel struct {
	Level    string  `json:"level"`
	Count    float64 `json:"count"`    // n: of the culprit
	Total    float64 `json:"total"`    // N: of all culprits
	Discount float64 `json:"discount"` // d: what n gives up
	Given    float64 `json:"given"`    // D: what all counts give up together
	Strength float64 `json:"strength"` // k: of the level above
	Above    float64 `json:"above"`    // p of the level above
	P        float64 `json:"p"`
}

// AccountEvidence is one observation. Its likelihood is the product of its rates, each to its power; a code's is (p / p(f | m)) to its power.
type AccountEvidence struct {
	Evidence   string         `json:"evidence"`
	Levels     []AccountLevel `json:"levels,omitempty"` // of a code: p(f | c, m)
	Power      float64        `json:"power,omitempty"`  // of a code
	Rates      []AccountRate  `json:"rates,omitempty"`
	Likelihood float64        `json:"likelihood"`
	Others     float64        `json:"others"` // mean likelihood of all others, by what is known of them before
	Factor     float64        `json:"factor"` // likelihood / others
	Odds       float64        `json:"odds"`   // after it
}

// AccountRate is a rate behind a likelihood: yes / (yes + no), pseudo-counts of cases included.
type AccountRate struct {
	What  string  `json:"what"`
	Yes   float64 `json:"yes"`
	No    float64 `json:"no"`
	Rate  float64 `json:"rate"`
	Power float64 `json:"power"`
}
