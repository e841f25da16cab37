package casebook

// Groups gives the tests the grouping of cases for folds.
var Groups = groups
