package ingest

import (
	"regexp"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"ruledout/kb"
	"ruledout/kb/vin"
)

var (
	emailAddress = regexp.MustCompile(`(?i)[\p{L}\p{N}][\p{L}\p{N}._%+'-]*(?:@|%40)[\p{L}\p{N}](?:[\p{L}\p{N}-]*[\p{L}\p{N}])?(?:\.[\p{L}\p{N}](?:[\p{L}\p{N}-]*[\p{L}\p{N}])?)+`)
	spelledEmail = regexp.MustCompile(`(?i)[\p{L}\p{N}][\p{L}\p{N}._%+-]*\s?(?:\(at\)|\[at\]|\{at\}|<at>|\sat\s)\s?[\p{L}\p{N}][\p{L}\p{N}-]*(?:\s?(?:\(dot\)|\[dot\]|\{dot\}|\sdot\s)\s?[\p{L}\p{N}-]+)+`)
	halfSpelled  = regexp.MustCompile(`(?i)[\p{L}\p{N}][\p{L}\p{N}._%+-]*\s?(?:\(at\)|\[at\]|\{at\})\s?[\p{L}\p{N}][\p{L}\p{N}-]*(?:\.[\p{L}\p{N}-]+)+`)
)

func findEmails(text string) []find {
	var out []find
	lower := strings.ToLower(text)
	var rules []*regexp.Regexp
	if namesAny(lower, "@", "%40") {
		rules = append(rules, emailAddress)
	}
	if strings.Contains(lower, "at") && strings.Contains(lower, "dot") {
		rules = append(rules, spelledEmail)
	}
	if namesAny(lower, "(at)", "[at]", "{at}") {
		rules = append(rules, halfSpelled)
	}
	for _, re := range rules {
		for _, m := range re.FindAllStringIndex(text, -1) {
			out = append(out, find{span: span{m[0], m[1]}, what: MaskedEmail})
		}
	}
	return out
}

// maskAddress takes mail addresses and vehicle identification numbers out of the address of a page. Longer numbers in it are those of
// threads and posts.
func maskAddress(url string) string {
	masked := url
	for _, f := range slices.Concat(findEmails(url), findVINs(url, 0)) {
		masked = strings.ReplaceAll(masked, url[f.start:f.end], "masked")
	}
	return masked
}

// findVINs finds vehicle identification numbers; latest is the last model year that can be meant, 0 if unknown.
func findVINs(text string, latest int) []find {
	var out []find
	for _, s := range vin.Find(text) {
		facts := s.VIN.Facts(latest)
		out = append(out, find{span{s.Start, s.End}, MaskedVIN, &kb.VINFacts{Region: facts.Region, ModelYear: facts.ModelYear, Check: string(facts.Check)}})
	}
	return out
}

func countDigits(s string) int {
	n := 0
	for _, r := range s {
		if r >= '0' && r <= '9' {
			n++
		}
	}
	return n
}

