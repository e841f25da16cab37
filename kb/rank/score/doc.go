// Package score measures how good stated probabilities and ordered answers turned out to be.
//
// It knows nothing of cases: what goes in is numbers. An Outcome is one question with what was stated and what was so; Summarize turns many
// of them into the figures that are shown. The parts can be used alone:
//
//   - order: TopK and ReciprocalRank, from the place of the first right answer;
//   - proper scores: LogLoss and Brier, over all answers with the remainder as one of them;
//   - calibration of a two-valued event: Decompose (Murphy 1973, J. Appl. Meteorol. 12, 595-600) splits its Brier score with one group for
//     each stated value, Calibrate makes the table of stated against observed in bins of equal width, and PerfectECE says how far off that
//     table would be by chance alone;
//   - shares of counts: Wilson and Exact intervals.
//
// Everything is deterministic and does not depend on the order of the questions.
package score
