package ingest

import (
	"slices"
	"strings"
	"sync"

	"ruledout/kb"
)

// nounStops are words at which a noun phrase ends: function words, everyday verbs and adverbs, words of time.
const nounStops = `
the a an this that these those my our his her their your its it he she they we i you me him us them who which what where when why how
is are was were be been being am do does did done has have had having will would shall should can could may might must
and or but so because since while although though if unless until then than as at by for from in into of off on onto out over to up down with
without within about after before between during through under above below near behind across along around against per via
not no never nor none nothing neither either both all any some each every few many much more most less least several other another same such
only just also too very really quite rather still yet already again now here there today yesterday tomorrow tonight morning afternoon evening
week month year day time hour minute second weekend monday tuesday wednesday thursday friday saturday sunday january february march april may june
july august september october november december ago later soon once twice always often sometimes maybe perhaps
got get gets getting go goes going went gone come comes came back make makes made take takes took taken give gives gave given
see saw seen look looks looked find found say says said think thought know knew try tried use used put keep kept let like work works worked
seem seems seemed read reads reading show shows showed showing shown measure measures measured check checks checked test tested tests
replace replaced replacing change changed changing clean cleaned fit fitted fitting install installed swap swapped buy bought order ordered
fix fixed repair repaired remove removed pull pulled push pushed turn turned start started stop stopped run ran running drop drops dropped
need needs needed want wants wanted cost costs help helped new old used brand original genuine good bad fine ok okay perfect dead
first last next whole complete entire own little big small bit lot well anyway please thanks though however instead completely
shop garage dealer home myself himself yourself euro euros dollar dollars pound pounds quid bucks eur usd gbp miles km hours
because whatever either though plus minus don't cant wont isnt wasnt didnt doesnt havent hasnt im ive id ill its thats theres one ones
actually finally nearly almost basically exactly probably properly freely straight easily slowly quickly slightly fully right away around
till itself everything anything something thing things stuff piece pieces bore chance luck fun which whose whatever whenever suspect suspected guess hope cheap expensive hard easy while cured sorted solved replaced gave turns`

// nounStopSet gives the words of nounStops; nobody changes the set.
var nounStopSet = sync.OnceValue(func() map[string]bool {
	set := map[string]bool{}
	for w := range strings.FieldsSeq(nounStops) {
		for _, f := range kb.FoldWords(w) {
			set[f] = true
		}
	}
	return set
})

// nounPhrase is what a piece of text calls a component.
type nounPhrase struct {
	from, to int    // tokens
	name     string // preferred name of the vocabulary, else the folded words
	known    bool   // the vocabulary knows the whole phrase
	raw      string // folded words as written, without marks of position and state
	short    bool   // written as an abbreviation
	oblique  bool   // a preposition of place stands before it: "behind the tank"
	isolates bool   // taken out or switched off for safety while one works
	guess    bool   // nothing in the sentence names it: it is what was spoken of last
}

// phraseAround gives the noun phrase that holds the mention: words before it that qualify it and, if the mention is not the
// head, the nouns that follow.
func (x *Extractor) phraseAround(s *sentence, m mention) nounPhrase {
	from, to := m.from, m.to
	for from > 0 && m.from-from < 3 && x.qualifies(s, from-1) && !(isConnecting(s.toks[from-1].word) && !isConnecting(s.toks[from].word) && from-1 > 0 && x.lex.words[s.toks[from-2].word]) {
		from--
	}
	for to < len(s.toks) && to-m.to < 2 && x.extends(s, to) && !(isConnecting(s.toks[to-1].word) && !isConnecting(s.toks[to].word)) {
		to++
	}
	return x.named(s, from, to, m)
}

// named names the words of tokens from..to, of which m is a part that the vocabulary knows.
func (x *Extractor) named(s *sentence, from, to int, m mention) nounPhrase {
	full := s.words(from, to)
	if c, ok := x.v.ComponentFor(full, x.family); ok {
		return nounPhrase{from: from, to: to, name: c.Name, known: true}
	}
	if c, ok := x.component(full); ok {
		return nounPhrase{from: from, to: to, name: c, known: true}
	}
	if from == m.from && to == m.to {
		return nounPhrase{from: from, to: to, name: m.name, known: true}
	}
	for i := from; i < m.from; i++ { // fewer qualifiers may make a known name
		if c, ok := x.component(s.words(i, to)); ok {
			return nounPhrase{from: i, to: to, name: c, known: true}
		}
	}
	_, rest := kb.SplitPosition(full)
	if to == m.to && (rest == "" || kb.Fold(rest) == kb.Fold(s.words(m.from, m.to))) {
		return nounPhrase{from: m.from, to: m.to, name: m.name, known: true}
	}
	if rest == "" {
		rest = full
	}
	return nounPhrase{from: from, to: to, name: kb.Fold(rest), known: false}
}

