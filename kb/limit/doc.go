// Package limit judges a reading against a limit: whether it conforms, how sure that is given the instrument's accuracy, and which
// published limits there are for common measurements, each with its source.
//
// A value with its uncertainty becomes a probability of conformity by JCGM 106:2012, a verdict by the rule of ISO 14253-1: it conforms or
// does not where that is 95 % sure, and otherwise the reading cannot tell. Everything here is arithmetic: no case, no file, no clock.
package limit
