package rank

// Information gives the tests the mutual information that orders tests.
var Information = information

// Entropy gives the tests the entropy of a two-valued variable.
var Entropy = entropy

// Trigamma gives the tests the function behind the spread of a rate.
var Trigamma = trigamma
