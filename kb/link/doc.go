// Package link finds records that tell of one repair twice, by probabilistic record linkage after Fellegi and Sunter (A Theory for Record
// Linkage, Journal of the American Statistical Association 64, 1969).
//
// # Way
//
// A Record is what is compared of a case. Candidates gives the pairs worth a look: by MinHash over the words (Broder 1997; bands after
// Leskovec, Rajaraman and Ullman, Mining of Massive Datasets, section 3.4), and by what they share: a code on one make or model, a culprit on
// one model, one teller. Compare gives for each field of a pair a level of agreement, or none where a side says nothing. A Model gives each
// level its weight, log2(m/u) in bits: m is the probability of the level where both tell of one repair, u where they do not. The
// weights of the fields add up; with the prior they give the probability that the two are one. Fit estimates m, u and the prior from the
// pairs of a book alone, by expectation maximisation from a starting point of ours (Start), and Thresholds sets by the model's own
// error rates from where on a pair is proposed and from where on it is worth a look.
//
// # What it takes for granted
//
// The fields are taken as independent, given whether two records are one. They are not quite: those who had the same fault on the same
// model tell alike. Hence the weights of what one fault brings with it are learnt among candidates only, who mostly share code and machine, so that
// little is left of them; estimated error rates are somewhat better than true ones all the same. What a side does not tell has no weight.
//
// Some differences decide: another place ("cylinder 2", "cylinder 4"), another odometer reading, and one teller who tells of one machine
// again after months. Levels of this kind are held: that one repair is told so differently is taken as out of the
// question, by a weight that all other fields together do not make up for, whatever a book's pairs say.
//
// # Bounds
//
// What is shared by more than MaxBlock records makes no pairs of all with all: such a block is put in order (by run, by date, by
// teller, by words) and each record is paired with its Window next neighbours (sorted neighbourhood, Hernández and Stolfo 1995). So a record
// has at most 8 x Window partners a key, and the number of pairs grows with the number of records and not with its square.
// Everything is deterministic and does not depend on the order of the records.
package link
