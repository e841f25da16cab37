// Package rank computes, from closed cases, what was probably at fault in an open one, and what to check next.
//
// # The model
//
// One culprit f is at fault: one of the components that cases name, or omega, which no case names anywhere. Then
//
//	P(f | codes, machine, evidence)  ~  p(f | m) * prod over codes of [p(f | c, m) / p(f | m)]^(n^-gamma) * prod of P(e | f)^lambda
//
// with n codes c, machine m, and as evidence e the symptoms, tests and fixes tried without cure.
//
// # Prior
//
// p(f | c, m) comes from a chain of contexts, each shrunk to the one above it: all cases, this kind of machine, family of codes, code,
// failure type, make, model, variant, years. At each level
//
//	p = (n - d t + (k + d T) p_parent) / (N + k)
//
// n are fractional counts of culprits, N their sum, t(f) = min(1, n(f)), T their sum, k the strength of the level above and d a
// discount. A parent does not count the cases of its children again but receives their t: how many children have seen f at all (the
// seating of a hierarchical Chinese-restaurant process; Teh 2006, with at most one table per dish). A level that the question does not
// state is left out, so that its deepest context always counts cases. Where a context holds the very cases of the one above, the
// two are one level: the same cases seated twice would make the unseen look rarer than it is. The base of the chain is omega.
//
// The years level weighs cases by exp(-|difference|/h) for this question only and gives nothing to its parent.
//
// # Credit
//
// A case credits the culprits it names, but writers err: r(f) is proportional to p(f | its own evidence, without itself) times C(f), where C
// is w on each named culprit and 1-w spread over the others; the named ones get r0 together at least. The others are, for speed,
// those that cases of the same code name. Cases of one contributor or site on one code count together as n^(1/2) until somebody
// else names the same culprit.
//
// # Evidence
//
// A test of X fails with probability s if f is X or a part of X, u if f drives or feeds X and the test is done in place, phi otherwise;
// each rate is a Beta posterior, shrunk from the method's rate, which is shrunk from the pooled one. Symptoms have a factor for being
// mentioned and one for being there, shrunk to the rates among cases of the question's code, these to the rates among all: a complaint
// that goes with the code whatever the culprit tells nothing against one not seen yet. A complaint in somebody's own words counts by
// the stems of those words (kb.Vocabulary.SymptomFeatures). A fix tried without cure has a rate by action and outcome if it was done on f, another if not. All
// of it is tempered by lambda, since evidence is not independent.
//
// # Plan
//
// Where a plan is asked for, the likeliest culprits, the tests proposed and the ways of repair on record become a problem of package plan: the
// posterior is the belief, a test's outcomes have its rates of failing, a repair has the median of what cases say that it takes, shrunk to
// defaults that the plan names. All other culprits together are something else, which only handing over cures.
//
// # Honesty
//
// Intervals are 90 % by the delta method (Answer.Fixes). The factors of Because multiply the prior odds to the posterior odds
// exactly. A question never counts itself: its case's counts are taken out, given the other cases' credits.
//
// Everything is deterministic, in the log domain, and independent of the order in which cases came in.
package rank
