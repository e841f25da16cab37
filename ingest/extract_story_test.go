package ingest_test

import (
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"

	"ruledout/ingest"
	"ruledout/kb"
)

// reader is one extractor for all stories: building one for each would take longer than reading them.
var reader = sync.OnceValue(func() *ingest.Extractor {
	v, err := vocabulary()
	if err != nil {
		panic(err)
	}
	return ingest.NewExtractor(v)
})

// tale is what somebody tells of a repair, and what is to be read from it. Posts are parted by " // "; one that begins with "bob: " is
// somebody else's. "W: ", "T: " and "B: " tell it of a washing machine, a tractor and a boiler, "N: " gives the whole story.
type tale struct{ say, want string }

// read gives the case of the one who tells.
func (d tale) read(t *testing.T) kb.Case {
	t.Helper()
	start, title, say := "My 2015 Halden Brisk van shows P1B77 and the heater blows cold. ", "Heater cold P1B77", d.say
	for prefix, other := range map[string][2]string{
		"W: ": {"My 2015 Halden W60 washing machine stops with E47 and does not drain. ", "Washing machine E47"},
		"T: ": {"Our 2015 Halden T90 tractor shows E47 and loses power. ", "Tractor E47"},
		"B: ": {"My Halden Compact 24 boiler locks out with E47. ", "Boiler E47"},
		"N: ": {"", "Heater cold P1B77"},
	} {
		if rest, ok := strings.CutPrefix(say, prefix); ok {
			start, title, say = other[0], other[1], rest
			break
		}
	}
	var posts []string
	for i, p := range strings.Split(say, " // ") {
		if i == 0 {
			p = start + p
		}
		if !strings.HasPrefix(p, "bob: ") {
			p = "ann: " + p
		}
		posts = append(posts, p)
	}
	th := threadOf(title, posts...)
	for _, c := range reader().Extract(th) {
		requireLawful(t, th, c)
		if c.Reporter == "ann" {
			return c
		}
	}
	return kb.Case{}
}

// fixes gives the repairs as "action component: outcome".
func (d tale) fixes(t *testing.T) string {
	t.Helper()
	return strings.Join(outcomes(d.read(t)), ", ")
}

// ending gives the repairs, and how the story ends.
func (d tale) ending(t *testing.T) string {
	t.Helper()
	c := d.read(t)
	end := string(c.Status) + "/" + string(c.Confirmation)
	if c.ClosedAs != "" && c.ClosedAs != kb.Repaired {
		end += "/" + string(c.ClosedAs)
	}
	if c.Status == "" {
		end = "none"
	}
	return strings.Join(outcomes(c), ", ") + " | " + end
}