// component gives the preferred name if the vocabulary knows the words, with words of position or state or without.
func (x *Extractor) component(words string) (string, bool) {
	name := x.v.CanonicalComponent(words)
	_, ok := x.v.Component(name)
	return name, ok
}

// words gives the folded words of tokens from..to without articles and marks.
func (s *sentence) words(from, to int) string {
	var out []string
	for _, t := range s.toks[max(from, 0):min(to, len(s.toks))] {
		if !t.mark && !kb.IsArticle(t.word) {
			out = append(out, t.word)
		}
	}
	return strings.Join(out, " ")
}

// qualifies tells whether a token may stand before a component's name as a part of it.
func (x *Extractor) qualifies(s *sentence, i int) bool {
	t := s.toks[i]
	if t.mark || t.number() || x.stops[t.word] || isStateWord(t.word) || isDamage(t.word) || isMakeWord(t.word) || isUnitOfRating(t.word) || strings.HasSuffix(t.raw, "'s") || strings.HasSuffix(t.raw, "’s") || x.isVerb(s, i) {
		return false
	}
	gerund := strings.HasSuffix(t.word, "ing") && i > 0 && (kb.IsArticle(s.toks[i-1].word) || isStateWord(s.toks[i-1].word))
	return x.lex.words[t.word] && !strings.HasSuffix(t.word, "ing") || gerund
}

// isMakeWord tells whether a word only says how a part is made, which its name does not need.
func isMakeWord(word string) bool {
	return slices.Contains([]string{"screened", "shielded", "braided", "armoured", "stainless", "brass", "reinforced", "insulated", "heavy", "duty", "flex", "flexible", "uprated", "oversize", "oversized",
		"thicker", "longer", "shorter", "bigger", "larger", "smaller", "universal", "matched", "generic"}, word)
}

// isUnitOfRating tells whether a word is the unit of a part's rating, which is no part of its name.
func isUnitOfRating(word string) bool {
	return slices.Contains([]string{"v", "volt", "amp", "a", "watt", "w", "ohm", "kw"}, word)
}

// extends tells whether a token goes on with a component's name: a word that names components, not a verb.
func (x *Extractor) extends(s *sentence, i int) bool {
	t := s.toks[i]
	return !t.mark && !t.number() && !x.stops[t.word] && isPartHead(t.word) && !isPast(strings.ToLower(t.raw)) && !x.isVerb(s, i)
}

// isConnecting tells whether a word names what joins parts electrically: a device named after one begins a phrase of its own ("sensor
// wire pump side").
func isConnecting(word string) bool {
	return slices.Contains([]string{"wire", "wiring", "harness", "loom", "cable", "lead", "plug", "connector", "terminal", "pin", "ground", "earth", "strap", "clip", "bolt", "screw", "nut"}, word)
}

// lastWord gives the last word of a name.
func lastWord(name string) string { return name[strings.LastIndexByte(name, ' ')+1:] }

// isPartHead tells whether a word names a kind of part when it follows another's name: "pump relay", "sensor plug".
func isPartHead(word string) bool {
	return slices.Contains([]string{"relay", "fuse", "plug", "connector", "wire", "wiring", "harness", "loom", "bearing", "seal", "gasket", "ring", "pin", "terminal", "bolt", "screw", "nut",
		"bracket", "hose", "pipe", "line", "belt", "motor", "pump", "fan", "valve", "switch", "sensor", "coil", "brush", "spring", "housing", "cover", "cap", "lid", "clip", "clamp", "board",
		"module", "unit", "element", "bulb", "socket", "kit", "tank", "filter", "lead", "cable", "lock", "supply", "stud", "cartridge", "core", "rotor", "shaft", "tube", "elbow",
		"strainer", "basket", "impeller", "diaphragm", "coupling", "pulley", "tensioner", "adapter", "adaptor", "charger", "trap", "link", "joint", "wheel", "gear", "grille", "cage", "teeth",
		"electrode", "probe", "winding", "contact", "button", "pedal", "controller", "ecu", "regulator", "governor", "actuator", "solenoid", "injector", "circuit", "ground", "earth", "strap", "boot", "box", "resistor", "bar", "gauge", "loop", "drain", "spade", "pot", "micro", "outlet", "receptacle", "inlet", "block", "pickup", "flap", "latch", "magnet", "mount"}, word)
}

