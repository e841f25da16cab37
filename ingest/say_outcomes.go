package ingest

import "slices"

// outcomeCues is the table of what people say of the effect of a repair, of who is to blame, and of how the story ends.
func outcomeCues() []cueGroup { return slices.Concat(vainCues(), cureCues(), endingCues()) }

// vainCues are ways to say that a repair did not help, or only a little.
func vainCues() []cueGroup {
	return []cueGroup{
		{cueNoChange, "New pump, no change at all.",
			"no change, no * change, no difference, no * difference, no improvement, no effect, no joy, no luck, no good, no use, no better, " +
				"no help, no dice, no avail, to no avail, no noticeable, no further, no wiser, no fix, no cure, nada, nope, nix, " +
				"without success|effect|result|change|improvement"},
		{cueNoChange, "It made zero difference.",
			"made|makes|make no|zero|odds|little difference|change, made|makes no odds, made not * difference, " +
				"made not the slightest difference, not make|made * difference, no slightest difference, " +
				"not a bit|jot|scrap|shred of difference|change|improvement, not the slightest, not one bit, did diddly, " +
				"made sod_all|bugger_all|zilch|nowt, nothing but"},
		{cueNoChange, "Neither helped.",
			"none of that|this|it|them|those made|helped|worked|fixed, neither|none|nothing helped|worked|fixed|cured|changed, " +
				"neither|none made|did|had, neither did|was it|anything, nothing of it|that help|helps|helped|changed, " +
				"nothing changed|different|improved|better, changed nothing, altered nothing, nothing of that, nothing doing, got nothing, " +
				"achieved|gained|accomplished|solved|cured|fixed|improved nothing, nothing came of it"},
		{cueNoChange, "It didn't help.",
			"{not} help|fix|cure|change|solve|do|make|work|improve|sort|resolve|touch|matter|bring, " +
				"not helping|helped|helps|fixed|cured|sorted|solved|worked, " +
				"hasnt|has_not|havent|have_not|not helped|changed|fixed|cured|solved|improved|sorted|worked, is not helping, " +
				"never helped|changed|fixed, not it, no different, unchanged"},
		{cueNoChange, "That did nothing.",
			"did|does precisely|exactly|absolutely? nothing|sod|bugger|zip|zilch|nowt, did nothing, does nothing for it, square root of, " +
				"made square root of, for nothing, for no reason, same before and after, it before and after, did it before too"},
		{cueNoChange, "Same fault as before.",
			"same problem|fault|thing|story|result|code|codes|lights|light|error|again|symptoms|symptom|way|noise|issue|outcome, same as before, " +
				"exactly the same, all the same, just the same, the same next, as before, exactly like it did before, still the same, " +
				"stays the same, stayed the same, remained the same, remains the same, just as bad, as bad as before, fault the same, " +
				"just as before, as ever"},
		{cueNoChange, "It is still dead.",
			"still dead|there|here|on|doing|does|did|flat|failing|fails|trips|tripping|leaks|leaking|locks|stalls|the|no|not|wont|cuts|hot|cold|slow|nothing|getting|throws|throwing|comes|came|happens|happening|noisy|broken|blinks|blinking|flashing|shows|showing|reads|blows|blowing|misfires|misfiring|present|low|high|empty|stuck|open|faulty|got|have|persists"},
		{cueNoChange, "The problem persists.",
			"{fault} remained|remains|persists|persisted|continued|continues, {fault} stayed|stays on|there|the|with|put|at, carried on"},
		{cueNoChange, "So it wasn't that.",
			"so that|it wasnt it, that wasnt it, it was not that, it is not that, not that either, that was not it, wasnt that, so not that, " +
				"it isnt that, its not that, wasnt|isnt|was_not the problem|cause|answer|fix|culprit|issue, wrong guess, bad guess, " +
				"wild goose chase, red herring, barking up, but nothing else, not that"},
		{cueNoChange, "A waste of money.",
			"waste of money|time, waste of * euro|dollars|pounds|quid|bucks, wasted money|time|my, money down the drain"},
		{cueNoChange, "The code came straight back.",
			"straight back, came|come|comes straight|right|immediately back, was back, is|are|were back, back inside|within|after, lasted, " +
				"returned *"},
		{cueNoChange, "Not solved.",
			"not solved, did not solve, not cured, didnt cure, did not matter, not fixed, not sorted, not resolved"},

		{cuePartial, "It is better but not right.",
			"better but, bit better, little better, was better, is better, better not cured, improvement but, less but, quieter but, " +
				"better than, bit|little warmer|cooler|quieter|smoother|cleaner but, better though, better yet, a? slight improvement, " +
				"some improvement, slightly better, marginally better, much better but, much less * but, much|far|way|lot less"},
		{cuePartial, "That helped a bit.",
			"helped a bit|little|lot|some, improved, half way, halfway there, made|makes it better, smoother, eased it, most of it, reduced it, " +
				"partial, only partly, partly fixed|cured|better, at least, not as bad, made a? difference but, improved things|matters but?"},
		{cuePartial, "It trips less often now.",
			"less often, less frequent|frequently, instead of every, stretched it to, stretched that to, only once a|per|every, bought me|us, " +
				"not as often, still cured though, not completely, not entirely, not coming any more, is not coming any more, wasnt the whole story, " +
				"half the problem, half cured, not all of it, no longer * but, to about once, so not nothing"},
	}
}

