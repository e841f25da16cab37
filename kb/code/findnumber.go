package code

import (
	"strings"
)

// cuedNumbers returns bare numbers, spaced forms and letters that follow a word for a code at once: "code 33", "error LE".
func cuedNumbers(text string) []mention {
	var out []mention
	for _, at := range cuedTokens(text) {
		cue, token := strings.ToLower(group(text, at, 1)), group(text, at, 2)
		if !alone(text, at[4], at[5]) || countsSomethingElse(text[at[5]:]) || !codeAndNotWord(token, lookRound(text, at[0], at[1])) {
			continue
		}
		prev := lastWords(sentenceBefore(text, at[0]), 1)
		if len(prev) > 0 && notFaultCodes[strings.ToLower(prev[0])] {
			continue
		}
		m := mention{start: at[4], end: at[5], text: strings.ToUpper(token), cue: "after " + cue}
		if (cue == "error" || cue == "err") && isDigits(token) && strings.TrimSpace(text[at[3]:at[4]]) == "" {
			m.start, m.text = at[0], strings.ToUpper(cue)+" "+token // the display itself says Error 08
		}
		m.fold = foldMaker(m.text)
		out = append(out, m)
		out = append(out, furtherNumbers(text, at[5], m.cue, cue)...)
	}
	return append(out, quotedForms(text)...)
}

// cuedTokens finds the cues with the token that follows: tried at each word that a cue can begin with.
func cuedTokens(text string) [][]int {
	var out [][]int
	wordBefore := false
	for i, skip := 0, 0; i < len(text); i++ {
		begins := !wordBefore && i >= skip && strings.IndexByte("cdefstaCDEFSTA", text[i]) >= 0
		wordBefore = text[i] == '_' || digit(text[i]) || text[i]|0x20 >= 'a' && text[i]|0x20 <= 'z'
		if !begins || !cueHead(text[i:]) {
			continue
		}
		if at := makerCued.FindStringSubmatchIndex(text[i:]); at != nil {
			for k := range at {
				at[k] += i
			}
			out, skip = append(out, at), at[1]
		}
	}
	return out
}

var cueHeads = [...]string{"err", "fault", "alarm", "trip", "dtc", "trouble", "failure", "service", "display", "flash", "code"}

// cueHead reports whether a text begins as a cue does.
func cueHead(rest string) bool {
	for _, h := range cueHeads {
		if len(rest) >= len(h) && strings.EqualFold(rest[:len(h)], h) {
			return true
		}
	}
	return false
}

// quotedForms returns what a display shows with a space inside, given word for word: shows "E 05".
func quotedForms(text string) []mention {
	if !strings.ContainsAny(text, "\"“") {
		return nil
	}
	var out []mention
	for _, at := range quotedForm.FindAllStringSubmatchIndex(text, -1) {
		t := strings.ToUpper(group(text, at, 1))
		out = append(out, mention{start: at[2], end: at[3], text: t, fold: foldMaker(t), cue: "quoted from the display"})
	}
	return out
}

// furtherNumbers reads the rest of "codes 12, 31 and 45"; one code alone has no rest.
func furtherNumbers(text string, at int, why, cue string) []mention {
	var out []mention
	for strings.HasSuffix(cue, "s") {
		m := numberMore.FindStringSubmatchIndex(text[at:])
		if m == nil || countsSomethingElse(text[at+m[1]:]) {
			break
		}
		n := group(text[at:], m, 1)
		out = append(out, mention{start: at + m[2], end: at + m[3], text: n, fold: foldMaker(n), cue: why})
		at += m[1]
	}
	return out
}

func isDigits(s string) bool { return strings.Trim(s, "0123456789") == "" }

// codeAndNotWord keeps letters apart that are a word or an abbreviation, and does not read letters in a shouted sentence.
func codeAndNotWord(token string, near around) bool {
	if strings.ContainsAny(token, "0123456789") {
		year := len(token) == 4 && isDigits(token) && (strings.HasPrefix(token, "19") || strings.HasPrefix(token, "20"))
		return !year
	}
	return !abbreviations[strings.ToLower(token)] && !near.shouts()
}