// isVerb tells whether the token begins an action of the vocabulary in a past or -ing form.
func (x *Extractor) isVerb(s *sentence, i int) bool {
	raw := strings.ToLower(s.toks[i].raw)
	if !isPast(raw) && !strings.HasSuffix(raw, "ing") {
		return false
	}
	return slices.ContainsFunc(s.mentions, func(m mention) bool { return m.kind == kb.TermAction && m.from == i })
}

// unknownPhrase reads a noun phrase that begins at token i and that the vocabulary need not know: up to four words that are
// no function words. Articles and words of state before it are passed over.
func (x *Extractor) unknownPhrase(s *sentence, i, limit int) (nounPhrase, bool) {
	for i < limit && (kb.IsArticle(s.toks[i].word) || isStateWord(s.toks[i].word)) && !s.toks[i].mark {
		i++
	}
	from := i
	for i < limit && i-from < 4 && !s.toks[i].mark && !x.stops[s.toks[i].word] && !isStateWord(s.toks[i].word) && !isAdverb(s.toks[i].word) && (i == from || !isPast(strings.ToLower(s.toks[i].raw))) {
		i++
	}
	_, rest := kb.SplitPosition(s.words(from, i))
	if i == from || rest == "" || len(rest) < 3 || s.toks[i-1].hasDigit() {
		return nounPhrase{}, false
	}
	name, known := x.component(rest)
	return nounPhrase{from: from, to: i, name: name, known: known, raw: rest}, true
}

func isAdverb(word string) bool {
	return len(word) > 4 && strings.HasSuffix(word, "ly") && word != "assembly" && word != "supply"
}

// isStateWord tells whether a word says in which state or whose a part is.
func isStateWord(word string) bool {
	return slices.Contains([]string{"new", "old", "used", "original", "genuine", "oem", "oe", "aftermarket", "replacement", "spare", "secondhand", "second",
		"hand", "refurbished", "rebuilt", "reconditioned", "rewound", "brand", "faulty", "bad", "broken", "another", "my", "our", "his", "their", "its", "both",
		"poor", "cheap", "decent", "proper", "fresh", "whole", "complete", "few", "some", "two", "three", "four", "one", "correct", "better", "same", "matched"}, word)
}

// condition tells whether a component's word speaks of the state of the machine, the season or a way of testing instead:
// "engine off", "under load", "in spring".
func (s *sentence) condition(m mention) bool {
	before, after := "", ""
	if m.from > 0 {
		before = s.toks[m.from-1].word
	}
	if m.to < len(s.toks) {
		after = s.toks[m.to].word
	}
	if slices.Contains([]string{"spray", "cleaner", "grease", "paste", "cleaning"}, after) {
		return true
	}
	words := s.words(m.from, m.to)
	if strings.HasPrefix(words, "open ") || strings.HasPrefix(words, "short ") || strings.HasPrefix(words, "dead ") {
		return true // "open circuit" is what was found, not where
	}
	switch words {
	case "engine", "motor", "key", "ignition":
		return slices.Contains([]string{"off", "on", "running", "idling", "hot", "warm", "cold", "speed", "is", "stopped", "run", "out"}, after) && words != "motor" ||
			before == "cold" || before == "hot" || before == "warm"
	case "load":
		return slices.Contains([]string{"under", "full", "no", "with", "on", "of", "a", "any", "half", "heavy"}, before)
	case "spring":
		return slices.Contains([]string{"in", "this", "last", "next", "since", "early", "late", "until", "every"}, before)
	case "chuck":
		return after == "a" || after == "the" || after == "it" || after == "in"
	case "switch":
		return after == "off" || after == "on" || after == "it"
	case "lead", "leads":
		return before == "to" || before == "will" || after == "to"
	}
	return false
}

