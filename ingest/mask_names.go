package ingest

import (
	"regexp"
	"strings"
	"unicode"
	"unicode/utf8"
)

// givenNames are common first names of several languages: with one of them in front, a capitalised word is likely to be a
// last name. Names that are also everyday words are left out.
const givenNames = ` aaron abigail adam adrian agnes agnieszka alan albert alberto alejandro aleksander alex alexander alexandra alfred alice alison amanda amelia amy ana andrea andreas andrew andrzej angela anita anja anke anna anne annette annika anthony anton antonio arne arnold arthur astrid audrey axel
 barbara beatrice ben benjamin bernard bernd bernhard beth betty bjorn bjørn björn boris brandon brenda brian bridget bruno bryan bryn camille carl carla carlos carmen carol caroline catherine cecilia charles charlotte chris christian christina christine christopher claire clara claudia claus colin connor craig cristina cynthia
 daniel daniela danielle darren dave david deborah debbie denise dennis derek diana diane diego dieter dirk dmitri dominic donald donna doris dorothy douglas duncan dylan eberhard edith edward edwin eileen elena eleanor eliza elizabeth ella ellen elsa emily emma eric erica erik erika ernst esther ethan eugene eva evelyn ewan
 felix fernando finn fiona florian francesca francesco francis francisco frank franz fred frederick frederik friedrich fritz gabriel gareth gary geoff geoffrey george gerald gerard gerd gerhard gertrude giovanni giulia gillian gisela giuseppe glenn gordon graham greg gregory greta gunnar günter gunther guido gustav
 hannah hannelore hans harald harold harriet harry heather hector heidi heike heinrich heinz helen helena helga helmut henri henrik henry herbert hermann hilda horst howard hubert hugh hugo ian ignacio inga inge ingrid irene iris isabel isabella isabelle ivan jack jackie jacob jacqueline jacques james jamie jan jane janet janine jason javier jean jeff jeffrey jennifer jenny jeremy jerry jessica jill jim joachim joan joanna joanne joao joão joel johan johann johannes john johnny jonas jonathan jordan jorge jörg josé jose josef joseph joshua joyce juan judith judy julia julian julie jürgen justin
 kai karen karin karl katarina kate katherine kathleen kathryn katrin keith kelly ken kenneth kerstin kevin kieran kim kirsten klaus knut konrad krzysztof kurt kyle lars larry laura lauren laurence laurent lawrence leah lena leo leon leonard leslie lewis liam linda lisa lothar louis louise luca lucas lucia lucy luigi luis luisa lukas luke lynn
 maciej magdalena malcolm manfred manuel marc marcel marco marcus margaret maria marianne marie mario marion marjorie markus marta martha martin martina mary mateusz mathias matilda matt matteo matthew matthias maureen maurice max maximilian megan melanie melissa michael michal michel michele michelle miguel mike mikael mildred miriam mohamed mohammed moira monica monika muriel
 nadine nancy natalia natalie natasha nathan neil nicholas nicola nicolas nicole nigel nils nina nora norbert norman norma olaf ole olga oliver olivia oscar oskar otto owen pablo pamela paolo pascal patricia patrick paul paula pauline pavel pedro peggy per peter petra philip philippe phillip phyllis pierre pieter piotr priscilla
 rachel rafael rainer ralf ralph ramon raymond rebecca regina reinhard renate rene rené rhys ricardo richard rita robert roberto robin rodney roger roland rolf ron ronald rosa rosemary ross rowan roy rudolf rupert russell ruth ryan sabine sally sam samantha samuel sandra sara sarah scott sean sebastian sergio sharon sheila shirley sigrid silke silvia simon sofia sonia sonja sophia sophie stan stanislav stanley stefan stefanie stella stephanie stephen steve steven stewart stuart susan susanne suzanne sven svetlana sylvia
 tamara tanja tanya teresa terry thelma theo theodore theresa thomas thorsten tiffany tim timothy tobias todd tom tomas tomasz tommy tony torsten tracy trevor trudy ulrich ulrike ursula uwe valerie vanessa vera veronica vicky victor victoria vincent violet virginia vivian vladimir
 walter wanda warren wayne wendy werner wilfred wilhelm william willy winifred wojciech wolfgang yolanda yvonne zoe zofia halvard sigurd torbjørn geir odd kåre solveig ragnhild ines joaquim paulo rui tiago vasco piet kees jeroen maarten willem sander joost marieke anneke femke milan marek jakub tereza zdenek jolanda margit gábor istván lászló zoltán deirdre siobhan niamh aoife eamon gethin gwen gwenllian dilys hamish fergus morag catriona `

