package ingest

import (
	"regexp"
	"slices"
	"strings"
	"sync"

	"ruledout/kb"
)

var holdForm = regexp.MustCompile(`(?i)\b(\d[\d,. ]*k?|an?|one|two|three|four|five|six|seven|eight|nine|ten|eleven|twelve|fifteen|twenty|thirty|forty|fifty|sixty|seventy|eighty|ninety|few|several|couple of|forty-odd|dozens? of|all|whole|the|every|over the|last|next|hundred|thousand|of|another|half)\s+(?:more |full |solid |good |straight |whole |print |engine |running )?(days?|weeks?|months?|years?|yrs?|winters?|summers?|seasons?|miles?|mi|km|kms|kilomet\w+|hours?|hrs?|h|washes|wash|cycles?|prints?|cups|coffees|loads?|trips?|charges?|starts?|nights?|drives?|rides?|lap|weekends?|services?|flights?|frosts?|mornings?|jobs|pages|copies|acres|tanks?|shifts?|running|fortnights?|harvests?|sprayings?|times|cold starts?|miles?|laps?|games?|batches|cuts|baths?|showers?)\b`)

// holdEvent finds words that say that the cure held over time, distance or cycles, at or after the cure.
func (l *line) holdEvent() *event {
	if l.cured == nil {
		return nil
	}
	first := l.cured.index
	for _, fx := range l.fixes {
		if fx.outcome == kb.Fixed {
			first = min(first, fx.index)
		}
	}
	for i := first; i < len(l.p.sents); i++ {
		s := l.p.sents[i]
		text := s.text[s.start:s.end]
		long := spanOf(s) != nil && !shortTime(text) && !s.tellsAge()
		since := slices.ContainsFunc(s.toks, func(t token) bool { return t.word == "since" }) || s.usedSince()
		if i == l.p.machine.at && i <= l.cured.index {
			continue
		}
		if (long || since) && (s.post > l.cured.sent.post || i >= l.cured.index-1) && holds(s) {
			return &event{class: cueHold, sent: s, index: i, from: 0, to: len(s.toks)}
		}
	}
	return nil
}

// usedSince tells whether a sentence says by the calendar, or by the use made of the machine, that some time has gone by: "that was in
// March", "all season", "a long run", "while we had it".
func (s *sentence) usedSince() bool {
	for i, t := range s.toks {
		before := ""
		if i > 0 {
			before = s.toks[i-1].word
		}
		switch {
		case isSeason(t.word) && slices.Contains([]string{"in", "since", "last", "all", "whole", "this", "through", "back"}, before) && (before != "in" || i > 1 && slices.Contains([]string{"was", "back", "done", "fitted"}, s.toks[i-2].word)):
			return true
		case (t.word == "run" || t.word == "trip" || t.word == "drive" || t.word == "journey") && slices.Contains([]string{"long", "good", "decent", "proper", "hard"}, before):
			return true
		case t.word == "daily" || t.word == "while" && i+2 < len(s.toks) && s.toks[i+1].word == "we" && s.toks[i+2].word == "had":
			return true
		case t.word == "every" && i+1 < len(s.toks) && slices.Contains([]string{"day", "night", "morning", "weekend", "evening"}, s.toks[i+1].word):
			return true
		}
	}
	return false
}

// isSeason tells whether a word is a month or a part of the year.
func isSeason(word string) bool {
	return slices.Contains([]string{"january", "february", "march", "april", "june", "july", "august", "september", "october", "november", "december", "spring", "summer", "autumn", "fall", "winter", "easter", "christmas", "season", "harvest", "heating"}, word)
}

// holds tells whether a sentence with a duration says that all is well, rather than how long the work or the search took.
func holds(s *sentence) bool {
	if span := spanOf(s); span != nil && len(s.toks) <= 8 && !s.asked && slices.ContainsFunc(s.toks, func(t token) bool {
		return slices.Contains([]string{"now", "on", "still", "far", "later", "since", "already"}, t.word)
	}) {
		return true // "six weeks now", "120 hours on it"
	}
	for _, m := range s.mentions {
		if m.kind == termCue && (m.name == cueFixed || m.name == cueHold && s.toks[m.from].word != "now" && s.toks[m.from].word != "still") {
			return true
		}
	}
	return slices.ContainsFunc(s.toks, func(t token) bool {
		return slices.Contains([]string{"no", "not", "never", "without", "perfect", "fine", "good", "since", "later", "ago", "after"}, t.word)
	})
}

var workTime = regexp.MustCompile(`(?i)(two|three|four|\d+) hours?\b.{0,24}(labou?r|parts|work|job|laying|skinned)|labou?r \d|(year|month|day|mile|km)s?.{0,4} (of )?warranty|warranty (of|for)|took (me|about)`)