// obliqueAt tells whether a preposition of place stands before the phrase that begins at token i.
func (s *sentence) obliqueAt(i int) bool {
	for j := i - 1; j >= max(i-3, 0); j-- {
		w := s.toks[j].word
		if kb.IsArticle(w) || isStateWord(w) {
			continue
		}
		return slices.Contains([]string{"behind", "under", "near", "beside", "above", "below", "at", "by", "from", "on", "in", "with", "against", "to", "into", "onto", "through", "over",
			"inside", "past", "along", "beneath", "underneath", "towards", "around", "across", "between", "off", "of", "for", "than", "like", "via"}, w)
	}
	return false
}

// called gives the name under which a component is kept: the writer's own words where they are more than one, since they say
// more than the vocabulary's term and lead to it; else the vocabulary's term, unless it belongs to other machines.
func (x *Extractor) called(np nounPhrase) string {
	own := kb.Fold(np.raw)
	if c, ok := x.v.Component(np.name); ok && np.known && !x.strange(np) && c.Quantity {
		return np.name
	}
	if np.known && (np.short || strings.Contains(own, " in ") || strings.Contains(own, " of ") || strings.Contains(own, " on ")) && !x.strange(np) {
		return np.name
	}
	if x.abbreviates(own) && !x.strange(np) || np.known && x.nearlyNamed(own, np) {
		return np.name
	}
	if np.known && (own == "loom" || own == "harness") && !x.strange(np) {
		return np.name // the bare word names no loom among several
	}
	if np.known && !strings.Contains(own, " ") && !isPartHead(own) && !strings.HasSuffix(np.name, own) && !x.strange(np) {
		return np.name
	}
	return connectorName(x.fullHead(own))
}

// nearlyNamed tells whether own words differ from the vocabulary's only in the form of a word: "heater element" of "heating element".
func (x *Extractor) nearlyNamed(own string, np nounPhrase) bool {
	a, b := strings.Fields(own), strings.Fields(np.name)
	if len(a) != len(b) || len(a) < 2 || x.strange(np) {
		return false
	}
	for i := range a {
		if n := min(len(a[i]), len(b[i]), 4); a[i][:n] != b[i][:n] || n < 4 && a[i] != b[i] {
			return false
		}
	}
	return true
}

// fullHead writes a clipped last word in full where the vocabulary has it: "forward micro" as "forward microswitch".
func (x *Extractor) fullHead(own string) string {
	head := lastWord(own)
	name, known := x.component(head)
	if !known || name == head || strings.Contains(name, " ") || !strings.HasPrefix(name, head) || len(head) < 4 {
		return own
	}
	return strings.TrimSuffix(own, head) + name
}

// abbreviates tells whether a single word is an abbreviation in the vocabulary.
func (x *Extractor) abbreviates(word string) bool {
	c, ok := x.v.Component(word)
	return ok && slices.ContainsFunc(c.Abbr, func(a string) bool { return strings.EqualFold(a, word) })
}

// strange tells whether the vocabulary's name belongs to machines of other families than the one at hand: then the words
// mean something else here.
func (x *Extractor) strange(np nounPhrase) bool {
	c, ok := x.v.Component(np.name)
	if !ok || len(c.Families) == 0 || np.raw == np.name {
		return false
	}
	if x.family == "" {
		return !strings.Contains(np.raw, " ")
	}
	return !slices.Contains(c.Families, x.family)
}

// rawName gives a name as written without words of position.
func rawName(words string) string {
	if _, rest := kb.SplitPosition(words); rest != "" {
		return rest
	}
	return words
}

// components gives the component mentions of a sentence in order, without those that lie inside another's phrase.
func (x *Extractor) components(s *sentence) []nounPhrase {
	if !s.named {
		s.comps, s.named = x.findComponents(s), true
	}
	return slices.Clone(s.comps)
}

