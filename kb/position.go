package kb

import (
	"slices"
	"strings"
)

// SplitPosition parts the words that say which one of several is meant ("left front", "#3", "bank 1 sensor 2", "cylinder
// 2", a trailing "14") from the rest of a term. Both are folded; either may be empty.
func SplitPosition(term string) (position, rest string) {
	words := strings.Fields(Fold(term))
	var before, after []string
	for len(words) > 0 {
		n := leadingPosition(words)
		if n == 0 {
			break
		}
		before = append(before, words[:n]...)
		words = words[n:]
	}
	for len(words) > 0 {
		n := trailingPosition(words)
		if n == 0 {
			break
		}
		after = append(slices.Clone(words[len(words)-n:]), after...)
		words = words[:len(words)-n]
	}
	return strings.Join(append(before, after...), " "), strings.Join(words, " ")
}

// leadingPosition tells how many words at the start are one mark of position.
func leadingPosition(words []string) int {
	switch {
	case isCounted(words[0]) && len(words) > 1 && isIdentifier(words[1]):
		return 2
	case isSide(words[0]), isOrdinal(words[0]), isBankSensor(words[0]):
		return 1
	case isNumber(words[0]) && (len(words) < 2 || !slices.Contains(joinedUnits(), words[1])):
		return 1 // but "12 v battery" is a name
	}
	return 0
}

func trailingPosition(words []string) int {
	last := words[len(words)-1]
	if len(words) > 1 && isCounted(words[len(words)-2]) && isIdentifier(last) {
		return 2
	}
	if isSide(last) || isIdentifier(last) || isBankSensor(last) {
		return 1
	}
	return 0
}

// isCounted tells whether a word makes the number after it a position.
func isCounted(word string) bool {
	return slices.Contains([]string{"no", "number", "num", "nr", "bank", "cylinder", "cyl", "sensor", "position", "phase",
		"zone", "channel", "axle", "stage", "row", "circuit"}, word)
}

func isSide(word string) bool {
	return slices.Contains([]string{"left", "right", "front", "rear", "lh", "rh", "lf", "rf", "lr", "rr", "fl", "fr", "rl",
		"upper", "lower", "inner", "outer", "nearside", "offside", "ns", "os", "driver", "drivers", "passenger", "side", "port", "starboard",
		"top", "bottom", "both", "all", "hand"}, word)
}

func isOrdinal(word string) bool {
	return slices.Contains([]string{"1st", "2nd", "3rd", "4th", "5th", "6th", "7th", "8th"}, word)
}

// isIdentifier tells whether a word is a number or a mark such as "k7", "2b".
func isIdentifier(word string) bool {
	return isNumber(word) || len(word) <= 3 && hasDigit(word)
}

// isBankSensor tells whether a word is a mark such as "b1s2".
func isBankSensor(word string) bool {
	return len(word) == 4 && word[0] == 'b' && word[2] == 's' && isNumber(word[1:2]) && isNumber(word[3:])
}

// dropStateWords drops what says in which state or whose an item is, which is no part of its name.
func dropStateWords(folded string) string {
	words := strings.Fields(folded)
	states := []string{"new", "old", "used", "original", "genuine", "oem", "aftermarket", "faulty", "bad", "dead", "broken",
		"failed", "defective", "suspect", "replacement", "spare", "secondhand", "refurbished", "rebuilt", "cracked", "worn", "leaking", "my", "his", "her", "your", "its", "this", "that"}
	for len(words) > 1 && slices.Contains(states, words[0]) {
		words = words[1:]
	}
	return strings.Join(words, " ")
}