var (
	phoneDigits = regexp.MustCompile(`(?:\+|\b00)?\(?\d[\d ()./\x{a0}\x{2011}\x{2013}-]{4,20}\d\b`)
	phoneCue    = regexp.MustCompile(`(?i)\b(?:tel(?:ephone|efon|éfono|efono)?|phone|ph|mob(?:ile)?|cell|handy|fax|call|ring|text|txt|sms|dial|contact|reach|message|workshop|office|home)\b[^.!?\n]{0,48}$`)
	phoneLabel  = regexp.MustCompile(`(?i)\b(?:tel(?:ephone|efon)?|phone|ph|mob(?:ile)?|cell|handy|fax|sms|txt)\b[.:]?\s*(?:no\.?|number|nr\.?|is|on|at|me on|me at)?[\s:#]*$`)
	localPhone  = regexp.MustCompile(`^\d{3}[-. ]\d{4}$`)
	areaPhone   = regexp.MustCompile(`^(?:1[-. ])?\(?\d{3}\)?[-. ]{1,2}\d{3}[-. ]\d{4}$`)
	trunkPhone  = regexp.MustCompile(`^\(?0\d{2,5}\)?[ /-]{1,2}\d{3,8}(?:[ -]?\d{2,5}){0,3}$|^0\d{3,4} ?\d{6,7}$|^0\d(?:[ .-]\d\d){4}$`)
	partCue     = regexp.MustCompile(`(?i)(?:\bpart(?:s)?\b|\bp/?n\b|\bpn\b|\bnumber\b|\bno\.|\bref\b|\boem\b|\bserial\b|\bs/?n\b|\bitem\b|\bsku\b|\bcode\b|#)[^.!?\n]{0,30}$`)
	unitAfter   = regexp.MustCompile(`(?i)^\s?(?:km|kms|mi|miles?|hrs?|hours?|h\b|ohms?|kohm|mohm|rpm|psi|bar|kpa|mpa|v\b|volts?|mv|a\b|amps?|ma\b|w\b|kw|hz|nm|mm|cm|m\b|ml|l\b|gal|lbs?|kg|eur|euros?|usd|gbp|quid|bucks|dollars|pounds|°|%|€|£|\$|Ω)`)
	priceBefore = regexp.MustCompile(`[$£€]\s?$`)
	dateShape   = regexp.MustCompile(`^(?:\d{1,2}[./-]\d{1,2}[./-](?:\d{2}|\d{4})|\d{4}[./-]\d{1,2}[./-]\d{1,2})\b`)
	rangeShape  = regexp.MustCompile(`^\d{1,4}\s?[-–/]\s?\d{1,4}$`)
)

const fewestPhoneDigits = 7

func findPhones(text string) []find {
	var out []find
	if countDigits(text) < fewestPhoneDigits {
		return nil
	}
	for _, m := range phoneDigits.FindAllStringIndex(text, -1) {
		start, end := m[0], m[0]+len(strings.TrimRight(text[m[0]:m[1]], " .-/("))
		if start > 0 && joinsNumber(text[:start]) || end < len(text) && joinsWord(text[end:]) {
			continue
		}
		if isPhone(text[:start], text[start:end], text[end:]) {
			if start > 0 && text[start-1] == '(' {
				start--
			}
			out = append(out, find{span: span{start, end}, what: MaskedPhone})
		}
	}
	return out
}

// joinsNumber tells whether what stands before makes the digits part of a longer word, such as a part number.
func joinsNumber(before string) bool {
	r := lastRune(before)
	return isAlnum(r) || strings.ContainsRune("-_.,/#$£€", r)
}

func lastRune(s string) rune {
	r, _ := utf8.DecodeLastRuneInString(s)
	return r
}

func joinsWord(after string) bool {
	r, size := utf8.DecodeRuneInString(after)
	next, _ := utf8.DecodeRuneInString(after[size:])
	return isAlnum(r) || r == '_' || (r == '-' || r == ',' || r == ':') && isAlnum(next)
}

// isPhone decides by the shape of the digits and the words around them. Readings, prices, dates and part numbers have
// units, signs, shapes or words of their own.
func isPhone(before, number, after string) bool {
	digits := countDigits(number)
	window := before[max(0, len(before)-70):]
	if digits < fewestPhoneDigits || digits > 15 || dateShape.MatchString(number) || unitAfter.MatchString(after) || priceBefore.MatchString(window) {
		return false
	}
	labelled := phoneLabel.MatchString(window)
	if strings.HasPrefix(number, "+") || labelled {
		return true
	}
	part := partCue.MatchString(window) && !phoneCue.MatchString(window)
	switch {
	case trunkPhone.MatchString(number) && digits >= 9 && digits <= 12, areaPhone.MatchString(number):
		return !part
	case rangeShape.MatchString(number) && !localPhone.MatchString(number):
		return false
	}
	return phoneCue.MatchString(window) && !part && (localPhone.MatchString(number) || strings.ContainsAny(number, " -./()") && digits <= 13 && !thousands.MatchString(number) || digits >= 9)
}

var thousands = regexp.MustCompile(`^\d{1,3}(?:[ .]\d{3})+$`)

