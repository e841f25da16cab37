package kb

// Judgement is a reading judged: against each limit that may apply, and beside what others measured.
type Judgement struct {
	V          int          `json:"v"`
	Understood Test         `json:"understood"` // the test and the reading as they were read
	Verdicts   []Verdict    `json:"verdicts"`   // none: no limit is known
	Measured   *Measured    `json:"measured"`   // null: nobody measured this
	Cautions   []CautionFor `json:"cautions"`
	Notes      []string     `json:"notes"`
}

// Verdict is a reading judged against one limit (JCGM 106:2012, ISO 14253-1).
type Verdict struct {
	Name        string   `json:"name"` // of the limit; empty for one that was stated
	Limit       string   `json:"limit"`
	Low         *float64 `json:"low"` // null: not limited below
	High        *float64 `json:"high"`
	Unit        string   `json:"unit"`
	Source      string   `json:"source"`
	Note        string   `json:"note"`
	Decision    string   `json:"decision"`    // conforms, does not conform, cannot tell
	Probability float64  `json:"probability"` // of conformity; the least where the reading is itself a range or a bound
	Most        float64  `json:"most"`        // the greatest; equal for a plain reading
	Uncertainty float64  `json:"uncertainty"` // standard uncertainty of the reading, in its unit
	Accuracy    string   `json:"accuracy"`    // of the instrument
	Assumed     bool     `json:"assumed"`     // the accuracy was not stated
}