// notSurnames are capitalised words that follow a first name without being a last name.
const notSurnames = ` the and at in on of or is was has had will would can and from for with who said says wrote monday tuesday wednesday thursday friday saturday sunday january february march april may june july august september october november december street road lane avenue mon tue wed thu fri sat sun jan feb mar apr jun jul aug sep oct nov dec it its i you he she we they if when where what why how thanks thank cheers great good new old best yes no not but so ok please sorry update edit `

const nameWord = `\p{Lu}[\p{Ll}'’]+(?:-\p{Lu}\p{Ll}+)*`

const twoNames = `(` + nameWord + `)((?: \p{Lu}\.)? (?:(?:van|von|de|der|den|del|della|da|di|du|le|la|af|zu|Mc|Mac|O')[ ]?){0,2}` + nameWord + `)`

var (
	namePair     = regexp.MustCompile(`^` + twoNames)
	givenSurname = regexp.MustCompile(`\b` + twoNames)
	nameCue      = regexp.MustCompile(`(?i)(?:\bmy name(?:'s| is)|\bname\s*[:|]|\b(?:i am|i'm)|\bask for|\bcontact(?: person)?[:|]?|\bsigned|\b(?:customer|owner|client|kunde|driver|operator|keeper)\s*[:|]|\b(?:best |kind |warm )?(?:regards|wishes)[,.]?|\bcheers,|\bthanks,|\byours(?: sincerely| faithfully)?,|\bsincerely,|\b(?:mr|mrs|ms|miss|dr|herr|frau|monsieur|madame|senhor|señor)\.?|mvg,?|gruß,?|groeten,?|mit freundlichen grüßen,?)[ \t]*\n?[ \t]*$`)
	reachCue     = regexp.MustCompile(`(?i)\b(?:ring|call|phone|text|mail|email|e-mail|message|contact|write to|speak to|talk to|collect from|reach)\s*$`)
	anyName      = regexp.MustCompile(`\b` + nameWord + `(?: \p{Lu}\.)? (?:(?:van|von|de|der|den|del|della|da|di|du|le|la|af|zu) ){0,2}` + nameWord)
	closingName  = regexp.MustCompile(`^(` + nameWord + `(?: \p{Lu}\.)? ` + nameWord + `)(?:,[^\n]*)?(?:\n|$)`)
	contactAfter = regexp.MustCompile(`^(?:,? (?:on|at|tel\.?|phone|mob(?:ile)?\.?|cell)?[ :]*|,[^\n]{0,40}?[, ]|\s*\n(?:[^\n]{0,60}\n)?[^\n]{0,30}?|[ ]?[-–|/][^\n]{0,40}?)` + Veil)
	orgWord      = regexp.MustCompile(`(?i)\b(?:repairs?|services?|garage|motors?|parcels|trust|farms?|workshop|ltd|gmbh|inc|llc|club|forum|board|register|cottage|house|street|road|lane|yard|creek|bay|harbou?r|light|company|engineering|haulage|transport|talk|answers|owners|group|society|notebook|team|edition|hybrid|diesel|turbo|sport|estate|saloon|pickup|truck|van|tractor|series)\b`)
)

func isGiven(word string) bool {
	return strings.Contains(givenNames, " "+strings.ToLower(word)+" ")
}

func isSurname(rest string) bool {
	words := strings.Fields(rest)
	last := strings.ToLower(words[len(words)-1])
	return !strings.Contains(notSurnames, " "+strings.Trim(last, ".'’")+" ") && !orgWord.MatchString(last) && len([]rune(last)) > 1
}

