package link

import (
	"maps"
	"slices"
	"strconv"
	"strings"

	"ruledout/kb"
)

// places holds which one of several is meant, by axis ("side", "end", "level", "bank", "no", "fuse" ...), each with the values told.
type places map[string][]string

// placesIn reads marks of position out of pieces of text: sides, numbered places ("cylinder 2", "#2", "bank 1 sensor 2") and numbered
// parts ("fuse 14", "relay K7").
func placesIn(pieces ...string) places {
	out := places{}
	for _, p := range pieces {
		words := kb.FoldWords(strings.ReplaceAll(p, "#", " no "))
		for i := range words {
			out.read(words, i)
		}
	}
	return out
}

func (p places) add(axis, value string) {
	if !slices.Contains(p[axis], value) {
		p[axis] = append(p[axis], value)
	}
}

func (p places) read(words []string, i int) {
	w := words[i]
	for _, s := range sidesOf(w) {
		if !idleSide(words, i) {
			p.add(s[0], s[1])
		}
	}
	if len(w) == 4 && w[0] == 'b' && w[2] == 's' && isNumber(w[1:2]) && isNumber(w[3:]) {
		p.add("bank", w[1:2])
		p.add("sensor", w[3:])
	}
	if axis := numbered(w); axis != "" {
		p.readNumbers(axis, words, i+1)
	}
	if n := ordinal(w); n != "" && i+1 < len(words) {
		if axis := numbered(words[i+1]); axis != "" {
			p.add(axis, n)
		}
	}
}

// readNumbers reads "2", "2 and 4" after a word that is counted; a number with a unit is a reading.
func (p places) readNumbers(axis string, words []string, i int) {
	for i < len(words) && isMark(words[i]) && !(i+1 < len(words) && isUnit(words[i+1])) {
		p.add(axis, strings.TrimLeft(words[i], "0"))
		i++
		if i < len(words) && (words[i] == "and" || words[i] == "or") {
			i++
		}
	}
}

// sidesOf gives the axes and values that a word of side stands for.
func sidesOf(w string) [][2]string {
	left, right, front, rear := [2]string{"side", "left"}, [2]string{"side", "right"}, [2]string{"end", "front"}, [2]string{"end", "rear"}
	switch w {
	case "left", "lh", "lefthand":
		return [][2]string{left}
	case "right", "rh", "righthand":
		return [][2]string{right}
	case "front":
		return [][2]string{front}
	case "rear", "back":
		return [][2]string{rear}
	case "lf", "fl":
		return [][2]string{left, front}
	case "rf", "fr":
		return [][2]string{right, front}
	case "lr", "rl":
		return [][2]string{left, rear}
	case "rr":
		return [][2]string{right, rear}
	case "upper", "lower", "inner", "outer", "intake", "inlet", "exhaust", "outlet":
		return [][2]string{{levelAxis(w), levelValue(w)}}
	case "driver":
		return [][2]string{{"seat", "driver"}}
	case "passenger":
		return [][2]string{{"seat", "passenger"}}
	case "nearside", "offside":
		return [][2]string{{"kerb", w}}
	}
	return nil
}

func levelAxis(w string) string {
	switch w {
	case "upper", "lower":
		return "level"
	case "inner", "outer":
		return "depth"
	}
	return "flow"
}

func levelValue(w string) string {
	switch w {
	case "inlet":
		return "intake"
	case "outlet":
		return "exhaust"
	}
	return w
}

// idleSide tells whether a word of side is none here: "right away", "I left it", "back to normal", "device driver".
func idleSide(words []string, i int) bool {
	before, after := "", ""
	if i > 0 {
		before = words[i-1]
	}
	if i+1 < len(words) {
		after = words[i+1]
	}
	switch words[i] {
	case "right":
		return slices.Contains(strings.Fields("all is was seem seemed look looked just not be"), before) || slices.Contains(strings.Fields("away after now before then back at up on down"), after)
	case "left":
		return slices.Contains(strings.Fields("i we he she they it you have has had was is are were got"), before) || slices.Contains(strings.Fields("it the me us over out with for them alone a this that in"), after)
	case "back":
		return !slices.Contains(strings.Fields("door seat wheel light lamp window axle brake"), after)
	case "driver", "passenger":
		return after != "side" && after != "door" && after != "seat" && after != "window"
	case "intake", "inlet", "exhaust", "outlet":
		return !slices.Contains(strings.Fields("valve cam camshaft side hose pipe sensor temperature"), after)
	}
	return false
}

