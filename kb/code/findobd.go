package code

import (
	"regexp"
	"strings"
)

var (
	obdToken = regexp.MustCompile(`(?i)\b([PCBU])([\s_]?-?\s?)([0-3O][0-9A-FO]{3})\b`)
	obdFTB   = regexp.MustCompile(`(?i)^(?:[-:.]\s?|\s?\(|\s*,?\s*\(?(?:ftb|failure type(?: byte)?|sub-?type)[\s:=]*)(?:0x)?([0-9A-F]{2})\b`)
	obdMore  = regexp.MustCompile(`(?i)^\s*(/|,|&|\+|-|\band\b|\bor\b)\s*([PCBU]?)([0-3]?[0-9A-F]{3}|[0-9])\b`)
	codeWord = regexp.MustCompile(`(?i)\b(?:codes?|dtcs?|faults?|errors?|stored|pending|throws?|threw|thrown|throwing|scan(?:ner|ned)?|reader|cleared|MIL|CEL|lights?|[PCBU]0[0-9A-F]{3}|P[1-3][0-9A-F]{3})\b`)
)

// findOBD returns the five-character codes: with a space inside, a zero typed as the letter O, a failure type byte behind
// in any of its spellings, and the short second half of a pair such as P0171/174.
func findOBD(text string, skip []span) []Found {
	if !obdForm(strings.ToLower(text)) {
		return nil
	}
	var out []Found
	for _, m := range obdToken.FindAllStringSubmatchIndex(text, -1) {
		if within(m[0], skip) || len(out) > 0 && m[0] < out[len(out)-1].End {
			continue
		}
		letter, gap, digits := group(text, m, 1), group(text, m, 2), group(text, m, 3)
		confidence := obdConfidence(text, m[0], letter, gap, digits)
		if confidence == 0 {
			continue
		}
		f := Found{Code: obdFromParts(letter, digits, ""), Start: m[0], End: m[1], Confidence: confidence, Cue: "form of an OBD code"}
		if t := obdFTB.FindStringSubmatchIndex(text[m[1]:]); t != nil && !countsSomethingElse(text[m[1]+t[1]:]) {
			f.Code = obdFromParts(letter, digits, group(text[m[1]:], t, 1))
			f.End += t[1]
			if strings.Contains(text[m[1]:f.End], "(") && strings.HasPrefix(text[f.End:], ")") {
				f.End++
			}
		}
		out = append(out, f)
		out = append(out, obdTail(text, f)...)
	}
	return out
}

// obdConfidence weighs how sure a form is to be a code; 0 is none. Ranges that the standard orders are hardly anything
// else; the makers' ranges look like model names and part numbers and need a word of support in the sentence.
func obdConfidence(text string, start int, letter, gap, digits string) float64 {
	near := sentenceBefore(text, start)
	supported := codeWord.MatchString(near) || codeWord.MatchString(sentenceAfter(text, start+5))
	if !wordForm(digits) && !supported {
		return 0
	}
	confidence := 0.99
	if strings.ContainsAny(digits, "oO") {
		confidence = 0.6
	}
	powertrain := strings.EqualFold(letter, "P")
	if strings.TrimSpace(gap) == "" && gap != "" {
		if !powertrain && !supported || digits[0] != '0' && !supported {
			return 0
		}
		confidence -= 0.05
	}
	if !powertrain && digits[0] != '0' && digits[0] != 'o' && digits[0] != 'O' {
		if !supported {
			return 0
		}
		confidence -= 0.15
	}
	return confidence
}

// wordForm is false for digits that spell a word or name rather than a number, such as in "cafe" or "b0b0".
func wordForm(digits string) bool {
	n := strings.Count(strings.ToUpper(digits), "O")
	return n <= 2 && strings.ContainsAny(digits, "0123456789")
}

// obdTail reads what people leave out in a list: P0171/174, P0171/4, P0300, 301 and 302.
func obdTail(text string, head Found) []Found {
	var out []Found
	for at := head.End; ; {
		m := obdMore.FindStringSubmatchIndex(text[at:])
		if m == nil || countsSomethingElse(text[at+m[1]:]) {
			return out
		}
		join, letter, digits := group(text[at:], m, 1), group(text[at:], m, 2), group(text[at:], m, 3)
		base := head.Code.Text
		full, ok := base[:5-len(digits)]+strings.ToUpper(digits), true
		switch {
		case letter != "":
			ok = false // a full code is found by itself
		case len(digits) == 3:
			ok = join == "/" || digits[0] == base[2]
		default:
			ok = join == "/"
		}
		if !ok {
			return out
		}
		start := at + strings.Index(text[at:at+m[1]], digits)
		at += m[1]
		out = append(out, Found{
			Code: obdFromParts(full[:1], full[1:], ""), Start: start, End: at, Confidence: 0.85, Cue: "short form after " + base,
		})
	}
}
