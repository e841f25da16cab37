package link

// Kept inside for the tests outside.
var (
	EditDistance = editDistance
	Shingles     = shingles
	InLevelOrder = inOrder
)

// PlaceOf compares the places that two texts tell: "untold", "same", "partly" or "different".
func PlaceOf(a, b string) string {
	return []string{"untold", "same", "partly", "", "different"}[placesIn(a).compare(placesIn(b))]
}