// How stories of several posts, and words of use over time, are read.
func TestEndingsOfStories(t *testing.T) {
	for _, tt := range []tale{
		{"Replaced the relay. // Sorry to report that it's back.", "replace relay: returned | open/unconfirmed"},
		{"Replaced the relay and all was good. // Spoke too soon, the code is back.", "replace relay: returned | open/unconfirmed"},
		{"Replaced the relay, heat is back! // Well, that didn't last.", "replace relay: returned | open/unconfirmed"},
		{"Replaced the pump on Monday. // Two months on and still fine.", "replace pump: fixed | closed/verified"},
		{"Replaced the pump and it works. // Update: 3,000 km later still good.", "replace pump: fixed | closed/verified"},
		{"W: Replaced the drain pump, five washes done, no error.", "replace drain pump: fixed | closed/verified"},
		{"W: New carbon brushes fitted, forty loads later it still spins.", "replace carbon brush: fixed | closed/verified"},
		{"W: Fitted a new door lock and it has run every day since.", "replace door lock: fixed | closed/verified"},
		{"T: Fitted a new lift pump, ran all harvest without missing a beat.", "replace lift pump: fixed | closed/verified"},
		{"T: New solenoid on Friday, sprayed 200 acres since and no fault.", "replace solenoid: fixed | closed/verified"},
		{"B: New fan fitted, fired first time and no lockout for a fortnight.", "replace fan: fixed | closed/verified"},
		{"B: Cleaned the flame sensor with wire wool, fires every time now.", "clean flame sensor: fixed | closed/reported"},
		{"Any ideas? // bob: Check the purge valve. // Purge valve was stuck open, you could blow straight through it. Fitted a new one and it has been fine for 800 miles.", "replace purge valve: fixed | closed/verified"},
		{"Any ideas? // bob: Probably the purge valve. // Bang on. Swapped it and the idle is rock steady, two tanks of fuel later no code.", "replace purge valve: fixed | closed/verified"},
		{"Any ideas? // bob: Earth strap. // You were right Bob. The strap was hanging by a thread. New one on, all lights off, and that was six weeks ago.", "replace strap: fixed | closed/verified"},
		{"Any ideas? // Head came off in the end. Number 3 exhaust valve was burnt. Machine shop cut the seat and fitted a valve, compression now 12 bar on all four and it runs like a watch.", "replace exhaust valve: fixed | closed/verified"},
		{"Any ideas? // Took the head off, valve 3 burnt. Had the head rebuilt, 450 euro. Runs on all four now.", "repair head: fixed | closed/reported"},
		{"Any ideas? // Pulled the speed sensor, it was furry with metal paste. Wiped it clean, put it back and the gearbox shifts properly again.", "clean speed sensor: fixed | closed/reported"},
		{"Any ideas? // Dealer found a bulletin, reflashed the unit, fault has not been seen for 5 weeks.", "reprogram unit: fixed | closed/verified"},
		{"Any ideas? // EGR cooler was leaking coolant into the intake and the turbo shaft had gone too. New cooler and new turbo, expensive week. Pulls like a train now.", "replace egr cooler: fixed, replace turbocharger: fixed | closed/reported"},
		{"Any ideas? // A terminal in the actuator connector was spread. Closed it up with a pick and the code is gone.", "repair actuator connector: fixed | closed/reported"},
		{"Any ideas? // Actuator itself was shot in the end, arm would not move on the bench. Remanufactured actuator in, calibrated, engine pulls like it should.", "replace remanufactured actuator: fixed | closed/reported"},
		{"Any ideas? // Pickup was wound out too far. Set to 0.8 mm off the teeth and all good.", "adjust pickup: fixed | closed/reported"},
		{"Any ideas? // Tacho wire had come off its solder pad on the motor. Soldered it back on, forty washes since without a stop.", "repair tacho wire: fixed | closed/verified"},
		{"Any ideas? // It was the little isolating valve under the sink, the handle was turning but the ball inside was not. New valve, 6 pounds, no more F-something and three weeks of hot water.", "replace isolating valve: fixed | closed/verified"},
		{"Any ideas? // The isolator switch outside had burnt contacts. Replaced it with a new 25 A one and the heat pump has not tripped since.", "replace isolator switch: fixed | closed/verified"},
		{"Any ideas? // Chewed cable between the units, mice. Joined the cores with a proper gel box and it started first time, been on for a week.", "repair chewed cable: fixed | closed/verified"},
		{"Any ideas? // Took the pump out and there was a bit of glass jammed in the impeller. Got it out with pliers and it drains like new.", "clean impeller: fixed | closed/reported"},
		{"Any ideas? // Impeller choked with weed. Cleaned it out and temperatures are back where they should be.", "clean impeller: fixed | closed/reported"},
		{"W: Any ideas? // Shock absorbers were dead, fitted a pair, runs quiet as a mouse.", "replace shock absorber: fixed | closed/reported"},
		{"B: Any ideas? // Had the engineer out. He replaced the diverter valve, and there's been hot water ever since.", "replace diverter valve: fixed | closed/verified"},
		{"B: Any ideas? // Engineer came, changed the PCB. Locked out again the same night. // He came back and found the condensate trap blocked. Cleared it, and not a single lockout in two months.", "replace control board: returned, clean condensate trap: fixed | closed/verified"},
		{"B: Any ideas? // Plumber repressurised it to 1.5 bar and bled the radiators. Lasted two days then same code.", "service radiator: no change | open/unconfirmed"},
		{"B: Any ideas? // He re-gapped the electrode and she lights every time.", "adjust electrode: fixed | closed/reported"},
		{"B: Any ideas? // The fan was the culprit. Fan swapped under warranty, quiet and no codes since November.", "replace fan: fixed | closed/verified"},
		{"T: Any ideas? // Tightened the banjo bolt on the suction line a quarter turn and it has not lost prime since.", "adjust banjo bolt: fixed | closed/verified"},
		{"T: Any ideas? // The mechanic adjusted the clutch pedal switch and it starts every time now.", "adjust clutch pedal switch: fixed | closed/reported"},
		{"T: Any ideas? // There was a chafed spot in the harness where it passes the cab mount. Repaired with heat shrink and rerouted it, 60 hours with no code.", "repair wiring harness: fixed | closed/verified"},
		{"T: Any ideas? // Put in a new alternator, 14.2 V at the battery, code gone.", "replace alternator: fixed | closed/reported"},
		{"T: Any ideas? // Fault is solved. The reason was a corroded pin at the connector X12, I have cleaned it and now the machine work without error 3 weeks.", "clean connector: fixed | closed/verified"},
		{"T: Any ideas? // The service man have changed the valve block and after this no error anymore.", "replace valve block: fixed | closed/verified"},
		{"N: My 2015 Halden Brisk van shows P1B77 and no heat. // bob: I had P1B77 on my 2014 Brisk. Replaced the flap motor and never saw it again. // New flap motor and it made no odds.", "replace flap motor: no change | open/unconfirmed"},
		{"Any ideas? // Fixed! It was the blower resistor. 12 quid.", "replace blower resistor: fixed | closed/reported"},
		{"Any ideas? // Update: solved. New blower resistor.", "replace blower resistor: fixed | closed/reported"},
		{"Any ideas? // SOLVED - blower resistor replaced.", "replace blower resistor: fixed | closed/reported"},
		{"Any ideas? // Problem solved, it was a blown fuse.", "other fuse: fixed | closed/reported"},
		{"Any ideas? // Turned out to be a blown fuse. Working now.", "other fuse: fixed | closed/reported"},
		{"Any ideas? // Finally found it: loose earth behind the glovebox. Tightened, cured.", "adjust earth: fixed | closed/reported"},
		{"Any ideas? // Finally got to the bottom of this. The connector under the seat was full of water. Dried it out, packed it with grease, no fault since Easter.", "clean heater connector: fixed | closed/verified"},
		{"Any ideas? // Just to close this off: dealer replaced the blend door actuator under warranty and all is well.", "replace blend door actuator: fixed | closed/reported"},
		{"Any ideas? // Replaced the blend door actuator. I'll report back. // Two weeks later: still good.", "replace blend door actuator: fixed | closed/verified"},
		{"Any ideas? // Replaced the blend door actuator. // Forgot to update. It worked.", "replace blend door actuator: fixed | closed/reported"},
		{"Any ideas? // Replaced the blend door actuator. // bob: Did it help? // Yes, thanks.", "replace blend door actuator: fixed | closed/reported"},
		{"Any ideas? // Replaced the blend door actuator. // bob: Did it help? // No, still the same.", "replace blend door actuator: no change | open/unconfirmed"},
		{"Any ideas? // Replaced the blend door actuator. // bob: Did it cure it? // It did, 2,000 miles now.", "replace blend door actuator: fixed | closed/verified"},
		{"Any ideas? // Replaced the blend door actuator. // bob: And? // Nope.", "replace blend door actuator: no change | open/unconfirmed"},
		{"Any ideas? // Replaced the blend door actuator and the thermostat. // The thermostat was it, I put the old actuator back and it still works.", "replace blend door actuator: unknown, replace thermostat: fixed | closed/reported"},
		{"Any ideas? // Bob suggested the relay so I fitted one. No.", "replace relay: no change | open/unconfirmed"},
		{"Any ideas? // bob: Try a relay. // Tried a relay. Not that.", "replace relay: no change | open/unconfirmed"},
		{"Any ideas? // bob: Relay? // New relay made no difference Bob.", "replace relay: no change | open/unconfirmed"},
		{"Any ideas? // bob: It will be the relay. // It wasn't the relay, I put a new one in and nothing changed.", "replace relay: no change | open/unconfirmed"},
		{"Any ideas? // New relay in and I have heat.", "replace relay: fixed | closed/reported"},
		{"Any ideas? // Long overdue update. A new relay sorted it and it's been through two winters now.", "replace relay: fixed | closed/verified"},
		{"Any ideas? // Happy to report that the new relay did the job.", "replace relay: fixed | closed/reported"},
		{"Any ideas? // I swapped the relay with the horn one and the heater works, so a new relay is on order. // New relay in, all good.", "replace relay: fixed | closed/reported"},
		{"Any ideas? // Took the relay apart, contacts black, cleaned them with a file and it works again.", "clean relay: fixed | closed/reported"},
		{"Any ideas? // Bypassed the relay with a jumper and the heater ran, so fitted a new relay. Fixed.", "replace relay: fixed | closed/reported"},
		{"Any ideas? // The blower was full of leaves. Emptied it. Works.", "clean blower motor: fixed | closed/reported"},
		{"Any ideas? // Repaired broken wire in the door loom. Four weeks, no code.", "repair door loom: fixed | closed/verified"},
		{"Any ideas? // Found a broken wire in the door loom, soldered it, and four weeks later still no code.", "repair door loom: fixed | closed/verified"},
		{"Any ideas? // The crimp on the brown wire was loose. Re-crimped and the fault has gone away.", "repair crimp: fixed | closed/reported"},
		{"Any ideas? // Fuse holder had melted. Cut it out and fitted an inline one. No trouble for 3,000 miles.", "replace fuse holder: fixed | closed/verified"},
		{"Any ideas? // Replaced the fuse holder because it had melted, and the heater is happy again.", "replace fuse holder: fixed | closed/reported"},
		{"Any ideas? // Fuse 12 was blown. New fuse and it's all working. // Blew again after a week.", "replace fuse: returned | open/unconfirmed"},
		{"Any ideas? // Software update at the dealer, no change. Then they replaced the module, coded it in, and that was that.", "reprogram software version: no change, replace module: fixed | closed/reported"},
		{"Any ideas? // The float was stuck. Freed it off, works.", "repair float: fixed | closed/reported"},
		{"Any ideas? // The valve was seized. Got it moving with penetrating oil and it has worked since.", "repair valve: fixed | closed/verified"},
		{"Any ideas? // Straightened the bent arm on the switch. Works every time.", "repair switch: fixed | closed/reported"},
		{"Any ideas? // Shimmed the switch out by 2 mm, done.", "adjust switch: fixed | closed/verified"},
		{"Any ideas? // Secured the loose wire with a cable tie and that cured it.", "adjust wiring: fixed | closed/reported"},
		{"Any ideas? // Replaced the pump. That was in June and it hasn't missed a beat.", "replace pump: fixed | closed/verified"},
		{"Any ideas? // Replaced the pump. No trouble all winter.", "replace pump: fixed | closed/verified"},
		{"Any ideas? // Replaced the pump. Been to the coast and back, 600 miles, no lamp.", "replace pump: fixed | closed/verified"},
		{"Any ideas? // Replaced the pump. Drove 80 km on the motorway and it stayed off.", "replace pump: fixed | closed/verified"},
		{"Any ideas? // Replaced the pump. Took it for a long run, no code.", "replace pump: fixed | closed/verified"},
		{"Any ideas? // Replaced the pump. Started and stopped it twenty times, not one fault.", "replace pump: fixed | closed/verified"},
		{"Any ideas? // Replaced the pump. Ran it for two hours at full load and it held.", "replace pump: fixed | closed/verified"},
		{"Any ideas? // Replaced the pump. Tested it on the bench for an hour, fine, and back in the van it works.", "replace pump: fixed | closed/verified"},
		{"Any ideas? // Replaced the pump. Six weeks now.", "replace pump: fixed | closed/verified"},
		{"Any ideas? // Replaced the pump. Cold start at minus ten this morning, no problem.", "replace pump: fixed | closed/reported"},
		{"Any ideas? // Replaced the pump, cleared the code, and it has not returned in a month.", "replace pump: fixed | closed/verified"},
		{"Any ideas? // Replaced the pump and cleared the code. It has not returned.", "replace pump: fixed | closed/reported"},
		{"Any ideas? // Replaced the pump. Works.", "replace pump: fixed | closed/reported"},
		{"Any ideas? // Replaced the pump. All good now, thanks everybody.", "replace pump: fixed | closed/reported"},
		{"Any ideas? // Replaced the pump, an hour's work, and the heat is back.", "replace pump: fixed | closed/reported"},
		{"Any ideas? // After two weeks of head scratching I replaced the pump and the heat is back.", "replace pump: fixed | closed/reported"},
		{"Any ideas? // Replaced the pump with one from a 2012 with 40,000 miles on it, heat is back.", "replace pump: fixed | closed/reported"},
		{"Any ideas? // The pump had done 10 years and 150,000 km. New one, heat is back.", "replace pump: fixed | closed/reported"},
		{"Any ideas? // New pump came after three days, fitted it, heat is back.", "replace pump: fixed | closed/reported"},
		{"Any ideas? // Replaced the pump last week and it works.", "replace pump: fixed | closed/verified"},
		{"Any ideas? // Replaced the pump three weeks ago and it still works.", "replace pump: fixed | closed/verified"},
		{"Any ideas? // Replaced the pump, no issues since.", "replace pump: fixed | closed/verified"},
		{"Any ideas? // Replaced the pump, and I have been using it daily without a hitch.", "replace pump: fixed | closed/verified"},
		{"Any ideas? // Replaced the pump and it has worked every day since.", "replace pump: fixed | closed/verified"},
		{"Any ideas? // Replaced the pump, heat is back. It is under warranty for two years.", "replace pump: fixed | closed/reported"},
		{"Any ideas? // Replaced the pump, heat is back. // One year on, still warm.", "replace pump: fixed | closed/verified"},
		{"Any ideas? // Replaced the pump, heat is back. // bob: Well done. // Thanks Bob, 500 miles so far and all is well.", "replace pump: fixed | closed/verified"},
		{"Any ideas? // Replaced the pump, heat is back. // bob: I had that pump fail again after a year.", "replace pump: fixed | closed/reported"},
		{"Any ideas? // Replaced the pump, heat is back. Refitted the old pump to be sure and it went cold again, so that was it.", "replace pump: fixed | closed/verified"},
		{"Any ideas? // Replaced the pump, heat is back. Unplugged the new one and the code came back, plugged it in and it went away, so I am sure.", "replace pump: fixed | closed/verified"},
		{"Any ideas? // Replaced the pump. Went camping with it for a week, warm as toast every night.", "replace pump: fixed | closed/verified"},
		{"Any ideas? // Replaced the pump. Passed its inspection on Friday with no codes stored.", "replace pump: fixed | closed/reported"},
		{"T: Any ideas? // New lift pump. Baled 300 acres since.", "replace lift pump: fixed | closed/verified"},
		{"W: Any ideas? // New drain pump, and 20 washes later all is well.", "replace drain pump: fixed | closed/verified"},
		{"W: Any ideas? // New drain pump. Four loads yesterday, three today, no E47.", "replace drain pump: fixed | closed/verified"},
		{"W: Any ideas? // New drain pump, ran a full cycle and it emptied.", "replace drain pump: fixed | closed/verified"},
		{"B: Any ideas? // New fan. Through two frosts and no lockout.", "replace fan: fixed | closed/verified"},
		{"B: Any ideas? // New fan. No lockouts this heating season.", "replace fan: fixed | closed/verified"},
		{"B: Any ideas? // New fan, fires up every morning.", "replace fan: fixed | closed/verified"},
		{"W: Filter was clean. Impeller had a hair bobble round its shaft, cut that off and it drains.", "clean impeller: fixed | closed/reported"},
		{"B: Replaced the gas bottle, no difference. Any ideas? // The lever valve on the wall was only half open, its spindle had sheared. Plumber fitted a new isolating valve, pressure stays at 30 mbar with everything on and not a lockout in three weeks.", "replace gas bottle: no change, replace isolating valve: fixed | closed/verified"},
		{"T: First thing I did was clean every earth I could find. Nothing. Then I put a new battery on. Nothing. Any ideas? // Earth strap from cab to chassis looked perfect and dropped 2 V under load. New strap, done. No codes since, going on five weeks.", "replace battery: no change, replace earth strap: fixed | closed/verified"},
		{"Any ideas? // Resolver plug. One pin had crept back so far you couldn't see it. Repinned it, torque is smooth and no P-codes in two weeks.", "repair resolver connector: fixed | closed/verified"},
		{"Any ideas? // Dealer says both rear calipers seized. New calipers and pads, 620, brakes are lovely, lamp is out.", "replace caliper: fixed | closed/reported"},
		{"Any ideas? // The timing belt was a tooth out. Retimed it and the code is history.", "adjust timing belt: fixed | closed/reported"},
		{"Any ideas? // The kill switch wire was pinched under the tank. Freed it, taped it, starts on the first kick.", "repair kill switch wire: fixed | closed/reported"},
	} {
		t.Run(tt.say, func(t *testing.T) { assert.Equal(t, tt.want, tt.ending(t)) })
	}
}
