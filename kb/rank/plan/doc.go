// Package plan orders tests and repairs by expected cost of repair: decision-theoretic troubleshooting under a single fault (Heckerman,
// Breese and Rommelse 1995; Breese and Heckerman 1996; Jensen et al. 2001). It knows numbers only.
//
// Exactly one cause is at fault. An action cures it with a probability that depends on the cause and not on earlier failed attempts; a test
// shows one of its outcomes with probabilities that depend on the cause. Each action and each test is done at most once; after an
// action one sees whether it cured. Handing over is always possible, cures everything and ends. The expected cost of repair is the mean of
// what is spent until the fault is cured.
//
// # How a plan is found
//
// What is known is the set of actions that failed and the outcomes of the tests done, so that the best plan is found by dynamic programming
// over these states, with branches left out that a bound excludes: whoever knew the cause would still have to pay for curing it. That is
// exact. It is done while the states visited stay below a limit (Options.Limit). Otherwise tests are looked ahead a few deep, each
// outcome judged by the best sequence of actions from there, and this again at each state that the plan reaches. Whatever the way, the plan
// is never dearer than the order by probability over cost, than trying the likeliest first, or than handing over at once.
//
// All computation is deterministic; limits count states and not time.
package plan
