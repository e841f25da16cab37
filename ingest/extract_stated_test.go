package ingest_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"ruledout/kb"
)

// readings gives the tests of a case as "component=result value unit".
func readings(c kb.Case) string {
	var out []string
	for _, ts := range c.Tests {
		line := ts.Component + "=" + string(ts.Result)
		if r := ts.Reading; r != nil && r.Value != nil {
			line += fmt.Sprintf(" %g %s", *r.Value, r.Unit)
		}
		out = append(out, line)
	}
	return strings.Join(out, "; ")
}

// The sentences are our own; what a check came to is common practice of the trade where no limit is stated.
func TestReadingsAsPeopleWriteThem(t *testing.T) {
	for _, c := range []struct{ words, want string }{
		{"Battery was 12.6 with the engine off so that is good.", "battery=pass 12.6 V"},
		{"Alternator is putting out 14.2 at idle.", "alternator=pass 14.2 V"},
		{"Long term trims were +3 and +2.", "fuel trim=pass 3 %"},
		{"The long term trim was sitting at +22.", "fuel trim=fail 22 %"},
		{"Checked resistance of both coils, 0.6 and 0.7 ohms.", "coil=pass 0.6 ohm"},
		{"CAN high to CAN low measures 60 ohms.", "can bus wiring=pass 60 ohm"},
		{"CAN bus measures 120 ohms.", "can bus=fail 120 ohm"},
		{"Voltage drop on the ground cable was 0.9 V.", "ground cable=fail 0.9 V"},
		{"Between the engine block and the battery negative I had 1.4 volts while cranking.", "engine earth strap=fail 1.4 V"},
		{"Pressure in the fuel rail dropped to 20 psi under load.", "fuel rail pressure=fail 20 psi"},
		{"Solenoid coil gets 11.9 V but does not click.", "solenoid coil=fail 11.9 V"},
		{"Insulation test on the compressor gave 0.8 megohm.", "compressor=fail 0.8 Mohm"},
		{"The boost sensor supply was sitting at 4.98 V.", "boost sensor supply=pass 4.98 V"},
		{"Flame sense was 0.4 uA, should be above 1.", "flame sense=fail 0.4 uA"},
		{"Converter slip was 45 rpm in lockup, should be under 20.", "converter=fail 45 rpm"},
		{"119 volts at the ceiling outlet.", "ceiling outlet=pass 119 V"},
		{"Got 13.9 volts and a good ground at the sensor plug.", "sensor supply=pass 13.9 V"},
	} {
		assert.Equal(t, c.want, readings(said(t, c.words)), c.words)
	}
}

func TestStatesAsPeopleWriteThem(t *testing.T) {
	for _, c := range []struct{ words, want string }{
		{"There was a split in the boost hose.", "boost hose=fail"},
		{"The wiper motor plug was full of water.", "wiper motor connector=fail"},
		{"The exhaust manifold has a crack.", "exhaust manifold=fail"},
		{"Found water inside the blower motor.", "blower motor=fail"},
		{"The hose has no cracks.", "hose=pass"},
		{"Fuses, relays and grounds all check out.", "fuse=pass; relay=pass; ground=pass"},
		{"Pulled the impeller and it was missing three vanes.", "impeller=fail"},
		{"The old thermostat was stuck open.", "thermostat=fail"},
		{"Turbo shaft has loads of play.", "turbo shaft=fail"},
		{"The impeller looked brand new.", "impeller=pass"},
		{"The inlet hose and its connections are bone dry.", "inlet hose=pass"},
		{"With the chain bent the encoder reads 4.6 V.", "encoder=pass 4.6 V"},
		{"The timing belt is a tooth out.", "timing belt=fail"},
		{"The tank pickup screen was covered in slime.", "pickup screen=fail"},
		{"Could not tell whether the pump was priming.", "pump=inconclusive"},
		{"You can see a crack in the fan shroud.", "fan shroud=fail"},
		{"Got hold of the loom and waggled it: the meter went open.", "wiring harness=fail"},
	} {
		assert.Equal(t, c.want, readings(said(t, c.words)), c.words)
	}
}

func TestTrialsAsPeopleTellThem(t *testing.T) {
	for _, c := range []struct{ words, want string }{
		{"Pulled the boost sensor plug, still the same.", "boost sensor=pass"},
		{"Pulled fuel pressure, no change.", "fuel pressure sensor=pass"},
		{"Unplugged the air flow sensor and it ran better.", "air flow sensor=fail"},
		{"Bypassed the pressure switch and it ran.", "pressure switch=fail"},
		{"Borrowed a control module and the heater worked.", "control module=fail"},
		{"Swapped the heater relay with the horn relay, no difference.", "heater relay=pass"},
	} {
		assert.Equal(t, c.want, readings(said(t, c.words)), c.words)
	}
}

// A part that turns out to be the cause was found bad by what stands beside the repair, and a reading after it is of what was read before.
func TestFaultBesideARepair(t *testing.T) {
	c := said(t, "Under the cover it had gone green and crusty. Replaced the blower resistor and it blows warm again, three months now.")
	assert.Equal(t, "blower resistor=fail", readings(c))
	if assert.NotEmpty(t, c.Doubts) {
		assert.Equal(t, "tests[0].component", c.Doubts[0].About, "the sentence does not name the part")
	}
	assert.Empty(t, readings(said(t, "Replaced the blower resistor and it blows warm again.")), "nothing is said of what was found")
}
