package ingest

import (
	"regexp"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"
)

// byline is a line that tells who wrote what stands near it, and when.
type byline struct {
	author string
	when   stamp
	end    int // offset in the line past what belongs to the byline
}

const (
	maxBylineLen = 160
	maxNameLen   = 40
	maxNameWords = 5
)

var (
	postNumber  = regexp.MustCompile(`(?i)(?:^|\s)(?:#\s?\d+|(?:post|reply|answer|comment|beitrag)\s*(?:no\.?\s*|#)?\d+)\b`)
	writtenBy   = regexp.MustCompile(`(?i)(?:^|.*?\b)(?:by|von|par|por|door|av|asked by|author|from|name|user(?:name)?|posted by)\s*:?\s+@?(.+)$`)
	sayVerb     = regexp.MustCompile(`(?i)\s*\b(?:wrote|said|says|writes|replied|replies|asked|answered|posted|commented|schrieb|sagte|skrev|schreef|escribió|a écrit|ha scritto|escreveu|napisał\(?a?\)?)\b.*$`)
	nameTail    = regexp.MustCompile(`(?i)[\s,;:|»›·•—–(\[-]+$|\s+(?:on|at|in|am|le|el|op|den|the|um)$`)
	nameHead    = regexp.MustCompile(`^[\s,;:|»›«‹·•—–)\]*_@>#-]+`)
	inBoard     = regexp.MustCompile(`(?i)\s+(?:on|in|at|about|am|le)\s+.*$|\s{3,}.*$`)
	roleNote    = regexp.MustCompile(`\s*\((?:[\p{L} ]{1,20})\)\s*$`)
	dateWords   = regexp.MustCompile(`(?i)\b(?:posted|date|on|at|asked|answered|replied|written|created|datum|am|le|published|geschrieben)\b`)
	dayAndMonth = regexp.MustCompile(`^(?:\d{1,2}\.? (\p{L}+)|(\p{L}+)\.? \d{1,2})$`)
	proseMark   = regexp.MustCompile(`\p{L}{3}[.!?]\s+\p{Lu}|[?!=]|\d{4,}[.,]\d`)
)

// notNames are words that stand where a name could, but are none.
const notNames = " answered asked replied commented wrote written said created published started submitted update updated edit edited fixed solved repaired replaced date posted post result results test tests day on in since until bought " +
	"installed serviced reply replies quote report share like likes thanks members joined registered messages posts location " +
	"page views today yesterday thread topic board forum forums home index advertisement advert sponsored search login log register " +
	"re subject permalink link top new score votes answer answers question comment comments " +
	"quoted zitat beiträge last first next previous by from is was it i we my the a an this that and but so there when what also mon tue wed thu fri sat sun " + roleNames

// roleNames are those of notNames that people go by all the same, as a date right beside them tells.
const roleNames = " guest admin administrator moderator member user newbie senior junior veteran supporter helper vendor "

// isName tells whether s can be the name a person goes by on a site.
func isName(s string) bool {
	if s == "" || utf8.RuneCountInString(s) > maxNameLen || !strings.ContainsFunc(s, isAlnum) {
		return false
	}
	words := strings.Fields(s)
	if len(words) > maxNameWords || proseMark.MatchString(s) || strings.HasSuffix(s, ":") || strings.ContainsAny(s, "{}<>\"“”") {
		return false
	}
	if isStopWord(words[0]) && (len(words) == 1 || isStopWord(words[1]) || !unicode.IsUpper(firstRune(words[1]))) {
		return false
	}
	if isCount(words) {
		return false
	}
	if m := dayAndMonth.FindStringSubmatch(s); m != nil && monthByName(m[1]+m[2]) > 0 {
		return false
	}
	return strings.ContainsFunc(s, unicode.IsLetter) || !strings.ContainsAny(s, ":/.,") && len(s) > 3
}

// isDatedName is isName for what stands right beside a date: a role is a name there.
func isDatedName(s string) bool {
	return isName(s) || wordCount(s) == 1 && strings.Contains(roleNames, " "+strings.ToLower(s)+" ")
}

// isCount tells counters such as "3 answers" from names.
func isCount(words []string) bool {
	return len(words) == 2 && strings.Trim(words[0], "0123456789,.k") == "" && isStopWord(words[1])
}

func isStopWord(w string) bool {
	return strings.Contains(notNames, " "+strings.ToLower(strings.Trim(w, ".,:()#"))+" ")
}

