package ingest

import "strings"

// The classes of cue. What a phrase means for a statement is decided where the classes are used; the tables of cues only say
// which phrases people use. They are common English of the trade, British and American, native and not.
const (
	cueNoChange  = "no change"   // what was done did not help
	cueFixed     = "fixed"       // the fault is gone
	cuePartial   = "partial"     // better, not cured
	cueBack      = "back"        // the fault is there again
	cueBoth      = "both"        // each of several repairs took part
	cueCredit    = "credit"      // names the culprit: "turned out to be"
	cueClear     = "clear"       // takes the blame from a component: "wasn't the"
	cueAdvice    = "advice"      // what somebody should do
	cueGuess     = "guess"       // what somebody believes
	cueIf        = "if"          // a condition
	cuePlan      = "plan"        // not done yet
	cueHearsay   = "hearsay"     // what others say
	cueOther     = "other"       // somebody else's machine
	cueGood      = "good"        // verdict of a test: good
	cueBad       = "bad"         // verdict of a test: bad
	cueUnsure    = "unsure"      // verdict of a test: cannot be told
	cueLimit     = "limit"       // what follows is what a reading should be
	cueOpenEnd   = "open end"    // the repair is not finished
	cueReproduce = "reproduce"   // bringing the fault back on purpose
	cueUnsolved  = "unsolved"    // says outright that there is no cure
	cueSame      = "same here"   // the writer has the same on a machine of their own
	cueSwap      = "swap"        // substitution with a known-good part
	cueHold      = "hold"        // held over time, distance or cycles
	cueUnknowing = "unknowing"   // which of several did it cannot be told
	cueHanded    = "handed over" // the machine went to somebody else to mend
	cueScrapped  = "scrapped"    // nobody will mend it
	cueGeneral   = "general"     // what is so in general
)

// cueGroup is a group of phrases that are built alike and mean the same. Each row of a table is one group; to teach the program a
// new way of saying something, find the row whose example it resembles and add the phrase, or add a row.
type cueGroup struct {
	class   string
	example string // a sentence that holds a phrase of the group; a test reads it
	phrases string // parted by commas; see expand for the signs in them, cueSets for the words in braces
}

// cue is one phrase of a table.
type cue struct{ class, phrase string }

// cueSets are words that stand for each other in phrases, in the singular and without signs, as words are folded.
var cueSets = strings.NewReplacer(
	"{goes}", "works|runs|starts|heats|cools|charges|idles|shifts|drains|fires|prints|pumps|spins|drives|cranks|ignites|fills|steers|lifts|behaves|empties|pulls",
	"{went}", "worked|ran|started|heated|cooled|charged|idled|shifted|drained|fired|printed|pumped|spun|drove|lit|cranked|ignited|filled|behaved|pulled|shifted|emptied",
	"{going}", "working|running|starting|heating|cooling|charging|idling|shifting|draining|firing|printing|pumping|spinning|driving|cranking|behaving",
	"{well}", "fine|perfect|perfectly|great|normal|normally|properly|well|sweet|sweetly|smooth|smoothly|flawlessly|faultlessly|cleanly|beautifully|nicely|correctly|reliably|lovely|brilliantly",
	"{fault}", "code|light|lamp|fault|error|problem|issue|noise|warning|message|alarm|leak|misfire|trouble|symptom|lockout|vibration|shudder|smell|squeal|knock|rattle",
	"{not}", "didnt|did_not|doesnt|does_not|hasnt|has_not|havent|have_not|wont|didn",
)

// cueTable gives the phrases of all tables.
func cueTable() []cue {
	var all []cue
	for _, table := range [][]cueGroup{outcomeCues(), kindCues()} {
		for _, g := range table {
			for phrase := range strings.SplitSeq(cueSets.Replace(g.phrases), ",") {
				all = append(all, cue{g.class, strings.TrimSpace(phrase)})
			}
		}
	}
	return append(all, readCues(verdictCues)...)
}

// readCues reads a table in text: a class in brackets, then its phrases, parted by commas.
func readCues(table string) []cue {
	var all []cue
	class := ""
	for line := range strings.SplitSeq(table, "\n") {
		line = strings.TrimSpace(line)
		if name, ok := strings.CutPrefix(line, "["); ok {
			class = strings.TrimSuffix(name, "]")
			continue
		}
		for phrase := range strings.SplitSeq(line, ",") {
			if phrase = strings.TrimSpace(phrase); phrase != "" {
				all = append(all, cue{class, phrase})
			}
		}
	}
	return all
}