func (x *Extractor) findComponents(s *sentence) []nounPhrase {
	var out []nounPhrase
	for _, m := range s.mentions {
		if m.kind != kb.TermComponent || s.condition(m) || x.plainWord(s, m) || m.to-m.from == 1 && isPast(strings.ToLower(s.toks[m.from].raw)) {
			continue
		}
		np := x.phraseAround(s, m)
		np.oblique, np.raw = s.obliqueAt(np.from), rawName(s.words(np.from, np.to))
		np.short = np.from == m.from && np.to == m.to && (m.abbr != "" || strings.Contains(np.raw, " ") && !strings.Contains(s.quote(np.from, np.to), " "))
		np.name = x.called(np)
		np.isolates = s.isolatesWith(np)
		if n := len(out); n > 0 && np.from < out[n-1].to {
			if np.to > out[n-1].to {
				out[n-1] = np
			}
			continue
		}
		out = append(out, np)
	}
	return x.bareHeads(s, out)
}

// isolatesWith tells whether a part is one that is pulled or switched off before work begins: "service plug out", "pulled the service
// disconnect".
func (s *sentence) isolatesWith(np nounPhrase) bool {
	if !strings.Contains(np.raw, "service") && !slices.Contains([]string{"isolator", "breaker", "disconnect", "main switch", "mcb"}, lastWord(np.raw)) {
		return false
	}
	off := func(t token) bool {
		return slices.Contains([]string{"out", "off", "pulled", "removed", "locked", "isolated", "tripped"}, t.word)
	}
	return slices.ContainsFunc(s.toks[max(np.from-3, 0):np.from], off) || slices.ContainsFunc(s.toks[np.to:min(np.to+2, len(s.toks))], off)
}

// bareHeads adds parts that the vocabulary does not know but whose last word says that they are one: "the bulkhead plug".
func (x *Extractor) bareHeads(s *sentence, known []nounPhrase) []nounPhrase {
	out := known
	for i, t := range s.toks {
		covered := slices.ContainsFunc(out, func(np nounPhrase) bool { return i >= np.from && i < np.to })
		if t.mark || covered || !isPartHead(t.word) || i+1 < len(s.toks) && isPartHead(s.toks[i+1].word) || i == 0 && t.raw == strings.ToLower(t.raw) {
			continue
		}
		from := i
		for from > 0 && i-from < 2 && x.inName(s.toks[from-1]) && !s.toks[from-1].hasDigit() && !x.isVerb(s, from-1) && (!strings.HasSuffix(s.toks[from-1].word, "ing") || isThingInIng(s.toks[from-1].word)) {
			from--
		}
		before := i - 1
		for before > 0 && isDamage(s.toks[before].word) {
			before-- // "a cracked seal"
		}
		if from == i && (i == 0 || !isDeterminer(s.toks[before].word)) && t.raw == strings.ToLower(t.raw) {
			continue
		}
		raw := rawName(s.words(from, i+1))
		out = append(out, nounPhrase{from: from, to: i + 1, name: connectorName(kb.Fold(raw)), raw: raw, oblique: s.obliqueAt(from)})
	}
	slices.SortStableFunc(out, func(a, b nounPhrase) int { return a.from - b.from })
	return out
}

// isThingInIng tells whether a word in -ing is a noun of the trade, not a verb.
func isThingInIng(word string) bool {
	return slices.Contains([]string{"ceiling", "housing", "bearing", "wiring", "bushing", "casing", "fitting", "coupling", "winding", "lining", "steering", "charging", "cooling", "heating", "building", "parking", "swing", "spring", "wing", "ring", "string"}, word)
}

func isDeterminer(word string) bool {
	return kb.IsArticle(word) || isStateWord(word) || slices.Contains([]string{"this", "that", "these", "those", "every", "each", "your", "any", "her", "all"}, word)
}

// plainWord tells whether a single word that the vocabulary also knows as a component is more often an everyday word, or names
// something outside the machine, which a lone word does not.
func (x *Extractor) plainWord(s *sentence, m mention) bool {
	if m.to-m.from != 1 || m.abbr != "" {
		return false
	}
	switch s.toks[m.from].word {
	case "stay", "catch", "crank", "cold", "hot", "heat", "warm", "leave", "step", "case", "app", "reader", "post", "page", "play", "stop", "sign", "panel", "speed", "rest", "drive",
		"charge", "start", "run", "reach", "back", "wash", "point", "bin", "name", "trip", "elevator", "rope", "dish", "rack", "end", "strip", "slip", "load", "rpm", "machine", "unit",
		"carrier", "shell", "face", "nose", "hand", "side", "book", "table", "washer", "cooker":
		return true
	}
	c, ok := x.v.Component(m.name)
	return ok && c.System == kb.SystemOutside
}