const (
	capWord    = `\p{Lu}[\p{Ll}'’]+(?:-\p{Lu}\p{Ll}+)*`
	townTail   = `(?:,? (?:\d{4,5} )?` + capWord + `(?: ` + capWord + `){0,2})?`
	streetWord = `(?:Street|St|Road|Rd|Avenue|Ave|Av|Lane|Ln|Drive|Dr|Court|Ct|Close|Crescent|Cres|Way|Terrace|Place|Pl|Yard|Wynd|Row|Square|Sq|Boulevard|Blvd|Parkway|Pkwy|Highway|Hwy|Mews|Grove|Gardens|Walk|Circle|Cir|Trail|Alley|Quay|Wharf|Rise|Brae|Vennel|Gate|Park|View|Green|Hill|Loop|Crossing|Route|Parade|Esplanade)`
)

// Shapes of street addresses in several languages. The town behind goes with them.
var (
	houseStreet = regexp.MustCompile(`(?:` + capWord + `(?: ` + capWord + `){0,2}, )?\b\d{1,5}[a-zA-Z]?,? (?:(?:N|S|E|W|North|South|East|West|Old|The|St)\.? )?(?:` + capWord + ` ){1,3}` + streetWord + `\b\.?(?:, ` + capWord + `(?: ` + capWord + `){0,2}){0,2}(?:,? (?:[A-Z]{2} \d{5}(?:-\d{4})?|[A-Z]{1,2}\d[A-Z\d]? ?\d[A-Z]{2}))?`)
	prefixRoad  = regexp.MustCompile(`\b(?:Rua|Avenida|Travessa|Praça|Calle|Carrer|Camino|Plaza|Via|Viale|Piazza|Corso|Rue|Avenue|Chemin|Allée|Impasse|Boulevard|Quai|Ulica|ul\.|Strada|Rúa)(?: (?:de|do|da|dos|das|del|della|dei|des|du|la|le|les|el|los|d'|di))*(?: ` + capWord + `(?: (?:de|do|da|del|du|des))?){1,4},? (?:n\.?º? ?)?\d{1,4}[a-z]?\b` + townTail)
	frenchRoad  = regexp.MustCompile(`\b\d{1,4}(?: ?bis)?,? (?:rue|avenue|chemin|allée|impasse|boulevard|quai|place)(?: (?:de|du|des|la|le|les|l'|d'))*(?: ` + capWord + `){1,3}` + townTail)
	suffixRoad  = regexp.MustCompile(`\b\p{Lu}[\p{L}-]*(?:straße|strasse|str\.|gasse|platz|allee|damm|ufer|straat|laan|plein|kade|dijk|gatan|gata|vägen|veien|vegen|gaten|vej|gade|katu|utca|weg|lia|bakken)(?: ?\d{1,4} ?[a-z]?\b)` + townTail)
	postalTown  = regexp.MustCompile(`\b` + capWord + `(?: ` + capWord + `){0,2} \d{1,4}[a-zA-Z]?, (\d{4,5})(?: [A-Z]{2})? ` + capWord)
	poBox       = regexp.MustCompile(`(?i)\b(?:P\.? ?O\.? ?Box|Postfach|Postboks|Postbus) \d{1,6}\b`)
	notStreet   = regexp.MustCompile(`(?i)\b(?:wheel|chain|belt|speed|shaft|hard|disk|final|direct|servo|axis|phase|front|rear|port|pin|flat|gear|volt|amp|cubic|square|spindle|tape|way|post)s? (?:drive|dr|way|place|court|yard|row|park|gate|view|circle|hill|loop)\b`)
	yearLike    = regexp.MustCompile(`^(?:19[5-9]|20[0-4])\d$`)
)

func findAddresses(text string) []find {
	var out []find
	add := func(start, end int) { out = append(out, find{span: span{start, end}, what: MaskedAddress}) }
	if countDigits(text) == 0 {
		return nil
	}
	for _, m := range houseStreets(text) {
		piece := text[m[0]:m[1]]
		number := firstNumber(piece)
		if notStreet.MatchString(piece) || yearLike.MatchString(number) && !strings.Contains(piece, ",") {
			continue
		}
		add(m[0], m[1])
	}
	for _, re := range roadRules(text) {
		for _, m := range re.FindAllStringIndex(text, -1) {
			add(m[0], m[1])
		}
	}
	for _, m := range postalTowns(text) {
		if !yearLike.MatchString(text[m[2]:m[3]]) {
			add(m[0], m[1])
		}
	}
	return out
}