// givenOf gives the first name of a name that is a first and a last name and nothing else.
func givenOf(name string) (string, bool) {
	m := givenSurname.FindStringSubmatchIndex(name)
	if m == nil || m[0] != 0 || m[1] != len(name) || !isGiven(group(name, m, 1)) || !isSurname(group(name, m, 2)) {
		return "", false
	}
	return group(name, m, 1), true
}

// findNames finds full names: a common first name with a last name behind it, and any two capitalised words where a
// phrase announces a name or a masked phone number, address or mail address follows.
func findNames(text string) []find {
	var out []find
	joined := false // what stands at the place goes on a word
	for at := 0; at < len(text); {
		next := nextCapital(text[at:], joined)
		if next < 0 {
			break
		}
		at += next
		m := namePair.FindStringSubmatchIndex(text[at:])
		if joined = m == nil; joined {
			r, size := utf8.DecodeRuneInString(text[at:])
			at, joined = at+size, wordSign(r)
			continue
		}
		given, rest := group(text[at:], m, 1), group(text[at:], m, 2)
		if isGiven(given) && isSurname(rest) && !continues(text[at+m[1]:]) && !strings.HasSuffix(text[:at+m[0]], "-") {
			out = append(out, find{span: span{at + m[0], at + m[1]}, what: MaskedName})
			at += m[1]
			continue
		}
		at += m[3] // the second word can be a first name too
	}
	return append(out, announcedNames(text)...)
}

// announcedNames finds two capitalised words where a phrase announces a name or something to reach a person by follows.
func announcedNames(text string) []find {
	var out []find
	for at := 0; ; {
		m := anyName.FindStringIndex(text[at:])
		if m == nil {
			return out
		}
		m[0], m[1] = m[0]+at, m[1]+at
		name := text[m[0]:m[1]]
		first, _, _ := strings.Cut(name, " ")
		if at = m[1]; reachCue.MatchString(first) {
			at = m[0] + len(first) // "Call Moira": the name comes after the verb
			continue
		}
		if !couldBeName(name) {
			continue
		}
		before, after := text[max(0, m[0]-40):m[0]], text[m[1]:]
		if continues(after) {
			continue
		}
		alone := lineStart(text, m[0])
		if nameCue.MatchString(before) || (alone || reachCue.MatchString(before)) && contactAfter.MatchString(after[:min(len(after), 140)]) {
			out = append(out, find{span: span{m[0], m[1]}, what: MaskedName})
		}
	}
}

// nextCapital finds the next place where a capital begins a word; -1 if there is none. Borders of words are those of the
// patterns here, which know the letters of ASCII only.
func nextCapital(text string, joined bool) int {
	for i, r := range text {
		sign := wordSign(r)
		if sign != joined && unicode.IsUpper(r) {
			return i
		}
		joined = sign
	}
	return -1
}

func wordSign(r rune) bool { return r < utf8.RuneSelf && (isAlnum(r) || r == '_') }

// couldBeName tells whether capitalised words can be a person's name: no company, no sentence.
func couldBeName(name string) bool {
	given, _, _ := strings.Cut(name, " ")
	return !orgWord.MatchString(name) && isSurname(name) && !isStopWord(given) && !strings.Contains(notSurnames, " "+strings.ToLower(given)+" ")
}

// continues tells whether a name goes on into a number or another word, as the name of a model does.
func continues(after string) bool {
	r := firstRune(after)
	if r == ' ' {
		r = firstRune(after[1:])
		return unicode.IsDigit(r)
	}
	return isAlnum(r) || r == '_' || r == '@' || r == '-' && isAlnum(firstRune(after[1:]))
}

// lineStart tells whether nothing but marks stands before a place in its line.
func lineStart(text string, at int) bool {
	lead := strings.TrimRight(text[max(0, at-12):at], " -*~|>–—")
	return lead == "" && at <= 12 || strings.HasSuffix(lead, "\n")
}
