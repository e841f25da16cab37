package ingest

import (
	"regexp"
	"strconv"
	"strings"
	"sync"
	"time"
)

// stamp is a date as written, perhaps with a time of day. The zero value is no date.
type stamp struct {
	year, month, day int
	hour, min, sec   int
	offset           int  // seconds east of UTC
	numeric          bool // day and month as numbers in an order that the spelling does not tell
	clock            bool // a time of day was given
	relative         bool // "2 days ago": a date that cannot be placed
}

func (s stamp) known() bool { return s.year > 0 || s.relative }

func (s stamp) time(dayFirst bool) time.Time {
	if s.year == 0 {
		return time.Time{}
	}
	day, month := s.day, s.month
	if s.numeric && !dayFirst {
		day, month = month, day
	}
	if month < 1 || month > 12 || day < 1 || day > 31 {
		return time.Time{}
	}
	zone := time.UTC
	if s.offset != 0 {
		zone = time.FixedZone("", s.offset)
	}
	t := time.Date(s.year, time.Month(month), day, s.hour, s.min, s.sec, 0, zone)
	if t.Day() != day {
		return time.Time{}
	}
	return t
}

const (
	clockPattern = `(?:[,;]?\s*(?:at|um|kl\.?|om|à|a las|alle|@|-|–|·|T)?\s*(\d{1,2}):(\d{2})(?::(\d{2})(?:\.\d+)?)?(?:\s?([aApP])\.?[mM]\b\.?)?\s?(Z\b|UTC\b|GMT\b|[+-]\d{2}:?\d{2}\b)?(?:\s?(?:Uhr|h)\b)?)?`
)

// The spellings of dates that are known, in the order in which they are tried.
var (
	isoDate     = regexp.MustCompile(`\b(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})` + clockPattern)
	numericDate = regexp.MustCompile(`\b(\d{1,2})([-/.])(\d{1,2})([-/.])(\d{4}|\d{2})\b` + clockPattern)
	dayMonth    = regexp.MustCompile(`\b(\d{1,2})(?:st|nd|rd|th|er|\.)?[ -](?:of |de |d'|den )?(\p{L}{3,10})\.?,?[ -](?:de |of )?(\d{4}|\d{2})\b` + clockPattern)
	monthDay    = regexp.MustCompile(`\b(\p{L}{3,10})\.? (\d{1,2})(?:st|nd|rd|th)?,? (\d{4})\b` + clockPattern)
	weekday     = regexp.MustCompile(`(?i)\b(?:mon|tue|tues|wed|thu|thur|thurs|fri|sat|sun|mo|di|mi|do|fr|sa|so)(?:\p{L}*day|\p{L}*tag|woch)?\.?,?\s*$`)
	clockBefore = regexp.MustCompile(`\b(\d{1,2}):(\d{2})(?:\s?([aApP])\.?[mM]\b)?,?\s*$`)
	relativeAgo = regexp.MustCompile(`(?i)\b(?:(?:\d+|an?|one|few|last)\s+(?:sec(?:ond)?|min(?:ute)?|hour|day|week|month|year|mo|yr|hr)s?\s+ago|yesterday(?: at \d{1,2}:\d{2}(?:\s?[ap]m)?)?|today at \d{1,2}:\d{2}(?:\s?[ap]m)?|vor \d+ \p{L}+|\d+[dhwmy] ago|il y a \d+ \p{L}+)`)
)

const monthNames = "january jan januar januari janvier enero gennaio janeiro styczeń stycznia 1 " +
	"february feb februar februari février fevrier febrero febbraio fevereiro luty lutego 2 " +
	"march mar märz mär maart mrt mars marzo março marzec marca 3 " +
	"april apr avril abril aprile kwiecień kwietnia 4 " +
	"may mai mei maj mayo maggio maio maja 5 " +
	"june jun juni juin junio giugno junho czerwiec czerwca 6 " +
	"july jul juli juillet julio luglio julho lipiec lipca 7 " +
	"august aug augustus août agosto sierpień sierpnia 8 " +
	"september sept sep septembre septiembre settembre setembro wrzesień września 9 " +
	"october oct okt oktober octobre octubre ottobre outubro październik października 10 " +
	"november nov novembre noviembre novembro listopad listopada 11 " +
	"december dec dez dezember desember décembre diciembre dicembre dezembro grudzień grudnia 12"

func monthByName(name string) int { return monthNumbers()[strings.ToLower(name)] }

// monthNumbers gives the number of each month's names; nobody changes it.
var monthNumbers = sync.OnceValue(func() map[string]int {
	out := map[string]int{}
	var names []string
	for word := range strings.FieldsSeq(monthNames) {
		n, err := strconv.Atoi(word)
		if err != nil {
			names = append(names, word)
			continue
		}
		for _, name := range names {
			out[name] = n
		}
		names = nil
	}
	return out
})

// findDate finds the first date in a text.
func findDate(s string) (stamp, span, bool) {
	if countDigits(s) == 0 && !namesAny(strings.ToLower(s), "ago", "yesterday") {
		return stamp{}, span{}, false
	}
	best, at := stamp{}, span{start: len(s) + 1}
	take := func(st stamp, sp span, ok bool) {
		if ok && sp.start < at.start {
			best, at = st, sp
		}
	}
	if countDigits(s) >= 3 { // "3 May 21" has the fewest
		take(findISO(s))
		take(findNumeric(s))
		take(findNamed(s, dayMonth, 3, 2, 1))
		take(findNamed(s, monthDay, 3, 1, 2))
	}
	if m := relativeAgo.FindStringIndex(s); m != nil {
		take(stamp{relative: true}, span{m[0], m[1]}, true)
	}
	if !best.known() {
		return stamp{}, span{}, false
	}
	if m := weekday.FindStringIndex(s[:at.start]); m != nil {
		at.start = m[0]
	}
	if m := clockBefore.FindStringSubmatchIndex(s[:at.start]); m != nil && !best.clock {
		best.setClock(group(s, m, 1), group(s, m, 2), "", group(s, m, 3), "")
		at.start = m[0]
	}
	return best, at, true
}

