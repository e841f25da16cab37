package ingest

import (
	"regexp"
	"slices"
	"strings"

	"ruledout/kb"
	"ruledout/kb/quantity"
)

// isLimit tells whether a quantity states what a reading should be.
func isLimit(s *sentence, m measured, afterReading bool) bool {
	for _, c := range s.mentions {
		if c.kind != termCue || c.name != cueLimit {
			continue
		}
		before := c.to <= m.from && m.from-c.to <= 5 && !crosses(s, c.to, m.from) && (isMarking(s.toks[c.from].word) || !slices.ContainsFunc(s.toks[c.to:max(c.to, m.from)], token.hasDigit))
		after := c.from >= m.to && c.from-m.to <= 2 && !s.toks[m.to].mark && isLimitWord(s.toks[c.to-1].word)
		if before || after {
			return true
		}
	}
	inBrackets := m.from > 0 && s.toks[m.from-1].raw == "(" && m.Upper != nil
	return inBrackets && afterReading
}

// isMarking tells whether a word says what is written on a part, which may be several figures.
func isMarking(word string) bool {
	return slices.Contains([]string{"marked", "stamped", "rated", "labelled", "labeled"}, word)
}

// nothingAllowed tells whether a sentence says that a reading should be nothing: "ought to be almost nothing", "should be zero".
func (s *sentence) nothingAllowed() bool {
	for _, c := range s.mentions {
		if c.kind != termCue || c.name != cueLimit {
			continue
		}
		for i := c.to; i < min(c.to+4, len(s.toks)) && !s.toks[i].mark; i++ {
			if slices.Contains([]string{"nothing", "zero", "nil", "none", "nought"}, s.toks[i].word) {
				return true
			}
		}
	}
	return false
}

// isLimitWord tells whether a word after a quantity makes it a limit: "250 is needed", "40 at most".
func isLimitWord(word string) bool {
	return slices.Contains([]string{"needed", "minimum", "maximum", "min", "max", "required", "least", "most", "limit", "allowed", "nominal"}, word)
}

// crosses tells whether a full break lies between two tokens.
func crosses(s *sentence, from, to int) bool {
	for i := from; i < to; i++ {
		if strings.ContainsAny(s.toks[i].raw, ";.!?") && s.toks[i].mark || s.toks[i].word == "but" {
			return true
		}
	}
	return false
}

var rangeForm = regexp.MustCompile(`(?i)(?:(over|above|more than|at least|min(?:imum)?|under|below|less than|at most|max(?:imum)?|[<>])\s*)?(?:of |is |about |around )?(\d+(?:[.,]\d+)?)(?:\s*(?:-|–|to|and)\s*(\d+(?:[.,]\d+)?))?`)

// limitFor gives the limit that the sentence, or the next one, states for the reading at index i.
func (x *Extractor) limitFor(all []measured, i int, s, next *sentence) *kb.Limit {
	unit := all[i].Unit
	if i+1 < len(all) && all[i+1].limit {
		return limitFrom(s, all[i+1], unit)
	}
	if lim := wordLimit(s, all[i].to, unit); lim != nil {
		return lim
	}
	if next != nil && next.post == s.post && next.start-s.end < 4 && len(next.toks) < 14 && !next.asked {
		if c := next.cueIn(cueLimit, 0, min(4, len(next.toks))); c >= 0 {
			return rangeHolding(next, unit, all[i].Value, wordLimit(next, 0, unit))
		}
	}
	return nil
}

// limitFrom turns a quantity that states a limit into one, with the words before it telling the side.
func limitFrom(s *sentence, m measured, unit string) *kb.Limit {
	from := s.toks[max(m.from-5, 0)].start
	return limitText(s.text[from:m.End], cmpUnit(m.Unit, unit))
}

func cmpUnit(a, b string) string {
	if a == "" {
		return b
	}
	return a
}

// wordLimit reads a limit given without a unit after a cue: "book says 53-61".
func wordLimit(s *sentence, at int, unit string) *kb.Limit {
	for _, c := range s.mentions {
		if c.kind != termCue || c.name != cueLimit || c.from < at {
			continue
		}
		end := min(c.to+7, len(s.toks))
		stretch := s.text[s.toks[c.from].start:s.toks[end-1].end]
		if strings.ContainsAny(stretch, "0123456789") {
			return limitText(stretch, unit)
		}
	}
	return nil
}

// rangeHolding gives, where a sentence states several ranges in a row ("the sheet has 3-5 and 40-60"), the one that holds the value;
// otherwise what was read of it.
func rangeHolding(s *sentence, unit string, value float64, otherwise *kb.Limit) *kb.Limit {
	ranges := 0
	for _, m := range rangeForm.FindAllStringSubmatch(s.text[s.start:s.end], -1) {
		low, okLow := parseNumber(m[2])
		high, okHigh := parseNumber(m[3])
		if m[3] == "" || !okLow || !okHigh || high <= low {
			continue
		}
		if ranges++; value >= low && value <= high {
			return &kb.Limit{Low: &low, High: &high, Unit: unit}
		}
	}
	return otherwise
}

// limitText reads "over 500", "53-61", "40 at most" as a limit.
func limitText(text, unit string) *kb.Limit {
	var m []string
	for _, try := range rangeForm.FindAllStringSubmatch(text, -1) {
		m = try
		if try[1] != "" || try[3] != "" {
			break
		}
	}
	if m == nil {
		return nil
	}
	low, ok := parseNumber(m[2])
	if !ok {
		return nil
	}
	side := strings.ToLower(m[1])
	lower := strings.ToLower(text)
	switch {
	case m[3] != "":
		high, ok := parseNumber(m[3])
		if !ok || high < low {
			return nil
		}
		return &kb.Limit{Low: &low, High: &high, Unit: unit}
	case slices.Contains([]string{"under", "below", "less than", "at most", "max", "maximum", "<"}, side), strings.Contains(lower, "at most"), strings.Contains(lower, "limit"), strings.Contains(lower, "max"):
		return &kb.Limit{High: &low, Unit: unit}
	case side != "", strings.Contains(lower, "at least"), strings.Contains(lower, "min"):
		return &kb.Limit{Low: &low, Unit: unit}
	}
	a, b := 0.85*low, 1.15*low
	return &kb.Limit{Low: &a, High: &b, Unit: unit, Source: "about " + m[2]}
}

func parseNumber(s string) (float64, bool) { return plainNumber(strings.ReplaceAll(s, ",", ".")) }

// conform judges a reading by its limit where both are in one unit; words of judgement go before it.
func conform(r *kb.Reading, l *kb.Limit, said kb.Result) kb.Result {
	if said != "" || r.Value == nil {
		return said
	}
	value, limitUnit := quantity.Quantity{Value: *r.Value, Unit: r.Unit}, l.Unit
	v, base, ok := value.SI()
	in := func(x float64) (float64, bool) {
		y, b, ok := quantity.Quantity{Value: x, Unit: limitUnit}.SI()
		return y, ok && b == base
	}
	if !ok {
		return said
	}
	if l.Low != nil {
		if low, ok := in(*l.Low); ok && v < low*(1-1e-9) {
			return kb.Fail
		}
	}
	if l.High != nil {
		if high, ok := in(*l.High); ok && v > high*(1+1e-9) {
			return kb.Fail
		}
	}
	return kb.Pass
}
