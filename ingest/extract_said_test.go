package ingest_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ruledout/ingest"
	"ruledout/kb"
)

// said gives the one case of a post that tells of a cold heater and goes on with the words.
func said(t *testing.T, words string) kb.Case {
	t.Helper()
	return one(t, threadOf("Heater cold P1B77", "ann: My 2015 Halden Brisk van shows P1B77 and the heater blows cold. "+words))
}

// results gives the tests of a case as "component=result", sorted as told.
func results(c kb.Case) []string {
	out := []string{}
	for _, ts := range c.Tests {
		out = append(out, ts.Component+"="+string(ts.Result))
	}
	return out
}

// outcomes gives the fixes of a case as "action component: outcome".
func outcomes(c kb.Case) []string {
	out := []string{}
	for _, f := range c.Fixes {
		out = append(out, string(f.Action)+" "+f.Component+": "+string(f.Outcome))
	}
	return out
}

func TestResultsApartFromThePart(t *testing.T) {
	for words, want := range map[string]string{
		"Checked the fuse, good.":               "fuse=pass",
		"Fuse ok, relay ok.":                    "fuse=pass relay=pass",
		"Checked fuses and relays, all fine.":   "fuse=pass relay=pass",
		"Looked at the belt and it is cracked.": "belt=fail",
		"Inspected the hoses, no cracks.":       "hose=pass",
		"I have checked the wiring from the switch to the pump and found no breaks.":      "wiring=pass",
		"Could not find anything wrong with the valve.":                                   "valve=pass",
		"Found corrosion in the connector.":                                               "heater connector=fail",
		"The shop tested the alternator and said it was fine.":                            "alternator=pass",
		"Tested the blower motor directly off the battery and it spun up.":                "blower motor=pass",
		"Put 12 V straight on the pump and it ran.":                                       "pump=pass",
		"The pump does not run when I feed it direct.":                                    "pump=fail",
		"No voltage at the pump connector.":                                               "pump supply=fail",
		"No continuity between pin 3 and the control unit.":                               "wiring=fail",
		"Ruled out the valve by clamping the hose.":                                       "valve=pass",
		"Wiggled the harness and the display cut out.":                                    "wiring harness=fail",
		"Glow plug 3 had 0.2 megohm from its terminal to the case.":                       "glow plug=fail",
		"The thermistor is 12k instead of 5k.":                                            "thermistor=fail",
		"Three wires in the tailgate loom were snapped.":                                  "tailgate loom=fail",
		"The key switch has 24 in and 24 out.":                                            "key switch=pass",
		"The forward switch has 24 going in but nothing coming out.":                      "forward switch=fail",
		"Went over the sensor harness while I was there and couldn't find a break in it.": "sensor harness=pass",
		"Should I have checked the fuse, good or bad?":                                    "",
		"I would check the fuse. A good one is shiny.":                                    "",
		"Checked for spark: none on cylinder 3.":                                          "",
		"The charger had it full.":                                                        "",
	} {
		t.Run(words, func(t *testing.T) { assert.Equal(t, want, strings.Join(results(said(t, words)), " ")) })
	}
}

func TestTrialsAreTests(t *testing.T) {
	for words, want := range map[string]string{
		"Swapped the relay with a known good one, no difference.": "relay=pass",
		"Swapped coils 1 and 3, the misfire followed the coil.":   "coil=fail",
		"Swapped coils 1 and 3, misfire stayed on cylinder 1.":    "coil=pass",
		"Unplugged the pressure sensor, no change.":               "pressure sensor=pass",
		"With the pressure sensor unplugged it runs fine.":        "pressure sensor=fail",
		"Disconnected the battery overnight, no change.":          "",
		"I would swap the relay with a known good one.":           "",
	} {
		t.Run(words, func(t *testing.T) {
			c := said(t, words)
			assert.Equal(t, want, strings.Join(results(c), " "))
			if want != "" {
				assert.Empty(t, c.Fixes, "a trial is no repair")
			}
		})
	}
}

func TestTrialSpendsItsOutcome(t *testing.T) {
	c := said(t, "Replaced the flap motor. Swapped the relay with a known good one, no difference.")
	assert.Equal(t, []string{"relay=pass"}, results(c))
	assert.Equal(t, []string{"replace flap motor: unknown"}, outcomes(c), "what the exchange showed says nothing of the motor")
	require.NotEmpty(t, c.Doubts)
	assert.Equal(t, "fixes[0].outcome", c.Doubts[len(c.Doubts)-1].About)
}