// cureCues are ways to say that the fault is gone.
func cureCues() []cueGroup {
	return []cueGroup{
		{cueFixed, "It has worked ever since.",
			"everything|it|all|she has|have worked|run|behaved, has worked|behaved for|since|fine|perfectly|ever, " +
				"has|have {went} since|ever|{well}, {went} ever since, good|fine|perfect|ok|okay ever since"},
		{cueFixed, "Now it starts.",
			"now it|she|he|everything {goes}, now {goes} {well}, now {goes}, and it|she|he|all {went} again|{well}, and it|she|he {went}"},
		{cueFixed, "It is working again.",
			"is|are|was|were {going} again|now|{well}, back to {going}|working|running|normal|life|full|spec|new|itself|herself|business, " +
				"came|come|comes|back to life, came|come back to life, brought it|her|everything back"},
		{cueFixed, "That fixed it.",
			"fixed|fixes|cured|cures|sorted|solved|resolved|rectified|remedied it|that|mine|ours|this|things|everything|us|me, " +
				"fixed|cured|sorted|solved|resolved the problem|issue|fault|trouble|leak|noise|code|misfire, " +
				"has|have|that|which|this|it fixed|cured|sorted|solved|resolved, sorted it out, sorted, all sorted, cured, is cured, solved, " +
				"problem solved, resolved, fixed, healed, cured the, finally fixed"},
		{cueFixed, "That was it.",
			"that was it, that did it|the, that was that, that was|is the end of it|that|the, end of story, did|done|does the job|business, " +
				"did the trick, done the trick, job done, away ye|you|we go, jobs a good, that was all, was all it needed|took, all it needed|took|wanted was, it worked, " +
				"that worked, case closed, job jobbed, bobs your uncle, hey presto, bingo, voila, eureka, " +
				"is|was the cure|fix|answer|solution|ticket, was the trick"},
		{cueFixed, "All good now.",
			"all good, all is good|well, all fine|ok|okay|normal, all well, all clear, everything ok|fine|good|normal|well, good to go, " +
				"happy days, sweet as, rock solid, spot on, worked a treat, success, works a treat, happy as, happy camper, right as rain, " +
				"on the button, no trouble, no bother, never looked back, not thought about it"},
		{cueFixed, "It has been fine.",
			"been fine|good|perfect|great|faultless|flawless|reliable|ok|okay|happy|running|working|quiet|dry|solid|trouble|sweet|spotless, " +
				"is|runs|running|ran|works|working|work|worked {well} again|now|since, is fine|perfect|good|great again|now, " +
				"perfect since|now|again, fine since|now|again"},
		{cueFixed, "It works fine.",
			"works|working|work fine|perfectly|again|great|like|as|now|properly|well|every|first|ok|okay, " +
				"running|runs|ran fine|sweet|perfect|perfectly|great|like|smooth|smoothly|well|again, goes|{goes} {well}, {went} {well}, " +
				"{went} first|every time|go|try|press|pull|morning"},
		{cueFixed, "It starts first time.",
			"starts|start|started right|straight|first|every|fine|perfectly|hot|up|like|instantly, starts and, " +
				"{goes} first|every time|go|try|press|pull|morning, first press, first time, first kick, first pull, first turn, " +
				"{goes} on the button|key, {goes} up, every time now, ready first press, went ready"},
		{cueFixed, "New belt on and she runs.",
			"and she|it|he|they ran|runs|drives|goes|works|started|starts|lives|fires|charges|heats|prints|makes|holds|builds, goes forward, " +
				"she|it {goes} again, it {goes}|{went} now|again, away we go, away it|she went, off it|she goes|went"},
		{cueFixed, "Runs like a watch.",
			"like a? train|watch|dream|charm|butter|clockwork|rocket|sewing|top|swiss|champ|treat, on all four|six|three|eight|cylinders, " +
				"all day long, quiet|dry|solid|steady|warm|toasty as, back where it|they should|belongs|belong, " +
				"banging|knocking|whining|grinding|humming|buzzing|clicking|ticking|squealing|squeaking|leaking|dripping|shaking|vibrating|hunting|surging|smoking|beeping|flashing|stalling has|is? stopped|gone|ceased|disappeared, " +
				"lights|lighting|latches|locks|opens|closes every|first time, rock steady|solid since|now|again"},
		{cueFixed, "Good as new.",
			"good as new|gold, like new|it|nothing, as new, back to normal|life|full|spec|working, flying again, back in business, " +
				"up and running, right again, on the road again, in service again, back in service|use|work|action, alive again, going again, " +
				"like it should, as it should, as they should, as intended, like clockwork, like a dream|charm|top|watch"},
		{cueFixed, "It is warm again.",
			"warm|toasty|quiet|bright|smooth|cosy|happy|lovely|strong|normal|healthy|sweet|silent again|now, " +
				"mode|drive|assist|cruise|reverse is|are back|restored, nice and warm|hot|cold|quiet|dry|smooth|bright, ice cold air?, red hot again, piping hot, lovely and warm|hot|quiet"},
		{cueFixed, "It charges smoothly.",
			"{goes} {well}, full power since|again|on|everywhere, holds pressure, holding|holds fine|steady, went out|away|off|ready, now works, " +
				"now charges, purrs|purring, still going, still running, still holding, still good, " +
				"stopped {going}|leaking|squeaking|dripping|squealing|rattling|knocking|whining|clicking|tripping|cutting|stalling|misfiring|surging|hunting|blinking|flashing|beeping"},
		{cueFixed, "No code since.",
			"no {fault}, still no {fault}, still not one|a|back|returned|come|recurred, " +
				"no code|codes|light|lights|leak|leaks|problem|problems|issues|issue|fault|faults|error|errors|alarm|alarms|trouble|warning|warnings|lamp|misfire|trips|stop|stops|drip|blip|flicker|hiccup|glitch|return, " +
				"no more *, no sign of, no recurrence, not recurred, not come back, not one *, not so much as, " +
				"not a single|blink|peep|drop|murmur|sound|squeak|flicker|hiccup|drip|whisper|sausage, not even a"},
		{cueFixed, "Not seen the code since.",
			"not seen * since, not seen since, not seen * lamp|light|code|error, " +
				"never seen|saw|came|returned|tripped|again|happened|missed|come|failed|stopped|lost|gone|skipped|recurred|reappeared|showed, " +
				"hasnt|has_not|havent|have_not|not|didnt|did_not|never|didn come|came|returned|return|moved|happened|missed|tripped|happen|failed|shown|recurred|reappeared|stalled|leaked|flickered|resurfaced back?"},
		{cueFixed, "Not one hiccup.",
			"without a|any|one|single problem|hitch|fault|code|error|blink|beep|peep|trip|issue|leak|hiccup|glitch|murmur|squeak|drama, " +
				"without missing a? beat, without incident|drama|fail|issue|problem, fault free, trouble free, problem free, free for|since|of"},
		{cueFixed, "The noise is gone.",
			"is|are|has|have|was|were gone, gone since|now, " +
				"codes|code|light|lights|lamp|fault|error|noise|problem|alarm|warning|alarm gone|cleared|off|out|away, " +
				"hasnt|has_not|havent|not been back|seen|near, {fault} is|are history|out|off, " +
				"{fault} is|has|have|was? gone|disappeared|vanished|cleared|stopped|ceased, no longer active|there|present|comes|trips|leaks|*"},
		{cueFixed, "The light went out.",
			"stayed off|out|away|dry|clear|cleared|at|put|up, stays off|out|away|dry|clear|put, stay|stays|staying|stayed away|off|out|gone|put, " +
				"light|lights is|are|was|stays off|out, still fine|good|ok|okay|going|perfect|out|off|dry|holding|working|running|solid|strong, " +
				"still works|working|fine, dry as, bone dry now|since"},
		{cueFixed, "It charges normally now.",
			"charges fine|normally|again, prints fine|again, heats fine|again, drains fine|again, cools fine|again, read|reads the same now, " +
				"all four * the same"},
		{cueFixed, "It has held.",
			"has held, holding fine, held ever, calling|call this|it|that one? solved|fixed|closed|done|a_result|sorted, " +
				"just finished|completed|did a|an|my|the, finished a|my|the, has done every, hasnt|havent|hasn|never|not put a foot wrong, " +
				"hasnt|havent|not|never missed|skipped|skips|misses a? beat, behaves|behaving itself|fine|now, not missed a beat"},
		{cueFixed, "Solution was a new pump.",
			"solution|fix|cure|answer|remedy was|is|turned, solved|fixed|cured|sorted|resolved by|with"},
	}
}