func findISO(s string) (stamp, span, bool) {
	for _, m := range isoDate.FindAllStringSubmatchIndex(s, 8) {
		st := stamp{year: number(group(s, m, 1)), month: number(group(s, m, 2)), day: number(group(s, m, 3))}
		if !st.plausible() {
			continue
		}
		return st.withClock(s, m, 4)
	}
	return stamp{}, span{}, false
}

func findNumeric(s string) (stamp, span, bool) {
	for _, m := range numericDate.FindAllStringSubmatchIndex(s, 8) {
		if group(s, m, 2) != group(s, m, 4) {
			continue
		}
		st := stamp{year: fullYear(group(s, m, 5)), day: number(group(s, m, 1)), month: number(group(s, m, 3))}
		st.numeric = group(s, m, 2) != "."
		if swapped := (stamp{year: st.year, day: st.month, month: st.day}); !st.plausible() && !(st.numeric && swapped.plausible()) {
			continue
		}
		return st.withClock(s, m, 6)
	}
	return stamp{}, span{}, false
}

func findNamed(s string, re *regexp.Regexp, year, month, day int) (stamp, span, bool) {
	for _, m := range re.FindAllStringSubmatchIndex(s, 8) {
		st := stamp{year: fullYear(group(s, m, year)), month: monthByName(group(s, m, month)), day: number(group(s, m, day))}
		if !st.plausible() {
			continue
		}
		return st.withClock(s, m, 4)
	}
	return stamp{}, span{}, false
}

func (s stamp) plausible() bool {
	return s.year >= 1970 && s.year <= 2100 && s.month >= 1 && s.month <= 12 && s.day >= 1 && s.day <= 31
}

// withClock adds the time of day whose groups start at g of a match.
func (s stamp) withClock(text string, m []int, g int) (stamp, span, bool) {
	end := m[1]
	hour := group(text, m, g)
	if hour != "" && number(hour) < 24 && number(group(text, m, g+1)) < 60 {
		s.setClock(hour, group(text, m, g+1), group(text, m, g+2), group(text, m, g+3), group(text, m, g+4))
	} else if hour != "" {
		end = m[2*g] // what follows is no time of day
		end = m[0] + len(strings.TrimRight(text[m[0]:end], " ,;@-–·"))
	}
	return s, span{m[0], m[0] + len(strings.TrimRight(text[m[0]:end], " "))}, true
}

func (s *stamp) setClock(hour, min, sec, half, zone string) {
	s.hour, s.min, s.sec, s.clock = number(hour), number(min), number(sec), true
	switch {
	case strings.EqualFold(half, "p") && s.hour < 12:
		s.hour += 12
	case strings.EqualFold(half, "a") && s.hour == 12:
		s.hour = 0
	}
	if len(zone) >= 5 {
		digits := strings.ReplaceAll(zone[1:], ":", "")
		s.offset = number(digits[:2])*3600 + number(digits[2:])*60
		if zone[0] == '-' {
			s.offset = -s.offset
		}
	}
}

func group(s string, m []int, i int) string {
	if m[2*i] < 0 {
		return ""
	}
	return s[m[2*i]:m[2*i+1]]
}

func number(s string) int {
	n, _ := strconv.Atoi(s) // the patterns admit digits only; empty is 0
	return n
}

func fullYear(s string) int {
	n := number(s)
	switch {
	case len(s) != 2:
		return n
	case n >= 70:
		return 1900 + n
	}
	return 2000 + n
}

// resolve places the dates of a thread in time. The order of day and month in "03/04/2021" is told by another date of
// the thread, or by the posts following each other in time; where neither tells it the date stays unknown.
func resolve(stamps []stamp) []time.Time {
	dayFirst, known := dateOrder(stamps)
	out := make([]time.Time, len(stamps))
	for i, s := range stamps {
		switch {
		case !s.numeric || known:
			out[i] = s.time(dayFirst)
		case s.day > 12 || s.day == s.month:
			out[i] = s.time(true)
		case s.month > 12:
			out[i] = s.time(false)
		}
		if out[i].IsZero() && s.numeric && known {
			out[i] = s.time(!dayFirst)
		}
	}
	return out
}

func dateOrder(stamps []stamp) (dayFirst, known bool) {
	first, second := 0, 0
	for _, s := range stamps {
		if s.numeric && s.day > 12 {
			first++
		}
		if s.numeric && s.month > 12 {
			second++
		}
	}
	switch {
	case first > 0 && second == 0:
		return true, true
	case second > 0 && first == 0:
		return false, true
	case first > 0:
		return false, false
	}
	forward, backward := rising(stamps, true), rising(stamps, false)
	return forward, forward != backward
}

func rising(stamps []stamp, dayFirst bool) bool {
	var last time.Time
	for _, s := range stamps {
		t := s.time(dayFirst)
		if s.year > 0 && (t.IsZero() || t.Before(last)) {
			return false
		}
		last = t
	}
	return true
}
