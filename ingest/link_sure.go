package ingest

import "ruledout/kb"

// The confidences of tests and fixes are the shares of right facts that were measured on annotated threads for the ways in which they
// were read, rounded down to a step of 0.05; what is rarer than ten cases takes the figure of its neighbours.
const (
	sureLimited    = 0.65 // a reading with the limit that judges it
	sureNear       = 0.65 // a reading right behind the name of the part
	sureReading    = 0.45 // any other reading
	sureSpokenOf   = 0.4  // a reading of the part spoken of last
	sureTrial      = 0.7  // a part exchanged or isolated
	sureBeside     = 0.65 // a judgement right beside the part
	sureApart      = 0.45 // a judgement farther off
	sureUnnamed    = 0.15 // of a part that the vocabulary does not know
	sureCredited   = 0.9  // a fix that the writer names as the cure
	sureSettled    = 0.75 // a fix whose outcome stands in the same post
	sureLater      = 0.65 // a fix whose outcome stands in a later post
	sureFixStrange = 0.3  // a fix on a part that the vocabulary does not know
	sureShared     = 0.4  // a fix picked out of several done at once
	sureUntold     = 0.3  // a fix whose outcome cannot be told
)

// testSure gives the confidence in a test.
func testSure(t *testFound) float64 {
	switch {
	case !t.known && t.reading == nil:
		return sureUnnamed
	case !t.known:
		return sureUnnamed + 0.2
	case t.guess:
		return sureSpokenOf
	case t.limited:
		return sureLimited
	case t.near:
		return sureNear
	case t.reading != nil:
		return sureReading
	case t.spends != nil:
		return sureTrial
	case t.relative == 1:
		return sureBeside
	}
	return sureApart
}

// fixSure gives the confidence in a fix with its outcome.
func fixSure(fx *fixFound) float64 {
	switch {
	case fx.outcome == "" || fx.outcome == kb.UnknownOutcome:
		return sureUntold
	case fx.credited && fx.known:
		return sureCredited
	case !fx.known:
		return sureFixStrange
	case fx.shared:
		return sureShared
	case fx.settled != nil && fx.settled.post == fx.sent.post:
		return sureSettled
	}
	return sureLater
}