// numbered gives the axis of a word that a number after it makes a position, empty for any other. A cylinder, and what each cylinder has
// one of, are counted alike.
func numbered(w string) string {
	switch w {
	case "no", "number", "num", "nr", "cylinder", "cyl", "injector", "coil", "plug", "pot":
		return "no"
	case "bank", "sensor", "phase", "zone", "channel", "axle", "stage", "row", "circuit", "fuse", "relay", "cell", "pin", "module", "connector", "valve",
		"pump", "motor", "fan", "burner", "element", "door", "wheel", "tank", "port", "string", "output", "input":
		return w
	}
	return ""
}

func ordinal(w string) string {
	for n, list := range []string{"1st first", "2nd second", "3rd third", "4th fourth", "5th fifth", "6th sixth", "7th seventh", "8th eighth"} {
		if slices.Contains(strings.Fields(list), w) {
			return strconv.Itoa(n + 1)
		}
	}
	return ""
}

// isMark tells whether a word is a number or a mark such as "k7", "2b".
func isMark(w string) bool {
	return isNumber(w) || len(w) <= 3 && strings.ContainsAny(w, "0123456789") && !strings.Contains(w, "-")
}

func isNumber(w string) bool {
	return w != "" && len(w) <= 3 && strings.Trim(w, "0123456789") == ""
}

func isUnit(w string) bool {
	return slices.Contains(strings.Fields("v volt mv a amp ma ah w kw mm cm m km mile hour h min minute second s psi bar mbar kpa hz khz ohm kohm mohm % percent degree deg c f rpm time year month week day"), w)
}

// comparePlaces judges the axes that both records tell. Where both say it of the fault, sharing no value on an axis decides; a place that only
// stands somewhere in the text may be that of a part that was good.
func comparePlaces(a, b *Record) uint8 {
	level := a.told.compare(b.told)
	if level == placesDiffer {
		return level
	}
	if all := a.found.compare(b.found); all == placesDiffer {
		return placesSeemToDiffer
	} else if level == 0 {
		return all
	}
	return level
}

// The levels of places after the same and partly the same.
const (
	placesSeemToDiffer = 3
	placesDiffer       = 4
)

// or gives p and, on axes that p does not tell, q.
func (p places) or(q places) places {
	out := maps.Clone(q)
	maps.Copy(out, p)
	return out
}

// compare gives 0 where the two share no axis, 1 where they share all values, 2 where some, and placesDiffer where none of an axis.
func (p places) compare(q places) uint8 {
	told, partly := false, false
	for axis, a := range p {
		b := q[axis]
		if len(b) == 0 {
			continue
		}
		told = true
		shared := 0
		for _, x := range a {
			if slices.Contains(b, x) {
				shared++
			}
		}
		if shared == 0 {
			return placesDiffer
		}
		partly = partly || shared < len(a) || shared < len(b)
	}
	switch {
	case !told:
		return 0
	case partly:
		return 2
	}
	return 1
}

// placesOf gives the places of a case: those of its cure and, on axes on which it tells none, those of what failed, of the symptoms, of
// the title and of codes that name a cylinder. In found axes of which none of these tells are filled from the whole text.
func placesOf(c *kb.Case, pieces []string) (told, found places) {
	rest := []string{c.Title}
	for _, t := range c.Tests {
		if t.Result == kb.Fail {
			rest = append(append(rest, t.Component), quotes(t.Evidence)...)
		}
	}
	for _, s := range c.Symptoms {
		if !s.Absent {
			rest = append(append(rest, s.Symptom), quotes(s.Evidence)...)
		}
	}
	told = placesIn(rest...)
	for _, e := range c.Codes {
		if n := cylinderOf(e.Code); n != "" {
			told.add("no", n)
		}
	}
	told = placesIn(curePieces(c)...).or(told)
	return told, told.or(placesIn(pieces...))
}

func curePieces(c *kb.Case) []string {
	var out []string
	for _, f := range curesOf(c) {
		out = append(append(out, f.Component), quotes(f.Evidence)...)
	}
	return append(out, quotes(c.StatusEvidence)...)
}

// cylinderOf gives the cylinder that a code is about: P0201 to P0212 (injector circuit), P0301 to P0312 (misfire) and P0351 to P0362
// (ignition coil) of SAE J2012; empty for any other.
func cylinderOf(code string) string {
	n, err := strconv.Atoi(strings.TrimPrefix(strings.ToUpper(code), "P0"))
	if err != nil || len(code) != 5 {
		return ""
	}
	for _, first := range []int{201, 301, 351} {
		if n >= first && n < first+12 {
			return strconv.Itoa(n - first + 1)
		}
	}
	return ""
}

// curesOf gives what cured a case; of one that is not cured what was worked on.
func curesOf(c *kb.Case) []kb.Fix {
	if cures := c.Cures(); len(cures) > 0 {
		return cures
	}
	return c.Fixes
}

func quotes(list []kb.Evidence) []string {
	var out []string
	for _, e := range list {
		out = append(out, e.Quote)
	}
	return out
}