func firstRune(s string) rune {
	r, _ := utf8.DecodeRuneInString(s)
	return r
}

func isAlnum(r rune) bool { return unicode.IsLetter(r) || unicode.IsDigit(r) }

// parseByline reads a line such as "name » Wed 9 Jun 2021 07:40", "Posted by name on 3 May 2020" or "#3 name — 2 days ago".
// Names that the line sets off from the rest (bold, a link) are tried first.
func parseByline(line string, setOff []string) (byline, bool) {
	if len(line) > maxBylineLen*2 {
		line = line[:maxBylineLen*2]
	}
	when, at, ok := findDate(line)
	if !ok {
		return byline{}, false
	}
	head, tail := line[:at.start], line[at.end:]
	by := byline{when: when, end: at.end + closing(tail)}
	if wordCount(head) > 14 {
		return byline{}, false
	}
	for _, name := range setOff {
		if isName(name) && strings.Contains(head, name) && !proseMark.MatchString(strings.Replace(head, name, "", 1)) {
			by.author = strings.TrimPrefix(name, "@")
			return by, true
		}
	}
	if name := nameIn(head); name != "" {
		by.author = name
		return by, true
	}
	if strings.TrimSpace(strip(head)) != "" {
		return byline{}, false
	}
	for _, name := range setOff {
		if isName(name) && strings.Contains(tail, name) {
			by.author = name
			by.end = at.end + strings.Index(tail, name) + len(name)
			return by, true
		}
	}
	if m := writtenBy.FindStringSubmatch(tail); m != nil && wordCount(tail) <= 8 {
		if name := trimName(m[1]); isDatedName(name) {
			by.author, by.end = name, len(line)
			return by, true
		}
	}
	return by, true
}

// closing measures the punctuation that closes a byline, such as "):".
func closing(tail string) int {
	return len(tail) - len(strings.TrimLeft(tail, " ):]*_·—–-|,"))
}

// nameIn finds the name in what stands before the date of a byline.
func nameIn(head string) string {
	head = postNumber.ReplaceAllString(head, " ")
	if m := writtenBy.FindStringSubmatch(head); m != nil {
		if name := trimName(inBoard.ReplaceAllString(m[1], "")); isDatedName(name) {
			return name
		}
	}
	if name := trimName(head); isDatedName(name) {
		return name
	}
	return ""
}

// strip takes words off that belong to a date and name nobody.
func strip(head string) string {
	head = postNumber.ReplaceAllString(head, " ")
	head = dateWords.ReplaceAllString(head, " ")
	return strings.Trim(head, " ,;:|»›·•—–()[]-*_\t")
}

func trimName(s string) string {
	s = roleNote.ReplaceAllString(strings.TrimSpace(s), "")
	if cut := sayVerb.ReplaceAllString(s, ""); cut != "" {
		s = cut
	}
	for range 4 {
		s = nameHead.ReplaceAllString(nameTail.ReplaceAllString(strings.TrimSpace(s), ""), "")
	}
	return strings.TrimSpace(s)
}

func wordCount(s string) int { return len(strings.Fields(s)) }

// quotedBy reads the attribution of a quote: "X wrote:", "Originally posted by X", "X said: ↑". The offset is where the
// quoted words begin in the line.
func quotedBy(line string) (author string, words int, ok bool) {
	if m := originallyBy.FindStringSubmatchIndex(line); m != nil {
		return cleanQuoted(line[m[2]:m[3]]), m[1], true
	}
	if m := saidLine.FindStringSubmatchIndex(line); m != nil {
		return cleanQuoted(line[m[2]:m[3]]), m[1], true
	}
	return "", 0, false
}

var (
	originallyBy = regexp.MustCompile(`^(?i:\W*(?:quote:?\s*)?(?:originally (?:posted|written) by|quot(?:e|ing) from|posted by|zitat von|citation de|quote by))\s*:?\s*@?([^\n:]{1,40}?)\s*(?:[:»↑\n]|$)\s*`)
	saidLine     = regexp.MustCompile(`^(?i:(?:quote:?\s*)?(?:on .{3,60}?,? )?)([^\n:]{1,40}?)\s*(?i:<[^>]*>\s*)?\s+(?i:wrote|said|says|writes|schrieb|sagte|skrev|schreef|escribió|a écrit|ha scritto|escreveu)(?i:[^\n:]{0,40})?(?:\s*:\s*↑?|$)\s*`)
)

