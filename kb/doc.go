// Package kb holds the domain of ruledout: the record of a repair and the words it is told in.
//
// The one central type is Case. An open Case is a question ("this code, these symptoms, these tests already passed"); a
// closed one is evidence ("this was the culprit"). The look-up, the job sheet, the command line, the exchange format and
// the store all carry the same type.
//
// A Case names things by terms: components, symptoms, test methods. Vocabulary knows their synonyms and how components
// hang together; terms it does not know stay usable, folded. Codes, quantities and vehicle identification numbers are
// read by the leaf packages kb/code, kb/quantity and kb/vin.
//
// The package knows nothing of storage, HTTP or files and reads no clock: every function here gives the same result for
// the same arguments, for ever. Package kb/rank computes answers from cases; ingest reads cases out of write-ups;
// internal/casebook is the one door through which the program changes and asks the book.
package kb
