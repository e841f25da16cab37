package code

import "regexp"

const statusWord = `(stored|confirmed|permanent|pending|active|current|present|history|historic(?:al)?|inactive|previously active)`

var (
	statusBefore = regexp.MustCompile(`(?i)\b` + statusWord + `(?:\s+(?:codes?|dtcs?|faults?|errors?|as|is|are|an?|the|were|was))*[\s:,"'*(]*$`)
	statusList   = regexp.MustCompile(`(?i)\bcodes?\s+(?:were\s+|are\s+)?` + statusWord + `\s*:\s*$`)
	statusAfter  = regexp.MustCompile(`(?i)^["'*)]*[\s,(:-]*(?:(?:as|is|was|were|are|code|codes|fault|both|all|again|only)\s+)*` + statusWord + `\b`)
	listJoin     = regexp.MustCompile(`(?i)^[\s,/&+"'*` + "`" + `]*(?:\b(?:and|or|plus|then|with|also|now|even)\b[\s"'*` + "`" + `]*){0,3}$`)

	neither = regexp.MustCompile(`(?i)^\s*(?:/|n?or)\s*$`)

	absentBefore = regexp.MustCompile(`(?i)\b(?:no|not|not one|not a single|never|without|zero|neither|nor|isn['’]?t|wasn['’]?t)\s+(?:any\s+|an?\s+|the\s+|single\s+|more\s+|another\s+|sign of\s+|had\s+|saw\s+|shown\s+|seen\s+|code\s+|error\s+|fault\s+)*["'*]*$`)
	absentAfter  = regexp.MustCompile(`(?i)^["'*)]*\s*(?:is|was|has)\s+(?:now\s+)?(?:gone|not (?:there|present|stored))\b|^["'*)]*\s+(?:gone|went away|any ?more)\b`)
	cameBack     = regexp.MustCompile(`(?i)^[^.!?;]{0,30}?\b(?:(?:came|comes|come|coming|is|was|are|were|straight|right) (?:straight |right )?back|back (?:again|in|on|within)|returned|returns|set again|resets?|again)\b`)
	saidBack     = regexp.MustCompile(`(?i)\b(?:still|again|same (?:old )?(?:code|error|fault))[\s,:"'*]*$`)
	staysAway    = regexp.MustCompile(`(?i)^[^.!?;]{0,30}?\b(?:(?:ha[sd]|have|did|do|does|will|would|is|was) ?(?:not|n['’]t)|hasn['’]?t|hadn['’]?t|haven['’]?t|didn['’]?t|doesn['’]?t|never|not) (?:yet )?(?:come|came|been|shown|show|return|returned|set|reset|seen|back|again)\b|^[^.!?;]{0,25}?\b(?:stay(?:s|ed) (?:away|cleared|gone|off))\b`)
)

// lookAround adds what the sentence says about each code: its status, whether it is there and whether it came back.
func lookAround(text string, found []Found) {
	behind := make([]bool, len(found)) // the status stands behind the code
	for i := range found {
		f := &found[i]
		before, after := gapBefore(text, found, i), gapAfter(text, found, i)
		if i > 0 && behind[i-1] { // what follows the last code is said of that one
			if m := statusAfter.FindString(before); m != "" {
				before = before[len(m):]
			}
		}
		f.Status, behind[i] = nearStatus(before, after)
		f.Absent = absentBefore.MatchString(before) || absentAfter.MatchString(after)
		f.SetAgain = nearReturn(before, after, f.Absent)
	}
	shareStatus(text, found, behind)
}

// gapBefore is the sentence before a code, back to the code in front of it.
func gapBefore(text string, found []Found, i int) string {
	s := sentenceBefore(text, found[i].Start)
	if i > 0 {
		s = s[max(0, len(s)-max(0, found[i].Start-found[i-1].End)):]
	}
	return s
}

func gapAfter(text string, found []Found, i int) string {
	s := sentenceAfter(text, found[i].End)
	if i+1 < len(found) {
		s = s[:min(len(s), max(0, found[i+1].Start-found[i].End))]
	}
	return s
}

func nearStatus(before, after string) (status Status, behind bool) {
	if m := statusAfter.FindStringSubmatch(after); m != nil {
		s, _ := NormaliseStatus(m[1])
		return s, true
	}
	for _, re := range []*regexp.Regexp{statusList, statusBefore} {
		if m := re.FindStringSubmatch(before); m != nil {
			s, _ := NormaliseStatus(m[1])
			return s, false
		}
	}
	return "", false
}

func nearReturn(before, after string, absent bool) *bool {
	no, yes := false, true
	switch {
	case absent, staysAway.MatchString(after):
		if absent && !staysAway.MatchString(after) {
			return nil
		}
		return &no
	case cameBack.MatchString(after), saidBack.MatchString(before):
		return &yes
	}
	return nil
}

// shareStatus gives all codes of one list what is said once: a status in front of it or behind it, and an absence.
func shareStatus(text string, found []Found, behind []bool) {
	for i := 1; i < len(found); i++ {
		last, gap := found[i-1], text[found[i-1].End:found[i].Start]
		if found[i].Status == "" && !behind[i-1] && listJoin.MatchString(gap) {
			found[i].Status = last.Status
		}
		if last.Absent && neither.MatchString(gap) {
			found[i].Absent = true
		}
	}
	for i := len(found) - 2; i >= 0; i-- {
		if found[i].Status == "" && behind[i+1] && listJoin.MatchString(text[found[i].End:found[i+1].Start]) {
			found[i].Status, behind[i] = found[i+1].Status, true
		}
	}
}
