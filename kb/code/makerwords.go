package code

import (
	"regexp"
	"strings"
)

// A maker's code has no form of its own: F12 is a fuse, a key, a terminal or a fault. What stands around it tells, and one
// clear mention settles the others of the same spelling. The words here are those of the trade, gathered by hand.

var (
	makerToken  = regexp.MustCompile(`(?i)0x[0-9a-f]{1,4}|f[0-9]{1,2}[ /-]?e[0-9]{1,2}|[a-z]{1,5}[-:.]?[0-9]{1,4}(?:[.-][0-9]{1,3})?[a-z]?`)
	makerCued   = regexp.MustCompile(`^(?i:(error|err|fault|alarm|trip|dtc|(?:(?:error|fault|trouble|failure|service|display|flash)\s+)?codes?|errors|faults|alarms|dtcs)(?:\s+(?:codes?|message|number|no\.?|nr\.?|is|was|of))*)[\s:=#"*` + "`" + `]*?(\d{1,5}(?:[.-]\d{1,3})?|[A-Z][a-zA-Z]?[ ]\d{1,3}|[A-Z]{2,3}|[a-z][A-Z])(?:\b|$)`)
	quotedForm  = regexp.MustCompile(`(?i)\b(?:show(?:s|ed|ing)?|display(?:s|ed|ing)?|on|reads?|says?|with|flash(?:es|ed|ing)?)[\s:]*["“]([a-z]{1,3} \d{1,3})["”]`)
	numberMore  = regexp.MustCompile(`(?i)^(?:\s*[,/&+]\s*|\s+(?:and|or)\s+|\s*,\s*and\s+)(\d{1,5})\b`)
	quotedSense = regexp.MustCompile(`(?i)^["'*)` + "`" + `]*\s*(?:(?:=|:|,|\(|\bis\b|\bmeans\b|\bmeaning\b)\s*)+(?:(?:the\s+)?(?:manual|book|handbook|sheet|label|it)(?:\s+(?:says|calls it|as))?[:,]?\s*)?["“«]|^["'*)` + "`" + `]*\s*(?:\bmeans\b|\bstands for\b)`)
	bookCalls   = regexp.MustCompile(`(?i)^["'*)` + "`" + `]*,?\s*(?:which|that)\s+(?:the\s+\w+\s+(?:calls|says)|means)`)
	afterStrong = regexp.MustCompile(`(?i)^["'*)` + "`" + `]*,?\s*(?:(?:on|in) the (?:\w+ )?(?:display|screen|dash|panel|readout|lcd|cluster|controller)|(?:comes?|came|coming|pops?|popped|popping|keeps?|kept) (?:up|on|coming|flashing|showing|appearing)|flash(?:es|ing|ed)|displayed|shown|error|fault|codes?|alarm|lockout|trips?|tripping|tripped)\b`)
	otherCode   = regexp.MustCompile(`(?i)^["'*)` + "`" + `]*,?\s*(?:(?:error|fault|trouble)\s+)?(?:error|fault|codes?|alarm|shows?|showed|showing|flash(?:es|ing|ed)?|trips?|tripping|tripped)(?:\s+(?:on|with|code|error|up))*[\s:#"'*=` + "`" + `]+[a-z]{0,4}[-:.]?\d`)
	afterWeak   = regexp.MustCompile(`(?i)^["'*)` + "`" + `]*,?\s*(?:again|is back|was back|(?:came|comes) back|(?:did|has|does|will|had) ?n[o']t|didn['’]t|hasn['’]t|doesn['’]t|never|back|returned|returns|is gone|gone|went away|cleared|and nothing|stored|pending|active|shows|showed|appears|appeared|every|after|on every|once|twice|within|(?:[a-z]+\s+){1,2}(?:fault|error|alarm|lockout))\b|^\s*=`)
	rangeAfter  = regexp.MustCompile(`(?i)^\s*(?:to|thru|through|–|\.\.)\s*[a-z]{1,3}-?\d`)
	rangeBefore = regexp.MustCompile(`(?i)[a-z]{1,3}-?\d{1,3}\s*(?:to|thru|through|–|\.\.)\s*$`)
	afterPart   = regexp.MustCompile(`(?i)^["'*)]*\s*-?(?:fuses?|relays?|connectors?|plugs?|pins?|terminals?|sockets?|torx|screws?|bolts?|nuts?|bulbs?|paper|sheet|fuel|petrol|battery|batteries|key|keys|button|engines?|motorway|road|oil|grease|gas|refrigerant|resistors?|caps?|capacitors?|transistors?|diodes?|chips?|thread|spanner|size|(?:is|was|were|reads?|measures?|measured) (?:open|short|shorted|burnt|blown|corroded|dead|loose|black)|open|shorted|burnt|blown)\b`)
)

