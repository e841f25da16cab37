package code

import (
	"regexp"
	"strconv"
	"strings"
)

const countWord = `\d{1,2}|one|two|three|four|five|six|seven|eight|nine|ten|eleven|twelve`

var (
	blinkNoun  = regexp.MustCompile(`(?i)\b(` + countWord + `)[ -]?(?:x[ ]?|times[ ]|(?:quick|short|long|slow|fast|red|green|amber|yellow)[ ])?(?:blinks|flashes|(?:blink|flash)[ -](?:code|error|fault|pattern)s?)\b`)
	blinkVerb  = regexp.MustCompile(`(?i)\b(?:blink|flash)(?:es|s|ed|ing)?\s+(?:on and off\s+|at me\s+|red\s+|green\s+)?(?:(once|twice|thrice)|(` + countWord + `)\s*(?:x|times|time)|(` + countWord + `))\b`)
	rate       = regexp.MustCompile(`(?i)^\s*(?:per|an?|each|every)\s+(?:second|sec|minute|min|half)\b`)
	blinkPair  = regexp.MustCompile(`(?i)\b(?:blink|flash)(?:es|s|ed|ing)?\s+(?:out\s+)?(?:a\s+)?(\d)(?:-|\s+(?:then|and then|,)\s+)(\d)\b`)
	blinkCode  = regexp.MustCompile(`(?i)\b(?:blink|flash)\s*codes?[\s:#=]*(?:is\s+|of\s+|no\.?\s+)?(\d{1,2})(?:[-.](\d{1,2}))?\b`)
	codeBlinks = regexp.MustCompile(`(?i)\bcode\s*(\d{1,2})\s+(?:by|in|from the|with)\s+(?:blinks|flashes|blinking|flashing)\b`)
	blinkGroup = regexp.MustCompile(`(?i)\b(` + countWord + `)\s+long(?:\s+(?:blinks?|flash(?:es)?|ones))?[\s,]*(?:and\s+|then\s+|\+\s*)?(` + countWord + `)\s+short(?:\s+(?:blinks?|flash(?:es)?|ones))?\b`)
	blinkPause = regexp.MustCompile(`(?i)\b(` + countWord + `)\s+(?:blinks?|flash(?:es)?)[\s,]*(?:then\s+|and\s+)?(?:a\s+)?(?:short\s+)?(?:pause|gap|break)[\s,]*(?:then\s+|and\s+)?(?:another\s+)?(` + countWord + `)\b(?:\s+(?:blinks?|flash(?:es)?|more))?`)
	blinkPlain = regexp.MustCompile(`^BLINKS?[\s:-]+(\d{1,2}(?:-\d{1,2})?|\d{1,2} LONG \d{1,2} SHORT)$`)
)

// wholeBlink reads a string that is a blink count and nothing else.
func wholeBlink(t string) (Code, bool) {
	if m := blinkPlain.FindStringSubmatch(t); m != nil {
		return Code{Scheme: Maker, Text: blinkPrefix + m[1]}, true
	}
	found := findBlinks(t, true)
	if len(found) == 1 && found[0].Start == 0 && found[0].End == len(t) {
		return found[0].Code, true
	}
	return Code{}, false
}

func blinkText(first, second, form string) (Code, bool) {
	n, ok := countOf(first)
	if !ok {
		return Code{}, false
	}
	text := blinkPrefix + strconv.Itoa(n)
	if second != "" {
		m, ok := countOf(second)
		if !ok {
			return Code{}, false
		}
		text = blinkPrefix + strings.NewReplacer("a", strconv.Itoa(n), "b", strconv.Itoa(m)).Replace(form)
	}
	return Code{Scheme: Maker, Text: text}, true
}

func countOf(word string) (int, bool) {
	if n, err := strconv.Atoi(word); err == nil {
		return n, n > 0
	}
	switch strings.ToLower(word) {
	case "once":
		return 1, true
	case "twice":
		return 2, true
	case "thrice":
		return 3, true
	}
	for i, w := range strings.Split(countWord, "|")[1:] {
		if strings.EqualFold(w, word) {
			return i + 1, true
		}
	}
	return 0, false
}

// findBlinks returns counted blinks. Outside a list of forms a lone verb needs "times" or something that ends the phrase:
// "flashes 3 seconds" counts no blinks.
func findBlinks(text string, whole bool) []Found {
	lower := strings.ToLower(text)
	if !speaksOf(lower, "blink", "flash") && !(strings.Contains(lower, "long") && strings.Contains(lower, "short")) {
		return nil
	}
	var out []Found
	add := func(m []int, first, second, form, cue string, confidence float64) {
		if c, ok := blinkText(first, second, form); ok {
			out = append(out, Found{Code: c, Start: m[0], End: m[1], Confidence: confidence, Cue: cue})
		}
	}
	for _, m := range blinkGroup.FindAllStringSubmatchIndex(text, -1) {
		add(m, group(text, m, 1), group(text, m, 2), "a LONG b SHORT", "long and short blinks", 0.8)
	}
	for _, m := range blinkPause.FindAllStringSubmatchIndex(text, -1) {
		add(m, group(text, m, 1), group(text, m, 2), "a-b", "blinks in groups", 0.8)
	}
	for _, m := range codeBlinks.FindAllStringSubmatchIndex(text, -1) {
		add(m, group(text, m, 1), "", "", "code by blinks", 0.9)
	}
	for _, m := range blinkCode.FindAllStringSubmatchIndex(text, -1) {
		add(m, group(text, m, 1), group(text, m, 2), "a-b", "blink code", 0.9)
	}
	for _, m := range blinkPair.FindAllStringSubmatchIndex(text, -1) {
		if !rate.MatchString(text[m[1]:]) && !countsSomethingElse(text[m[1]:]) {
			add(m, group(text, m, 1), group(text, m, 2), "a-b", "blinks in groups", 0.85)
		}
	}
	for _, m := range blinkNoun.FindAllStringSubmatchIndex(text, -1) {
		add(m, group(text, m, 1), "", "", "counted blinks", 0.9)
	}
	for _, m := range blinkVerb.FindAllStringSubmatchIndex(text, -1) {
		first := group(text, m, 1) + group(text, m, 2)
		if first == "" {
			if !whole && countsSomethingElse(text[m[1]:]) {
				continue
			}
			first = group(text, m, 3)
		}
		if rate.MatchString(text[m[1]:]) {
			continue
		}
		add(m, first, "", "", "blinks", 0.85)
	}
	return resolve(out)
}

// group returns a submatch, "" when it took no part.
func group(text string, m []int, i int) string {
	if m[2*i] < 0 {
		return ""
	}
	return text[m[2*i]:m[2*i+1]]
}
