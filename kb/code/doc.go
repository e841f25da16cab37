// Package code reads fault codes: from a scanner, from a bus message and from what people write. It knows three schemes,
// the five-character codes of SAE J2012 / ISO 15031-6 with the failure type byte of ISO 14229, the SPN and FMI of SAE
// J1939-73, and everything that a maker has devised, down to the number of times a lamp blinks.
//
// The package tells only what the standards say about the structure of a code and a short checked list of generic
// meanings; it never guesses what a maker's code means.
package code
