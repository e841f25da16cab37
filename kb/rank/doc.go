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
// failure type, make, model, variant, years. A maker's own code has no level of the kind: it says more than the kind does. At each level
//
//	p = (n - d(n) + (k + D) p_parent) / (N + k)
//
// n are fractional counts of culprits, N their sum, k the strength of the level above, d(n) what a culprit seen once, twice or more gives
// up (modified Kneser-Ney; Chen and Goodman 1999) and D the sum of it. What is given up matters for what nobody has seen: a code whose
// culprits have all been seen several times has few new ones left, one of single sightings has many, and k alone cannot tell the two.
//
// A parent does not count the cases of its children again but receives seats: the number of tables at which a Chinese restaurant of
// concentration k would be expected to seat the child's cases (Teh et al. 2006). With a weak tie that is one for each culprit, with a strong
// one nearly all cases: with min(1, n) for the seats, a make that hardly matters (large k) would flatten the shares of its code.
//
// A level that the question does not state is left out. Where a context holds the very cases of the one above, the two are one level with
// the smaller k: the same cases seated twice would make the unseen look rarer than it is. A case that names no kind of machine has the
// usual kind of its make and model. The base of the chain is omega; above it, and again where the question's own code comes in, stands
// what the structure suspects (kb.Vocabulary.Suspects), with a weight of a fraction of a case: the cold start.
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
// each rate is a Beta posterior, shrunk from the method's rate, which is shrunk from the pooled one. People report a failing test more
// readily than a passing one; by how much complete job sheets would tell, and until there are any it is taken as not at all.
//
// Symptoms have a factor for being mentioned and one for being there: the culprit's counts under the question's codes, shrunk to its counts
// elsewhere, these to all cases of the codes, and these to all others. How far the culprits differ in a symptom the cases tell themselves:
// the last weight is where the marginal likelihood is highest (empirical Bayes), so that a symptom that has nothing to do with the culprit
// has nearly the same rate under all. Symptoms that go together in cases of one code and culprit count less each (overlap), and one whose
// absence follows from another that is there counts nothing: on a form "colour is red" already says that it is not green. That none of
// the symptoms that others mention is mentioned is one factor more. A complaint in words that few others use counts by the stems of those
// words (kb.Vocabulary.SymptomFeatures).
//
// A fix tried without cure has a rate by action and outcome if it was done on f, another if not. All evidence is tempered by lambda, since it
// is not independent.
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