// The words that each shape of address cannot do without; most posts hold none of them.
var (
	streetWords = strings.Split(strings.Trim(streetWord, "(?:)"), "|")
	prefixWords = []string{"Rua", "Avenida", "Travessa", "Praça", "Calle", "Carrer", "Camino", "Plaza", "Via", "Viale", "Piazza", "Corso", "Rue", "Avenue", "Chemin", "Allée", "Impasse",
		"Boulevard", "Quai", "Ulica", "ul.", "Strada", "Rúa"}
	frenchWords = []string{"rue ", "avenue ", "chemin ", "allée ", "impasse ", "boulevard ", "quai ", "place "}
	suffixWords = []string{"straße", "strasse", "str.", "gasse", "platz", "allee", "damm", "ufer", "straat", "laan", "plein", "kade", "dijk", "gatan", "gata", "vägen", "veien", "vegen", "gaten",
		"vej", "gade", "katu", "utca", "weg", "lia", "bakken"}
	boxWords = []string{"box", "postfach", "postboks", "postbus"}
)

func namesAny(text string, words ...string) bool {
	return slices.ContainsFunc(words, func(w string) bool { return strings.Contains(text, w) })
}

func houseStreets(text string) [][]int {
	if !namesAny(text, streetWords...) {
		return nil
	}
	return houseStreet.FindAllStringIndex(text, -1)
}

func roadRules(text string) []*regexp.Regexp {
	var out []*regexp.Regexp
	for _, r := range [...]struct {
		words []string
		text  string
		re    *regexp.Regexp
	}{{prefixWords, text, prefixRoad}, {frenchWords, text, frenchRoad}, {suffixWords, text, suffixRoad}, {boxWords, strings.ToLower(text), poBox}} {
		if namesAny(r.text, r.words...) {
			out = append(out, r.re)
		}
	}
	return out
}

// postcode is the end of the shape of postalTown that few texts hold.
var postcode = regexp.MustCompile(`\d[a-zA-Z]?, \d{4}`)

func postalTowns(text string) [][]int {
	if !strings.Contains(text, ", ") || !postcode.MatchString(text) {
		return nil
	}
	return postalTown.FindAllStringSubmatchIndex(text, -1)
}

var numbers = regexp.MustCompile(`\d+`)

func firstNumber(s string) string { return numbers.FindString(s) }

var (
	plateCue   = regexp.MustCompile(`(?i)\b(?:plates?|reg|regs|registration(?: (?:no|number|mark|plate))?|registered as|licen[cs]e|number ?plate|tag|rego|kennzeichen|kenteken|matr[ií]cula|immatriculation|targa|kjennemerke|regnr)\b[^.!?\n]{0,50}?$`)
	plateClose = regexp.MustCompile(`(?i)\b(?:plates?|reg|registration(?: (?:no|number|mark|plate))?|number ?plate|licen[cs]e|rego|kennzeichen|kenteken|matr[ií]cula|immatriculation|targa|regnr)\b\.?[\s:|#=]*(?:no\.?|number|is|was|of)?[\s:|#="'(]*$`)
	ukPlate    = regexp.MustCompile(`\b[A-Z]{2}(\d\d) ?([A-HJ-PR-Z]{3})\b`)
	otherPlate = regexp.MustCompile(`\b(?:[A-Z]\d{1,3} ?[A-Z]{3}|[A-Z]{3} ?\d{1,3} ?[A-Z]|[A-ZÄÖÜ]{1,3}[- ][A-Z]{1,2}[- ]?\d{1,4}[EH]?|[A-Z]{2}-\d{3}-[A-Z]{2}|\d{1,2}-[A-Z]{2,3}-\d{1,2}|[A-Z]{1,2}-\d{2,3}-[A-Z]{1,2}|[A-Z]{2,3}[ -]?\d{3,5}|\d{1,4}[ -]?[A-Z]{3}|\d[A-Z]{3}\d{3}|[A-Z]{1,3} ?\d{1,4} ?[A-Z]{0,3})\b`)
)

