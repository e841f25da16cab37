package kb

// Answer is what a question (an open Case) is answered with. Every face of the program shows this same value.
type Answer struct {
	V            int          `json:"v"`
	ID           string       `json:"id"`           // the question's id, else its line
	LogPosition  int64        `json:"log_position"` // of the evidence that the answer was computed from
	Understood   Case         `json:"understood"`   // the question as it was read
	Meaning      []Meaning    `json:"meaning"`
	Basis        []Basis      `json:"basis"`
	RuledOut     []RuledOut   `json:"ruled_out"`
	Next         []NextStep   `json:"next"`
	Fixes        []RankedFix  `json:"fixes"`
	Unlisted     Unlisted     `json:"unlisted"`
	ExpectedCost *Money       `json:"expected_cost"` // null until a plan is asked for
	Cautions     []CautionFor `json:"cautions"`
	Warnings     []string     `json:"warnings"`
	Plan         *Plan        `json:"plan,omitempty"` // only where one is asked for
}

// Meaning says what a code means and by whose word.
type Meaning struct {
	Code   string `json:"code"`
	Text   string `json:"text"`
	Source string `json:"source"` // the standard, or "casebook"
}

// Basis counts the cases at one closeness to the question.
type Basis struct {
	Level string `json:"level"` // all, kind, family, code, subtype, make, model, variant, years
	Cases int    `json:"cases"`
}

// RuledOut is a component that passed tests and tried fixes exclude: they multiply its odds by at most 1/10 and it ends below 5 %.
type RuledOut struct {
	Component string   `json:"component"`
	From      float64  `json:"from"` // probability before the tests and fixes
	To        float64  `json:"to"`   // probability after everything
	By        []string `json:"by"`   // the tests and fixes that did it, as printed
}

// RankedFix is a possible culprit with its probability and where that comes from.
type RankedFix struct {
	Component   string        `json:"component"`
	Probability float64       `json:"probability"`
	Low         float64       `json:"low"`  // 90 % interval
	High        float64       `json:"high"` // 90 % interval
	Seen        string        `json:"seen"` // closeness at which it was seen: the closest Basis level that names it
	Actions     []ActionShare `json:"actions"`
	CaseCount   int           `json:"case_count"`
	Cases       []CaseID      `json:"cases"` // at most 20, closest first
	Because     []Because     `json:"because"`
	Prior       float64       `json:"prior"` // p(f | m), before codes and evidence; prior odds times the factors are the posterior odds
}

// ActionShare is the share of an action among the cures of a component.
type ActionShare struct {
	Action Action  `json:"action"`
	Share  float64 `json:"share"`
}

// Because is one factor of a probability: what was observed, by how much it multiplied the odds, and the cases it was counted from.
type Because struct {
	Evidence string   `json:"evidence"`
	Factor   float64  `json:"factor"`
	Cases    []CaseID `json:"cases"`
}

// NextStep is something to do next: a test, a fix or a proof of the repair.
type NextStep struct {
	Kind      string       `json:"kind"` // test, fix or proof
	Test      string       `json:"test,omitempty"`
	Component string       `json:"component"`
	Action    Action       `json:"action,omitempty"`
	GainBits  float64      `json:"gain_bits"` // expected information, bits
	Cost      *Money       `json:"cost"`
	Minutes   float64      `json:"minutes,omitempty"`
	Cautions  []CautionFor `json:"cautions"`
	Licensed  []string     `json:"licensed"`
	Branches  []Branch     `json:"branches"`
	Cases     []CaseID     `json:"cases,omitempty"` // that did this
}

// Branch is one result of a step and where it leads.
type Branch struct {
	Result      string  `json:"result"`
	Probability float64 `json:"probability"`
	Next        *int    `json:"next"`             // index into Answer.Next, null: hand over
	Leader      string  `json:"leader,omitempty"` // likeliest culprit after this result
	LeaderP     float64 `json:"leader_probability,omitempty"`
}

// Unlisted is the probability that the culprit is none of the listed ones.
type Unlisted struct {
	Probability float64   `json:"probability"`
	Low         float64   `json:"low"`
	High        float64   `json:"high"`
	Nearest     []Nearest `json:"nearest"` // likeliest culprits seen elsewhere
}

// Nearest is a culprit seen elsewhere, with its share of the whole.
type Nearest struct {
	Component   string   `json:"component"`
	Probability float64  `json:"probability"`
	Seen        string   `json:"seen"`
	Cases       []CaseID `json:"cases"`
}

// CautionFor is a hazard with what it belongs to.
type CautionFor struct {
	Hazard   string   `json:"hazard"`
	Text     string   `json:"text"`
	Because  []string `json:"because"` // components, tests or readings that raise it
	Licensed string   `json:"licensed,omitempty"`
	Source   string   `json:"source"`
}
