package link

// The fields of a vector, in order.
const (
	fieldCode = iota
	fieldMachine
	fieldBuild
	fieldRun
	fieldDate
	fieldTeller
	fieldCulprit
	fieldTests
	fieldReadings
	fieldPlace
	fieldText
	fieldCount
)

// decides is M of a held level: so small (40 bits) that all other fields together do not outweigh it.
const decides = 1e-12

// Start gives the model that fits begin at: our own judgement of how often tellings of one repair, and candidates that are two repairs,
// agree so far. No data set of repairs told twice is published that it could be taken from.
func Start() *Model {
	return &Model{Prior: 0.02, Fields: []Field{
		{Name: "code", Levels: []Level{{"the same", 0.82, 0.45, false}, {"some in common", 0.12, 0.15, false}, {"of one family", 0.03, 0.10, false}, {"different", 0.03, 0.30, false}}},
		{Name: "machine", Levels: []Level{{"the same model", 0.83, 0.60, false}, {"alike or less told", 0.14, 0.12, false}, {"different", 0.03, 0.28, false}}},
		{Name: "year and variant", Levels: []Level{{"the same", 0.86, 0.22, false}, {"nearly the same", 0.10, 0.25, false}, {"different", 0.04, 0.53, false}}},
		{Name: "odometer or hours", Levels: []Level{{"the same", 0.68, 0.01, false}, {"the same when rounded", 0.28, 0.02, false}, {"a little different", 0.04 - decides, 0.02, false},
			{"different", decides, 0.95, true}}},
		{Name: "date", Levels: []Level{{"within a week", 0.38, 0.015, false}, {"within two months", 0.34, 0.055, false}, {"within a year", 0.18, 0.23, false},
			{"years apart", 0.10 - decides, 0.69, false}, {"one teller, another time", decides, 0.01, true}}},
		{Name: "teller", Levels: []Level{{"the same", 0.45, 0.03, false}, {"alike", 0.10, 0.01, false}, {"different", 0.45, 0.96, false}}},
		{Name: "culprit and action", Levels: []Level{{"the same", 0.50, 0.20, false}, {"the same culprit", 0.16, 0.10, false}, {"related", 0.14, 0.15, false}, {"named by the other", 0.13, 0.20, false},
			{"different", 0.07, 0.35, false}}},
		{Name: "what was tried", Levels: []Level{{"mostly the same", 0.32, 0.12, false}, {"some in common", 0.33, 0.28, false}, {"nothing in common", 0.35, 0.60, false}}},
		{Name: "readings", Levels: []Level{{"much in common", 0.45, 0.005, false}, {"some in common", 0.28, 0.06, false}, {"none in common", 0.22, 0.70, false}, {"different in one test", 0.05, 0.235, false}}},
		{Name: "place", Levels: []Level{{"the same", 0.72, 0.32, false}, {"partly the same", 0.23, 0.18, false}, {"different as it seems", 0.05 - decides, 0.20, false},
			{"different", decides, 0.30, true}}},
		{Name: "words", Levels: []Level{{"word for word", 0.08, 0.0005, false}, {"very alike", 0.07, 0.0015, false}, {"alike", 0.20, 0.02, false}, {"rather alike", 0.25, 0.06, false},
			{"somewhat alike", 0.22, 0.15, false}, {"different", 0.18, 0.768, false}}},
	}}
}