// commonThree are words of three letters that stand in running capitals where the end of a plate could.
const commonThree = " AND THE HAS WAS BUT FOR NOT ALL ARE CAN DID GOT HAD HER HIM HIS HOW ITS LET MAY NEW NOW OLD ONE OUT OWN SAY SEE TWO WAY WHO YOU GET OFF USE ANY DAY TRY SET RUN AMP OHM BAR PSI RPM VAC VDC KIT VAN CAR CAB ABS ECU FMI SPN LED EGR DPF OEM "

// plateWords are parts of all words that announce a plate.
var plateWords = []string{"plate", "reg", "licen", "tag", "kennzeichen", "kenteken", "matr", "targa", "kjennemerke"}

// isLicence tells whether what looks like a plate behind the word licence names the licence of a text and its version: "CC BY 4.0".
func isLicence(plate, after string) bool {
	version := len(after) > 1 && after[0] == '.' && after[1] >= '0' && after[1] <= '9'
	return version || strings.HasPrefix(plate, "CC ") || strings.HasPrefix(plate, "CC-")
}

func findPlates(text string) []find {
	if countDigits(text) == 0 {
		return nil
	}
	var out []find
	for _, m := range ukPlates(text) {
		before, letters := text[:m[0]], text[m[4]:m[5]]
		age := number(text[m[2]:m[3]])
		cue := plateCue.MatchString(before[max(0, len(before)-80):])
		spaced := strings.Contains(text[m[0]:m[1]], " ")
		valid := age >= 2 && age <= 49 || age >= 51 && age <= 99
		if valid && (cue || spaced && !strings.Contains(commonThree, " "+letters+" ") && !looksLikeModel(before) && !shouting(text, m[0], m[1]) && !partCue.MatchString(before[max(0, len(before)-70):])) {
			out = append(out, find{span: span{m[0], m[1]}, what: MaskedPlate})
		}
	}
	if !namesAny(strings.ToLower(text), plateWords...) {
		return out
	}
	for _, m := range otherPlate.FindAllStringIndex(text, -1) {
		before, plate := text[:m[0]], text[m[0]:m[1]]
		window := before[max(0, len(before)-80):]
		if isLicence(plate, text[m[1]:]) || countDigits(plate) == 0 || countDigits(plate) == len(plate) || strings.HasPrefix(strings.TrimLeft(text[m[1]:], " "), "V ") {
			continue
		}
		near := plateClose.MatchString(window)
		far := len(plate) >= 6 && plateCue.MatchString(window) && countDigits(plate) >= 3 && !shouting(text, m[0], m[1]) && !looksLikeModel(before)
		if near || far {
			out = append(out, find{span: span{m[0], m[1]}, what: MaskedPlate})
		}
	}
	return out
}

// ukPlates looks for the shape where two capitals stand before a digit at all.
func ukPlates(text string) [][]int {
	for i := 2; i < len(text); i++ {
		if text[i] >= '0' && text[i] <= '9' && isCapital(text[i-1]) && isCapital(text[i-2]) {
			return ukPlate.FindAllStringSubmatchIndex(text, -1)
		}
	}
	return nil
}

func isCapital(b byte) bool { return b >= 'A' && b <= 'Z' }

// looksLikeModel tells whether a make or model name stands right before, as in "number plate light of my Halden GX 450".
func looksLikeModel(before string) bool {
	before = before[max(0, len(before)-60):]
	words := strings.Fields(before[strings.LastIndexByte(before, '\n')+1:])
	if len(words) == 0 {
		return false
	}
	last := words[len(words)-1]
	return unicode.IsUpper(firstRune(last)) && isAlnum(lastRune(last)) && !plateClose.MatchString(last) || yearLike.MatchString(last)
}

// shouting tells whether the text around a place is written in capitals, where any word could be taken for a sign.
func shouting(text string, start, end int) bool {
	upper, lower := 0, 0
	for _, r := range text[max(0, start-60):start] + text[end:min(len(text), end+60)] {
		switch {
		case unicode.IsUpper(r):
			upper++
		case unicode.IsLower(r):
			lower++
		}
	}
	return upper > lower
}