func cleanQuoted(name string) string {
	if _, at, ok := findDate(name); ok {
		name = strings.TrimSpace(name[at.end:])
	}
	return strings.Trim(nameHead.ReplaceAllString(nameTail.ReplaceAllString(name, ""), ""), "*_ ")
}

// Lines of a page's machinery. They are matched against whole lines only.
var (
	noiseLine = regexp.MustCompile(`(?i)^\W*(?:page \d+ of \d+.*|you (?:must|need to) log ?in.*|\(?you must .*|please log in.*|log in (?:or|to) .*|click to expand.*|show more|read more|\[?\s*(?:advertise?ment|advert|sponsored|anzeige|werbung|promoted)\b.*|>>>.*<<<|hide ads?|skip to content|` +
		`jump to.*|\d+k? (?:views|replies|posts).*|(?:©|\(c\)|copyright)\W.*|similar (?:threads|topics|questions).*|related (?:threads|topics|questions).*|recommended reading|more from this seller.*|share this (?:page|post).*|terms (?:and|of) .*|cookie settings|` +
		`return to\s+["“].*|who is online.*|nobody has replied.*|be the first!?|no replies yet.*|this is an older thread.*|\d+ answers? yet.*|be the first to \w+.*|you cannot (?:reply|post).*|this topic is locked.*|(?:about us|contact us|help|privacy|cookies|impressum)(?:\s*[|·]\s*.*)|all times are .*|` +
		`insert quotes.*|post reply.*|thread tools.*|users? (?:viewing|browsing).*|board index.*|<<\s*back to.*|liked by .*|reactions: .*|was this (?:\w+ )?helpful.*|did (?:this|that) help\?.*|#\s?\d{1,5}|\d+ (?:people|users?|members?) (?:found|like).*)$`)
	editNote = regexp.MustCompile(`(?i)^[\W_]*(?:(?:this (?:post|message) (?:was|has been) )?(?:last )?edited\b(?: \d+ times?)?(?:\s+(?:by|on|at)\b|[:;,]|\s+\p{L}{3,9} \d|\s+\d)|last (?:edit|modified|updated)(?:\s+by\b|:)|zuletzt (?:bearbeitet|geändert)|edited in|dernière modification|edit(?:ed)? by\b|edit reason).*`)
	metaLine = regexp.MustCompile(`(?i)^\W*(?:(?:posts|messages|joined|registered|member since|location|from|beiträge|reputation|thanks(?: given| received)?|likes(?: received)?|karma|registriert|ort|age|gender|status|rank|real name|country|bikes?|cars?|vehicle|machines?)\s*[:=]?\s+\S.{0,40}|joined .{4,12}\s+[\d,.]+ posts?|[\d,.]+ posts?|[\d,.]+ messages|.{0,20}\bmember|(?:super |global )?moderator|administrator|newbie|regular|old hand|veteran|site supporter|op|user|guest|thread starter)\W*$`)
)

const actionWords = " like likes reply replies quote report share save top thanks thank upvote downvote permalink link edit flag follow subscribe bookmark copy helpful yes no " +
	"mail email print more options delete pm up down vote votes score points message seller this ad watch multi-quote multiquote multi back to home react add award give unread post answer comment comments expand login accepted "

// isNoise tells a line of buttons, counters, notices and advertisements from what somebody wrote.
func isNoise(line string) bool {
	line = strings.TrimSpace(line)
	if line == "" {
		return false
	}
	if noiseLine.MatchString(line) {
		return true
	}
	if parts := strings.Split(line, " | "); len(parts) > 1 && len(line) < 120 {
		return !slices.ContainsFunc(parts, func(part string) bool { return strings.TrimSpace(part) != "" && !isNoise(part) })
	}
	words := strings.FieldsFunc(strings.ToLower(line), func(r rune) bool { return !isAlnum(r) && r != '-' && r != '#' })
	actions := 0
	for _, w := range words {
		switch {
		case strings.Contains(actionWords, " "+w+" "):
			actions++
		case strings.Trim(w, "x#0123456789-") != "":
			return false
		}
	}
	lone := len(words) == 1 && strings.Contains(" thanks thank yes no more up down back edit home unread message answer comment ad ", " "+words[0]+" ")
	if len(words) == 0 {
		return !strings.ContainsFunc(line, func(r rune) bool { return r > 0x2190 || isAlnum(r) }) && len(line) >= 3
	}
	return actions > 0 && len(words) <= 14 && !lone && !strings.ContainsAny(line, ".?!")
}
