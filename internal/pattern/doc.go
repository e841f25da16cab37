// Package pattern searches texts for regular expressions in one pass.
//
// It takes the expressions of package regexp and gives the same answers, byte for byte. The difference is the way: the states that
// a search can be in are worked out as texts ask for them and kept, so that a byte of text costs one look into a table. Where
// a match begins is found by reading backwards from where it ends; only what the groups hold is left to package regexp, on
// the bytes of the match alone. (The way is that of "regular sets recognised by subsets of positions": Rabin and Scott 1959,
// with Thompson's ordered alternatives; own code.)
package pattern