// partWords name things that carry such marks; a token right after one is that thing's mark.
var partWords = wordSet(`fuse fuses connector connectors pin pins terminal terminals relay relays resistor resistors diode
	diodes cap capacitor capacitors transistor transistors plug plugs socket sockets bolt bolts screw screws part page step
	fig figure table item post grade class size type panel panels string bank cylinder cyl route junction bulb bulbs ic chip
	jumper tp wire wires coil valve port slot rev revision version firmware software mk mark chapter section
	drawing row seat gate bay track channel sensor thermistor switch key button mode menu parameter setting thread torx
	between across from at engine motor gearbox platform chassis series phase unit probe contact contacts output input`)

var nounCues = wordSet(`code codes error errors err fault faults alarm alarms dtc dtcs lockout`)

// notFaultCodes are the other codes of daily life.
var notFaultCodes = wordSet(`post zip area part paint key radio source date dress colour color promo discount country
	bar qr building model product order serial security unlock pin postal voucher dialling tracking access pass batch fuse
	body chassis type coupon referral trim line option g nature safety electrical`)

var verbCues = wordSet(`show shows showing showed shown display displays displayed displaying flash flashes flashing flashed
	throws throw throwing threw thrown tripping tripped trips trip blinking blinked beeping beeps logged logging reporting
	reports reported pops popped faulting faulted faults errored posts posted lockout locks locked locking`)

var weakVerbs = wordSet(`got get gets getting had have has gives gave giving did does do no not same still another never
	then again with one more reads reading says said pulled pulls sets stops stopped saw see seen before was calls called call`)

var fillers = wordSet(`a an the up out with on at this that no nr number is was were of as code error me us now just always
	only again constantly it also and my one not another and to or than more for thing`)

var owners = wordSet(`my our your his her their a an used new old`)

// everyday are tokens of the form of a code that nearly always mean something else.
var everyday = wordSet(`co2 h2o o2 no2 nh3 v4 v6 v8 v10 v12 i3 i4 i5 i6 l4 h4 h7 m3 m4 m5 m6 m8 m10 m12 m14 m16 t10 t15 t20
	t25 t27 t30 t40 t45 t50 e5 e10 e85 b7 b20 dot3 dot4 dot5 usb2 usb3 cat5 cat6 ip65 ip67 ip54 ip20 r134 r134a r12 r22
	r32 r410a r290 r600 r600a n2 q1 q2 q3 q4 x2 x3 x4 x5 x6 x10 no1 no2 obd2 obdii rs232 rs485 mp3 mp4 win10 w40 ph7 ac1
	a3 n54 h1 h3 h8 h11 s1 s2 wd40 utf8 utf16`)

// abbreviations are not codes even where letters alone could be one.
var abbreviations = wordSet(`abs ecu ecm pcm tcm bcm cel mil led lcd vin obd dtc can lin usb diy faq op pm am tv ok id no on in
	at or if it is to so my we he the and but for of as an be by do go me up us ac dc hv lv ev egr dpf def scr vvt tps map maf
	cpu pcb psu uk us eu usa ive im was has had not all any are can new old now off out own see too two who why you hi`)

func wordSet(words string) map[string]bool {
	set := map[string]bool{}
	for _, w := range strings.Fields(words) {
		set[w] = true
	}
	return set
}

var shortToken = regexp.MustCompile(`(?i)^(?:[a-z]-?\d{1,3}|f\d{1,2}[ /-]?e\d{1,2}|[a-z]:\d{1,3}|[a-z]{1,2}\d{1,2}[.-]\d{1,2}|0x[0-9a-f]{1,4}|e(?:rr|rror)[-:.]?\d{1,4}|er[-:.]?\d{1,4}|fc[-:.]?\d{1,4}|al[-:.]?\d{1,4})$`)

var tiedForm = regexp.MustCompile(`^[A-Z]{2,4}-\d{2,4}$`)

// usualForm is what most displays show; seen twice it needs no other cue.
var usualForm = regexp.MustCompile(`^(?:[EFH]|ER|AL)\d{1,3}$`)