func TestFixesByPronounAndPair(t *testing.T) {
	for words, want := range map[string]string{
		"The wires were chafed at the hinge. Soldered and taped them, heat is back.": "repair wiring: fixed",
		"Replaced the relay and the fuse. Neither helped.":                           "replace relay: no change, replace fuse: no change",
		"Replaced the vlave but no change.":                                          "replace valve: no change",
		"Replaced the pump, same fault.":                                             "replace pump: no change",
		"Replaced the pump. It worked for a week and then the fault came back.":      "replace pump: returned",
		"Put it in reverse and the heat came on.":                                    "",
		"New relay, fixed. A new relay, who would have thought.":                     "replace relay: fixed",
	} {
		t.Run(words, func(t *testing.T) { assert.Equal(t, want, strings.Join(outcomes(said(t, words)), ", ")) })
	}
}

func TestCodesThatOnlyTheTitleNames(t *testing.T) {
	c := one(t, threadOf("P1B77 on a Halden Brisk", "ann: My 2015 Halden Brisk van blows cold. The code comes back as soon as I clear it."))
	require.Len(t, c.Codes, 1)
	assert.Equal(t, "P1B77", c.Codes[0].Code)
	assert.LessOrEqual(t, c.Codes[0].Confidence, 0.8)
	assert.Contains(t, c.Codes[0].Evidence[0].Quote, "The code")
	for _, s := range c.Symptoms {
		assert.NotContains(t, s.Symptom, "code", "that a code returns is no symptom")
	}
}

func TestMachineGivenAway(t *testing.T) {
	c := said(t, "Replaced the flap motor, no change. Took it to the dealer in the end, they have it now.")
	assert.Equal(t, kb.Closed, c.Status)
	assert.Equal(t, kb.HandedOver, c.ClosedAs)
	c = said(t, "Replaced the flap motor, no change. Not worth repairing at this age, it went to the scrapyard.")
	assert.Equal(t, kb.NotWorthRepairing, c.ClosedAs)
	c = said(t, "Took it to the dealer. They replaced the flap motor and the heat is back.")
	assert.Equal(t, kb.Repaired, c.ClosedAs, "what others mend is mended")
}

func TestCureIsNotClaimed(t *testing.T) {
	c := said(t, "Filed the contacts of the relay and it is better. I cannot say it is cured yet.")
	assert.Equal(t, kb.Open, c.Status)
	c = one(t, threadOf("Heater cold P1B77", "ann: My 2015 Halden Brisk van shows P1B77 and the heater blows cold. Any ideas?",
		"ann: New pump fitted and it is all fixed. Refitted the old flap motor just to see, works the same."))
	assert.Equal(t, []string{"replace pump: fixed"}, outcomes(c), "an old part put back to see is no repair")
	assert.Empty(t, extract(t, threadOf("For sale: Halden Brisk van", "ann: My 2015 Halden Brisk van, new water pump done. Starts every time, no leaks. Was noisy, now fine.")))
}

func TestNamesKeepTheirStrokes(t *testing.T) {
	c := said(t, "The A/C compressor was seized. The run/tow switch was broken.")
	assert.Equal(t, []string{"a/c compressor=fail", "run/tow switch=fail"}, results(c))
}

func TestConfidenceRanksFacts(t *testing.T) {
	named := said(t, "Replaced the flap motor and the heat is back. It was the flap motor all along.")
	shared := said(t, "Replaced the flap motor and the relay together, fixed.")
	require.NotEmpty(t, named.Fixes)
	require.NotEmpty(t, shared.Fixes)
	assert.GreaterOrEqual(t, named.Fixes[0].Confidence, 0.9)
	for _, f := range shared.Fixes {
		assert.Less(t, f.Confidence, 0.5, "which of two did it is open")
	}
	near := said(t, "Fuel pressure 3.4 bar, fine.")
	unsaid := said(t, "Fuel pump is loud. 3.4 bar at idle.")
	require.Len(t, near.Tests, 1)
	for _, ts := range unsaid.Tests {
		assert.Less(t, ts.Confidence, near.Tests[0].Confidence)
	}
}

func TestSlipsOfThePenStayWords(t *testing.T) {
	x := ingest.NewExtractor(words(t))
	c := x.Extract(threadOf("Heater cold P1B77", "ann: My 2015 Halden Brisk van shows P1B77. The steep road and the quiet engine are fine, replaced the conector and it is fixed."))
	require.Len(t, c, 1)
	assert.Equal(t, []string{"replace connector: fixed"}, outcomes(c[0]))
}