// tellsAge tells whether a sentence says after how long something was done or failed, or how long the search took, rather than how long a
// repair has held: "replaced it after 120,000 km", "after three weeks of searching", "the old one was ten years old".
func (s *sentence) tellsAge() bool {
	span := spanOf(s)
	if span == nil {
		return false
	}
	from, to := tokenAt(s, s.start+span[0]), tokenAt(s, s.start+span[1]-1)+1
	if to < len(s.toks) && (s.toks[to].word == "old" || s.toks[to].word == "of" && to+1 < len(s.toks) && strings.HasSuffix(s.toks[to+1].word, "ing")) {
		return true
	}
	for i := from - 1; i >= max(from-2, 0); i-- {
		if s.toks[i].word == "after" {
			well := s.cueIn(cueFixed, 0, from) >= 0 || s.negated(max(i-6, 0), i) || s.cueIn(cueFixed, to, min(to+6, len(s.toks))) >= 0 && i == 0
			return !well || slices.ContainsFunc(s.mentions, func(m mention) bool {
				return m.kind == kb.TermAction && m.to <= i && i-m.to <= 4 && m.from >= s.clauseAt(i).from
			})
		}
	}
	return false
}

// spanOf gives where a span of time, distance or cycles stands in a sentence, nil if none does.
func spanOf(s *sentence) []int {
	if !slices.ContainsFunc(s.toks, func(t token) bool { return spanUnits()[t.word] }) {
		return nil
	}
	return holdForm.FindStringIndex(s.text[s.start:s.end])
}

// spanUnits gives the units that holdForm knows, for a quick look before it.
var spanUnits = sync.OnceValue(func() map[string]bool {
	set := map[string]bool{}
	for _, w := range strings.Fields(`day week month year yr yrs hrs kms laps winter summer season mile mi km kilometer kilometre kilometers hour hr h wash washes washe cycle print cup coffee load trip charge
		start night drive ride lap weekend service flight frost morning job page copy acre tank shift running fortnight harvest spraying time lap game batch cut bath shower`) {
		set[w] = true
	}
	return set
})

func shortTime(text string) bool { return workTime.MatchString(text) }

// status tells whether the case is closed, how, and how well that is confirmed.
func (l *line) status(c *kb.Case, solved bool) {
	c.Status, c.Confirmation = kb.Open, kb.Unconfirmed
	if l.ends() {
		c.Status, c.ClosedAs = kb.Closed, kb.HandedOver
		if l.gone.class == cueScrapped {
			c.ClosedAs = kb.NotWorthRepairing
		}
		c.StatusEvidence = l.r.evidence(l.gone.sent, 0, len(l.gone.sent.toks))
		return
	}
	fixed := slices.ContainsFunc(l.fixes, func(fx *fixFound) bool { return fx.outcome == kb.Fixed && fx.action != kb.Bypass })
	if !fixed && slices.ContainsFunc(l.fixes, func(fx *fixFound) bool { return fx.outcome == kb.Fixed }) {
		return // running with a device bypassed is no repair
	}
	switch {
	case l.back != nil && !fixed:
		c.StatusEvidence = l.r.evidence(l.back.sent, 0, len(l.back.sent.toks))
		return
	case l.cured == nil && !fixed:
		if l.open != nil {
			c.StatusEvidence = l.r.evidence(l.open.sent, 0, len(l.open.sent.toks))
		}
		return
	}
	c.Status, c.ClosedAs, c.Confirmation = kb.Closed, kb.Repaired, kb.Reported
	if l.cured != nil {
		c.StatusEvidence = l.r.evidence(l.cured.sent, 0, len(l.cured.sent.toks))
	}
	if l.held != nil {
		c.Confirmation = kb.Verified
		c.StatusEvidence = append(c.StatusEvidence, l.r.evidence(l.held.sent, 0, len(l.held.sent.toks))...)
	} else if l.proved() {
		c.Confirmation = kb.Verified
	}
}

// ends tells whether the story ends with the machine given away uncured: nothing is told to have cured it, and nothing was done to it
// after.
func (l *line) ends() bool {
	const most = 4 // sentences after it
	if l.gone == nil || l.cured != nil || l.gone.index < len(l.p.sents)-1-most {
		return false
	}
	return !slices.ContainsFunc(l.fixes, func(fx *fixFound) bool { return fx.outcome == kb.Fixed || fx.index > l.gone.index }) &&
		!slices.ContainsFunc(l.tests, func(t *testFound) bool { return t.index > l.gone.index })
}

// proved tells whether a reading after the cure was good.
func (l *line) proved() bool {
	return slices.ContainsFunc(l.tests, func(t *testFound) bool {
		return t.reading != nil && t.result == kb.Pass && slices.ContainsFunc(l.fixes, func(fx *fixFound) bool {
			return fx.outcome == kb.Fixed && (t.index > fx.index || t.index == fx.index && t.from > fx.from)
		})
	})
}
