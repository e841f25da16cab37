package ingest

// kindCues is the table of what tells how a statement is meant: as advice, guess, plan, hearsay, or of which machine it speaks.
func kindCues() []cueGroup {
	return []cueGroup{
		{cueAdvice, "You should check the fuse.",
			"should, could, you could|can|need|want|might|must|should|may, you should|would|will, youd|youll|youre, must, ought, recommend, " +
				"suggest, suggests, advise, please, better to, make sure, need|needs|want|wants to, needs a?|new|replacing|cleaning|doing, " +
				"has|have|having to be, in order, one at time, first thing to, easiest, in case"},
		{cueAdvice, "I would check the fuse.",
			"would check|look|try|test|measure|start|do|say|go|be|suspect|replace|swap|put|get|have|pull|not, " +
				"id|ill look|check|try|start|go|be|suspect|bet|say|want|have|swap|replace|put|get|pull|test|measure|do|rather|sooner|worry|not|guess|budget|also|blow|first, " +
				"i would, we would"},
		{cueAdvice, "Check your fuse.",
			"try|check|replace|swap|measure|test|look|put|pull|get|clean your|the, have you, did you, do you, are you, is it, " +
				"worth a?|checking|trying|looking|doing, your, yours, just buy|replace|get, watch, look for|at, go and look, send it, throw one"},
		{cueAdvice, "Never buy a used one.",
			"dont|do_not, never|always buy|use|replace|check, before you|anybody|anyone|i|the, beware, be careful, lesson, next time, in future, " +
				"if you get|see|have"},

		{cueGuess, "I think it is the fuse.",
			"i think, i guess, i reckon, i suspect, i believe, i bet, i assume, assumed, id assumed, i thought it, i imagine, i wonder, " +
				"id say|bet|guess, my guess|money|bet|hunch|vote|theory, i thought, we thought, thought it was, suspect, suspected, suspicion, " +
				"i dont think, doubt, wonder, wondering, wondered, not sure, dont know if, do not know if"},
		{cueGuess, "It is probably the fuse.",
			"probably, possibly, perhaps, maybe, likely, most likely, presumably, apparently, supposedly, allegedly, nearly always, always the, " +
				"almost certainly, for sure, 99, if anything, no question, im told"},
		{cueGuess, "It could be the fuse.",
			"sounds|sound|sounded like, looks like its, could be, might be, may be, must be, may have, might have, could have, can be, " +
				"should be, would be, seems like, or is it, any idea, any ideas, any thoughts, what if, or was it, so maybe, could just as well, " +
				"as well be"},
		{cueIf, "Unless it is the fuse.",
			"if, unless, whether, in case, suppose, assuming, were to, would have, wouldnt have, would of, should it, otherwise, when you, " +
				"whenever, ever throws, until"},
		{cuePlan, "I am going to fit one.",
			"going to, gonna, will, ill, well see, wont, plan, planning, " +
				"next week|weekend|month|saturday|sunday|monday|tuesday|wednesday|thursday|friday|step|up|move|job|thing|on|stop|is|i, tomorrow, " +
				"tonight i|ill, monday i|ill, weekend i|ill, waiting for|on|to, to do, want to, wanted to, thinking of|about, about to, considering, " +
				"have to, has to, need to, am going, havent|have_not|not|didnt yet, yet, should i, do i, can i, shall, intend, hope to, tempted, " +
				"talking about, to be safe"},
		{cuePlan, "One is on order.",
			"ordered, on order, when it|they|the arrives|comes|turns, arrives, comes tuesday, has|have|had a? quote, quoted, wants, wanted, " +
				"before i|buying|buy|spending, in the basket, still in the? box, in its box, bought, buying, quote|quoted for, would cost, or buy, " +
				"signs for"},
		{cueHearsay, "He reckons it is the fuse.",
			"reckons, reckon, says, said, thinks, told me|us, tells me, suggested, suggests, swears, swear, claims, claimed, heard, i read, " +
				"ive read, they say, people say, everybody|everyone says|knows, someone|somebody says|said|told|suggested, according to, " +
				"dealer wants|says|said, they want, wants to sell, blames, diagnosed, thought"},
		{cueOther, "A mate of mine had it.",
			"mates|friends|neighbours|neighbors|cousins|brothers|dads|fathers|bosss|customers|colleagues|buddys, a mate, mate of mine, " +
				"friend of mine, my neighbour|neighbor|mate|friend|cousin|buddy|boss has|had|have|got, a? guy|bloke|chap|fella at|on|down|i, " +
				"my neighbour|neighbor|mate|friend|cousin|buddy|boss|colleague|uncle replaced|changed|fixed|swapped|fitted|put, some people, " +
				"others have, a customer, someone else, another member, in your, on yours"},
		{cueGeneral, "These eat pumps.",
			"these eat, usually, generally, always, often, everyone, everybody, common, known for, notorious, known issue|weakness|fault, " +
				"typical, in general, they all, people, tend to, tends to, nobody, on these, those"},
		{cueSame, "Same here.",
			"same here, me too, same boat|story|carry, " +
				"same problem|issue|thing|fault|code|light|noise|error|symptoms|trouble|one here|on|with|as|for|too|in, same on my|our|mine|ours, " +
				"same with my|our|mine|ours, same err, same as mine|ours|me|us, likewise here, " +
				"similar on|with|story|problem|issue my|our|mine|ours|here, ditto, snap, plus one, been there, " +
				"identical here|problem|fault|symptoms, my own troubles|trouble|problem|story|case|fault, in the same boat, joining the club, " +
				"add me|mine to"},
		{cueSame, "I had exactly the same.",
			"had|have|having|got|get|getting|saw|seen exactly|exact? the? same|identical|similar, " +
				"i|we had|have|got|get|see|saw a? this|that|it|exactly|identical|similar here|too|on|with|last|before|happen|problem|issue|fault|once, " +
				"had|have this|that|it too, id the same, have|had|having|got exactly this|that|it, exactly this|that here|on|with, on|with|at the same model|machine|type, mine|ours|it says the? same, went|been through this|it|the_same, exactly the same here|on|with|thing|happened, " +
				"i|we also have|had|get|got, i|we have|had it too, went through the same|this"},
		{cueSame, "With us it was the fuse.",
			"with me|us it was, here it was, in my|our case it was, for me|us it was, here the * was the, here the * * was the, " +
				"happened to me|us|mine|ours, happening to me|us, " +
				"mine|ours does|did|do|has|had|is|was|started|keeps the? same|too|it|this|exactly|identical"},
		{cueSame, "Mine did this too.",
			"mine|ours|my * did|does|has|had|is|started|keeps this|it|that|exactly|identical|doing, mine|ours * * does|did|doing|has the? same, " +
				"my|our * has|had|shows|throws|gives|gave|showed|threw the? same|identical|exact, " +
				"my|our * * has|had|shows|throws|gives|showed|threw the? same|identical|exact, my|our * did|does the? same|this|that|it, " +
				"has the same symptom|fault|problem|issue|code|trouble, does exactly|just the same, started|starting doing it|this|that|the_same, " +
				"doing this|it too|now|as_well|here, doing exactly|just this|that"},
		{cueSame, "Another one here.",
			"another one here, another here, one more here, another for the list, on mine|ours it|the, in my|our case it|the|there, " +
				"in our|my case, i|ive|we fought|battled|chased|chasing|fighting|struggled|struggling with? this|it|the same, " +
				"got|have one * * * doing|with this|that|the_same, got|have one * * doing|with this|that|the_same, going through the same|this, " +
				"suffering the same|from this, joining in with"},
		{cueSwap, "Swapped it with a known good one.",
			"known good, known working, swapped with, swapped it with, swapped over, swapped round, swapped around, swapped between, " +
				"swapped the|my|our, swap, swapping, from another, from other, from my other|spare|second, from a? donor, donor, slave, " +
				"exchanged with, changed with, from a? working|scrap, swapped from, substitute, substituted"},
		{cueSwap, "Tried a borrowed one.",
			"borrowed, borrowed a?, loaner, loan, spare one, tried the? spare, tried another, tried a? different, " +
				"different outlet|socket|supply|cable|charger|pump, another outlet|socket|supply|cable|charger, in mine, put his, his in, " +
				"other tractor|truck|car|machine|one of, test unit, tried with|it with"},
	}
}

