package code

import (
	"cmp"
	"slices"
)

// Found is one mention of a code in running text.
type Found struct {
	Code       Code
	Start, End int // byte offsets
	Status     Status
	SetAgain   *bool   // whether the code is said to have come back after it was cleared
	Absent     bool    // the text says that the code is not, or no longer, there
	Confidence float64 // 0 to 1
	Cue        string  // why this was taken for a code
}

// Find returns the codes in running text, in order, without overlaps.
func Find(text string) []Found {
	return Learn(text).Find(text)
}

// resolve keeps, where mentions overlap, the one given first, and returns the rest in order of place.
func resolve(found []Found) []Found {
	var kept []Found
	for _, f := range found {
		i, same := slices.BinarySearchFunc(kept, f.Start, func(k Found, start int) int { return cmp.Compare(k.Start, start) })
		if same || i > 0 && kept[i-1].End > f.Start || i < len(kept) && kept[i].Start < f.End {
			continue
		}
		kept = slices.Insert(kept, i, f)
	}
	return kept
}