// endingCues are ways to say that the fault came back, what was to blame, and how the story ended.
func endingCues() []cueGroup {
	return []cueGroup{
		{cueBack, "The fault came back.",
			"came back|again, come back, comes back, is|are back, was back, its back, back again, back to the|square|old, back on again, " +
				"back where we|i were|was|started|began, back where it all, returned, has returned, reappeared, recurred, resurfaced, back it came, is on again, back with a vengeance, back to haunt"},
		{cueBack, "I spoke too soon.",
			"un solve, unsolve, un fixed, scratch that, spoke too soon, not solved after all, celebrated too|to early|soon, " +
				"again today|tonight|yesterday, back to square|where|being|its|limp|no, now im back, not out of the woods, jinxed it, " +
				"famous last words, counted my chickens"},
		{cueBack, "The light is back.",
			"light|lamp|code|fault|error|problem|noise|leak is|are? back, code|light|fault|error it again, started again, doing it again, " +
				"happened again, failed again, and again it, again the same, tripped again, same fault again, leaking again, on again, " +
				"playing up again, acting up again, does|did it again, died again, stopped again, quit again, " +
				"blew|blows|popped|broke|leaked|cracked|burnt|burned again, is|was|are low|dead|flat|stuck|blocked|cold|leaking|noisy|faulty again"},
		{cueBack, "It only lasted a week.",
			"only lasted, lasted, {not} last, never lasted, short lived, {went}|fine|good|ok|okay|perfect|happy until, fine till, then again, " +
				"failed after, died after, gave up after, didnt hold|stick"},

		{cueBoth, "Both were needed.",
			"both were|was|are|had bad|faulty|dead|shot|needed|required|gone|failed|blown|worn|worn_out|to_blame|guilty|duff|toast|knackered|leaking|seized|cracked|open|short|shorted|high|low|out, " +
				"needed both, took both, it was both, both of them were? bad|faulty|dead|needed|gone|shot, each was|did half, both played a part, " +
				"both had a part, one without the other, the pair of them, both had to|gone, combination of, bit of both, both did it, " +
				"both together"},

		{cueCredit, "It turned out to be the relay.",
			"turned out, turns out, turned out to be, turned out it|that|the, turns out it|the|that, ended up being, in the end it was, " +
				"it was * all along, in my case it was, which one did it, mine was, ours was, it was|is the, it was just|only|simply? a|an|the|my, " +
				"was it"},
		{cueCredit, "The culprit was the relay.",
			"was|were the culprit|problem|cause|fault|issue|reason|offender|one|leak|trouble|failure|cure|villain|weak_link, " +
				"culprit was|is|were, cause was|is|were, problem was|is|were, fault was|is, reason was|is, real cause, root cause, caused by, " +
				"was caused by, due to, guilty party, villain was|of, offender was, solution|fix|cure|answer|remedy was|is|turned_out"},
		{cueCredit, "I traced it to the relay.",
			"traced it|them|this|that? back? down? to, " +
				"traced|tracked|narrowed|chased|pinned|hunted|nailed|isolated it|them|this|that|fault? back|down? to|on|in, putting it down to, " +
				"put it down to, down to the, saying it was, credit goes, found it, found you, boiled down to, came down to"},
		{cueReproduce, "Put the old one back to be sure.",
			"as an experiment, as a test, as a check, to prove it, to double check, to make sure it was, plugged it in again|back, " +
				"plugged it back, put the old one|part|unit|sensor|pump back, refitted the old|original, put the original back, " +
				"swapped the old one back, reconnected it, switched it back on to see, put the old * back, put back the old, " +
				"old one|part|sensor|pump|relay back in|on, to be sure it was, just to prove, to confirm it was, to be certain it was"},
		{cueUnsolved, "Never found the cause.",
			"not solved, unsolved, not fixed yet, never found, never did find, never resolved, gave up, given up, quit looking, live with it, " +
				"living with it, no fix yet, still not fixed, havent found it, still dont know, no cure yet, not cured, without a fix"},
		{cueClear, "So it wasn't the relay.",
			"wasnt the, was not the, isnt the, is not the, not the, so it wasnt, so not the, so not, it wasnt the, ruled out, rules out, " +
				"isnt|wasnt your|my, was never the, did not need, didnt need, never did need, nothing to do with, so mine isnt|wasnt the, " +
				"is innocent, exonerated, can rule out, not guilty"},
		{cueHold, "So far so good.",
			"since, ever since, later, so far, so good, ago, held, holding, touch wood, long term, in all, running, without, still, now, after, " +
				"and counting, not once, not one, every day, daily"},
		{cueUnknowing, "I can't say which.",
			"couldnt tell you, cant|cannot|couldnt tell|say which, can|could not tell|say which, dont|do|does_not|no know|idea which, " +
				"which one did it, no idea which, who knows which, ill never know, never know, hard to say which, not sure which, whichever, " +
				"one of those|them|the, one or the other, both at once, all at once, in one go, at the same time, same time, which of them, " +
				"which of the two"},
		{cueOpenEnd, "No fix yet.",
			"no fix yet, not fixed yet, havent fixed, not solved, unsolved, no solution, still looking, still searching, no answer, never found, " +
				"never did find, never resolved, gave up, given up, quit looking, live with it, living with it, no idea, will report, will update, " +
				"any help, help please, open to ideas, to be continued, havent found, no further, not done anything, havent done anything, " +
				"at a loss, goes to the, going to a? shop|dealer|garage|workshop, off the road, parked up, for now, still on, still not fixed, " +
				"nothing found, cannot find, can not find, waiting, nope, off to the"},
		{cueHanded, "I took it to the dealer.",
			"handed it over, handed it to, handed her|him over, left it with the, " +
				"took|taken it|her to the|a|my|our dealer|dealership|garage|shop|workshop|specialist|mechanic, " +
				"took|taken it|her back to the dealer|shop|garage, dropped it off at, dealer|shop|garage|specialist|mechanic has it now, " +
				"they have it now, gone to the|a dealer|garage|specialist|shop|workshop now, is with the|a dealer|garage|specialist now, " +
				"passed it on to, gone back to the dealer|maker|shop, letting the|a dealer|pro|specialist|garage deal|sort|handle"},
		{cueScrapped, "It went for scrap.",
			"not worth repairing|fixing|mending|saving, not worth the repair|money|cost|trouble, beyond economic|economical repair, " +
				"not economic|economical to repair, uneconomic|uneconomical to repair, scrapped it|her, scrapped the *, " +
				"went|gone|going|go to? the? for? scrapyard|scrap|breakers|tip|dump|skip|recycling, off to the scrapyard|breakers|tip|dump, " +
				"written it off, wrote it off, is a write off, binned it, binned the *, decided to scrap, parted it out"},
		{cueScrapped, "Sold it as it stood.",
			"sold it|her as is|scrap|spares, sold it for scrap|spares|parts, traded it in, sold the * as, sold it|her|him on?, " +
				"got rid of it|her, more than the * is|was worth, more than it is|was worth, more than its worth, " +
				"bought a new one|machine|washer|dryer|boiler instead?, replaced the whole machine|boiler|appliance|fridge|washer"},
	}
}