const verdictCues = `
[good]
ok, okay, fine, good, perfect, perfectly, great, normal, alright, all right, in spec, within spec|limit|limits|range|tolerance|specification,
to spec, on spec, spot on, as it should, as should, like in book, like the book, by the book, not bad, healthy, strong, solid, plenty,
steady, clean, clear, tight, dry, intact, sound, good as new, like new, as new, no play, no wear, no slack,
no leak|leaks|damage|corrosion|cracks|bubbles|water|sign, not blocked, not loose, not slack, not worn, not frozen, not melted, not cracked,
not damaged, not leaking, not broken, not bent, not corroded, not burnt, not open, not shorted, not stuck, not that, not the|my, isnt the,
wasnt the, so not, so its not, so thats not, so it isnt, so it wasnt,
moves|moving|spins|spinning|turns|turning|turned freely|free|smoothly|easy, all its teeth, plenty left, plenty of, passes, passed, pass,
holds vacuum|pressure|fine, held, holding, works, working, worked, blows hard, clicks, clicking, even on|temperature, even, equal,
the same now, all the same, balanced, correct, exactly right, is right, matches, match, agrees, telling the truth, isnt lying, not lying,
bone dry, no fault, nothing wrong, couldnt find anything wrong, nothing found, nothing unusual, checks out, checked out, tested good|fine|ok,
ohm|ohms out, undamaged, lights solid, solid lights, is full, at max, level ok, at level, up to level, up to mark, less than limit,
well under, well below, well within, well above, under the limit, never moved off, didnt leak, nothing, still, not one drop, by one finger,
with one finger, no bubbles, no chafing, no change in, reached, can rule, rock steady, happy, not an issue, not even warm, bright, shiny,
at the? right temperature|time|pressure|point|level, sparks every|each time, toggles, toggling, like|as it|they ought to, like they should, is|was|were not tripped,
where it should be, nothing amiss|untoward|obvious|odd|suspicious|unusual|loose|leaking|burnt, doing its|their thing|job|bit, passes power|current, no|not|no_short path|short to ground|earth|case|chassis|frame|body,
right on, bang on, dead on, right by the|chart|book, looked|looks|look brand new, look|looked|looks like new, good as new,
is|are|was|were|moved|swung free, end to end, stop to stop, smooth as, clear as, clean as, dry as, tight as, straight as, solid as, off the hook, in the clear, no complaints, lines|line|lined up, line up, in time,
full voltage|pressure|flow|power, good flow|pressure|voltage|signal|contact|spark|continuity|compression|vacuum|shape|nick|condition|order, plenty of flow|pressure|spark,
nice and clean|tight|dry|bright|smooth|free, no rust|corrosion|play|wear|cracks|scoring|burning|chafing|kinks|leakage|water|moisture|dirt, not a mark|drop|trace|leak|crack|bubble,
by hand freely|easily, reads|read right|correctly|true|normal, in good shape|nick|order|condition|working, like it should, does what it should,
lovely, mint, textbook, beautiful, beautifully, flawless, faultless, spotless, as expected, expected, not bad, lively, plausible
[bad]
not ok, not okay, not good, no good, not right, bad, faulty, dead, failed, fail, failing, defective, died, dying, packed up|in, given up,
let go, blew, blown, had it, popped, fried, cooked, knackered, shot, toast, gone, cracked, crack, split, broken, broke, snapped, bent, burnt,
burned, melted, scorched, charred, crispy, corroded, corrosion, green, furry, fur, rusty, rusted, rust, rotten, rotted, worn, worn out,
chafed, chafe, rubbed, frayed, torn, tore, perished, swollen, bulging, leaking, leaks, leak, leaked, seeping, weeping, wet, soaked, soaking,
full of, packed, blocked, clogged, choked, plugged, restricted, sludge, gunk, gummed, stuck, sticking, sticky, seized, jammed, tight spot,
slack, loose, play, wobbles, missing, collapsed, crushed, kinked, pinched, flat, low, too low, very low, way low, high, too high, way high,
over the limit, out of spec|range|limits|tolerance|balance, open circuit, open line, open, o/l, ol, infinite, shorted, short to, short,
dropped, drops to, drop to|down, sags, sagged, sag, fell, falls, nothing at all, no reading, no signal, no power, no voltage, no output,
no pulse|pulses, no swirl, no flow, never moves, not moving, doesnt move, does not move, wont move, will not move, no movement, went open,
went down to nothing, pushed back, pushed in, backed out, hanging on|by, hanging, groove, grooved, scored, pitted, noisy, rumbling, rough,
brown, black, crusty, crust, tide mark, coked, sooted, carboned, contaminated, water in|inside, oil inside, drop of water, dirty, filthy,
weak, intermittent, erratic, jumps, jumping, jumped, should be zero, all over the place, half missing, slow, turning slow, ouch, way off,
below spec|minimum|limit, above limit|spec|maximum, less than half, not enough, passes air, passing, blow through, blow straight through,
loads|lots|plenty|tons|bit|amount|heaps of play|slack|wear|corrosion|rust|slop|movement|water|oil|crud|carbon, too much|excessive|massive|huge|serious play|wear|slack|slop|movement|resistance|drop|leakage|end_float|backlash,
way|well|far|way_way over|above|under|below|beyond book|spec|limit|range|the, over|under the book, covered in|with, caked in|with|up, coated in|with, plastered in|with, wrapped around|round,
drops out, dropped out, dropping out, comes and goes, came and went, cuts in and out, tooth out, one tooth off, out of time, jumped a? tooth,
gritty, notchy, lumpy, sloppy, crunchy, lazy, sluggish, floppy, spongy, pitting, galled, glazed, rotted, rotted off|through|away, nothing comes|coming|came out, none coming out,
bulged, swelled up?, puffed up, ballooned, cold at the? bottom|top|one_end, had tripped, was tripped, were tripped,
block of ice, solid ice, iced up|over, frozen solid|up, chipped, only? finger tight, only? hand tight, off its|the spigot|stub|seat|track|pulley|rail|rails|mount|clip|hook|post|nipple|barb|perch,
lower|higher|less|more|weaker|hotter|slower than the? others|rest|other, than all the? others|rest, sucking air, drawing air, pulling air, sucked air, drew air, letting air in, letting by|past,
dribbling, dripping, pouring, spraying, hissing, grinding, whining, screaming, binding, dragging, sags, wandering, bouncing, bounces, flickering,
stops there, no further, no higher, wont go any higher, never gets past|over|above, never got past|over|above, wont go past|over|above, barely moves|moved|turns|turned,
worn flat|smooth|thin|away|down, down to the metal|wires|wire|cord|cords|last, hanging off|out, dangling, adrift, falling apart, in bits|pieces, to bits|pieces,
rubbed through, chafed through, cut through, eaten through, rusted through|solid, gone green|hard|brown|black|brittle|soft|rotten|open|short, turned green|black|brown,
dead short, blown out, pulled out, popped out, worked loose, came adrift, come adrift, broken off|away, snapped off, sheared off, cracked right|all, split right|all|along|open,
never clicks|clicked|moves|moved|turns|turned|spins|opens|closes, hard as, stiff as, full up, bunged, plugged solid|up, packed solid|with, solid with, seized solid, rusted up,
running out, eaten, nearly through, worn through, hole, holed, punctured, dented, warped, delaminated, stripped, sheared, fouled,
disconnected, unplugged, came off, fell off, fallen off, slid off|half, hard as, brittle, wasted, tired, empty, came loose, come|came|coming apart, was|were|had|has|have|is|are spread, spread open|apart, splayed, fell|fallen|falling apart, flat as, stiff, round and round,
worked loose|itself, dry joint, broken leg, bad joint, not fully, not seated, not home, not latched, half out, sticks, stretched, flattened,
hardened, deformed, distorted, gunked, furred up, bunged up
[unsure]
hard to see|call|judge, no wiser, none the wiser, told me nothing, tells me nothing, proved nothing, did not prove, didnt prove, proves nothing, didnt tell me, did not tell me, neither here nor there, got nothing from it, nothing out of it,
couldnt make out, couldnt get a reading, could not get a reading, no clear answer|result, not conclusive, cant be sure, cannot be sure, couldnt decide, jury is out,
couldnt say|tell, could not say|tell, cant tell|say, cannot tell|say, wouldnt swear, not sure, inconclusive, hard to tell|say,
got nothing out of it, maybe, dont know, no idea, couldnt see, cant see, couldnt be sure
[limit]
should be|read|show|give|see|have, should, spec|specs|specification is|says|said|of|calls?, spec, book says|say|wants|said|gives, book,
manual says|say|wants|gives|calls, manual, limit is|of, limit, workshop limit, minimum|maximum|min|max, must be, must, wants to be, wants,
want, needs, need, says * on the? side|label|plate|tin|can|sticker|box|case, set at|to, rated at|for, adjusted to, supposed to, ought to be, normal is|value|range, normally, nominal, data says, diagram says, needed, is needed, required, at least,
at most, stamped, marked, rated, rating, factory, expected, in the book, like in book, needs to be, nothing over|under,
anything over|under|above|below, allowed, tolerance, it says, desired, target, setpoint, set point, commanded, requested, specified
`
