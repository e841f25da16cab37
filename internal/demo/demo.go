// Package demo holds the write-ups of an invented town's workshop and of the
// people it exchanges notes with, and the questions a first look asks of them.
//
// The town of Averholm looks after delivery vans, a tractor, a sweeper, standby
// generators, heat pumps and a canteen. Every maker, model, place and person is
// made up. The write-ups are as uneven as real ones: threads that contradict
// themselves, repairs that did not last, the same story told twice, personal
// data that has to be masked, and a page that tries to give orders to programs.
package demo

import (
	"embed"
	"io/fs"
)

//go:embed writeups
var writeups embed.FS

// Question is one thing to ask of the casebook once the write-ups are in it.
type Question struct {
	// Title says in a line what the question shows.
	Title string
	// Args are the arguments of the command that asks: flags and plain words.
	Args []string
}

// Files returns the write-ups, one file each, all in the root of the result.
func Files() fs.FS {
	// Sub fails only on an invalid path, and this one is a constant that the
	// embed directive has already checked.
	sub, _ := fs.Sub(writeups, "writeups")
	return sub
}

// Questions returns the questions of the demo in the order to ask them.
func Questions() []Question {
	return []Question{
		{
			Title: "A code with many cases, nothing tested yet",
			Args:  []string{"P1B77", "--machine", "Halden Brisk 3 2019", "--symptom", "no cabin heat"},
		},
		{
			Title: "The same van after the wiring passed twice: the leader moves",
			Args: []string{
				"P1B77", "--machine", "Halden Brisk 3 2019", "--symptom", "no cabin heat",
				"--passed", "wiggle test of heater wiring harness",
				"--passed", "continuity of heater wiring harness",
				"--reading", "coil resistance of heater relay = 84 ohm",
			},
		},
		{
			Title: "What it may cost, and in which order it is cheapest",
			Args: []string{
				"P1B77", "--machine", "Halden Brisk 3 2019", "--plan", "--rate", "60 EUR/h", "--handover", "300 EUR", "--have", "heater relay",
			},
		},
		{
			Title: "A repair was tried and changed nothing",
			Args: []string{
				"P0087", "--machine", "Halden Brisk 3 2018", "--symptom", "loss of power",
				"--tried", "replace fuel filter",
				"--passed", "leak-off test of injector",
			},
		},
		{
			Title: "A maker's own code: E6 on a dishwasher is not E6 on a heat pump",
			Args:  []string{"E6", "--machine", "Wendrup D50 2017", "--passed", "voltage of heater contactor"},
		},
		{
			Title: "High voltage: the cautions come first",
			Args: []string{
				"P0AA6", "--machine", "Halden Brisk 3 E 2021",
				"--failed", "insulation resistance of PTC heater element",
			},
		},
		{
			Title: "A code with a single case",
			Args:  []string{"SPN 520211 FMI 2", "--machine", "Grauwick GT 135 2020"},
		},
		{
			Title: "A code nobody has written about",
			Args:  []string{"P0442", "--machine", "Torvel T40 2019"},
		},
		{
			Title: "No code at all, only what the driver noticed",
			Args: []string{
				"no cabin heat at idle, warm at speed",
				"--machine", "Halden Brisk 2 2014", "--absent", "coolant leak",
			},
		},
	}
}
