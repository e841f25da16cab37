package ingest

import "strings"

// The classes of cue. What a phrase means for a statement is decided where the classes are used; this table only says
// which phrases people use. They are common English of the trade, British and American, native and not.
const (
	cueNoChange  = "no change"   // what was done did not help
	cueFixed     = "fixed"       // the fault is gone
	cuePartial   = "partial"     // better, not cured
	cueBack      = "back"        // the fault is there again
	cueCredit    = "credit"      // names the culprit: "turned out to be"
	cueClear     = "clear"       // takes the blame from a component: "wasn't the"
	cueAdvice    = "advice"      // what somebody should do
	cueGuess     = "guess"       // what somebody believes
	cueIf        = "if"          // a condition
	cuePlan      = "plan"        // not done yet
	cueHearsay   = "hearsay"     // what others say
	cueOther     = "other"       // somebody else's machine
	cueGood      = "good"        // verdict of a test: good
	cueBad       = "bad"         // verdict of a test: bad
	cueUnsure    = "unsure"      // verdict of a test: cannot be told
	cueLimit     = "limit"       // what follows is what a reading should be
	cueOpenEnd   = "open end"    // the repair is not finished
	cueReproduce = "reproduce"   // bringing the fault back on purpose
	cueUnsolved  = "unsolved"    // says outright that there is no cure
	cueSame      = "same here"   // the writer has the same on a machine of their own
	cueSwap      = "swap"        // substitution with a known-good part
	cueHold      = "hold"        // held over time, distance or cycles
	cueUnknowing = "unknowing"   // which of several did it cannot be told
	cueHanded    = "handed over" // the machine went to somebody else to mend
	cueScrapped  = "scrapped"    // nobody will mend it
	cueGeneral   = "general"     // what is so in general
)

type cue struct{ class, phrase string }

// cueTable reads the tables below.
func cueTable() []cue { return readCues(outcomeCues + kindCues + verdictCues) }

// readCues reads a table: a class in brackets, then its phrases, parted by commas.
func readCues(table string) []cue {
	var all []cue
	class := ""
	for line := range strings.SplitSeq(table, "\n") {
		line = strings.TrimSpace(line)
		if name, ok := strings.CutPrefix(line, "["); ok {
			class = strings.TrimSuffix(name, "]")
			continue
		}
		for phrase := range strings.SplitSeq(line, ",") {
			if phrase = strings.TrimSpace(phrase); phrase != "" {
				all = append(all, cue{class, phrase})
			}
		}
	}
	return all
}

const outcomeCues = `
[no change]
no change, no * change, no difference, no * difference, no improvement, no effect, no joy, no luck, no good, no use, no better, no help,
no dice, no avail
made|makes|make no|zero odds|difference|change, made|makes no odds, made not * difference, made not the slightest difference,
not make|made * difference, no slightest difference
none of that|this|it|them|those made|helped|worked|fixed, neither|none|nothing helped|worked|fixed|cured|changed, neither|none made|did|had,
neither did|was it|anything, nothing of it|that help|helps|helped|changed, nothing changed|different|improved|better, changed nothing,
changed|altered nothing, nothing of that
didnt|did_not|doesnt|does_not|hasnt|has_not|havent|wont|didn help|fix|cure|change|solve|do|make|work|improve, not helping|helped|helps,
is not helping, never helped|changed|fixed
did|does precisely|exactly|absolutely? nothing|sod|bugger|zip|zilch|nowt, did nothing, does nothing for it
same problem|fault|thing|story|result|code|codes|lights|light|error|again|symptoms|symptom|way, same as before, exactly the same, all the same,
just the same, the same next, as before, exactly like it did before, still the same, stays the same, stayed the same, remained the same,
just as bad, as bad as before
still dead|there|here|on|doing|does|did|flat|failing|fails|trips|tripping|leaks|leaking|locks|stalls|the|no|not|wont|cuts|hot|cold|slow|nothing|getting|throws|throwing|comes|came|happens|happening|noisy|broken|blinks|blinking|flashing|shows|showing|reads|blows|blowing|misfires|misfiring|present|low|high|empty|stuck|open,
problem remained|persists|persisted|continued|continues, fault remained|persists|persisted
so that|it wasnt it, that wasnt it, it was not that, it is not that, not that either, that was not it, wasnt that, so not that, it isnt that,
its not that
got nothing, waste of money|time, for nothing, wasted money, to no avail, no further, without success|effect|result|change|improvement,
not solved, did not solve
straight back, came|come|comes straight|right|immediately back, was back, is|are|were back, back inside|within|after, lasted
returned *, same as before, unchanged, did not matter, not cured, not it, no different, nothing doing, didnt cure, no noticeable, did diddly,
not one bit, no wiser
code|misfire|fault|problem|noise stayed|stays, fault the same, carried on, just as before, as ever, not fixed
[partial]
better but, bit better, little better, was better, is better, better not cured, helped a bit|little|lot|some, improved, improvement but,
some improvement, slight improvement, half way|halfway there, made|makes it better, smoother, less often, instead of every, stretched it to,
stretched that to, less but, not as bad, only once a|per|every, better than, bought me|us, partial, at least, quieter but, not as often,
still cured though, not completely, not entirely, not coming any more, is not coming any more, reduced it, wasnt the whole story,
half the problem, half cured, not all of it, no longer * but, eased it, most of it
[fixed]
everything|it|all|she has|have worked|run|behaved, has worked|behaved for|since|fine|perfectly|ever, now it|she|everything works|starts|runs|heats|cools|charges|idles|shifts|drains|fires|prints|pumps|spins|blows,
and it|she worked|works|started|starts|heated|cooled|charged|drained|fired again|normally|properly|fine, is|are|was|were working|running again|now|properly|normally|fine|perfectly, back to working|running|normal,
fixed it|that|mine|ours|this, fixes it, has fixed, that fixed, sorted, all sorted, sorted it, cured it|that|mine, cured, is cured, solved,
problem solved, resolved, that was it, that did it|the, did the trick, done the trick, job done, all good, all is good|well,
all fine|ok|okay|normal, all well, been fine|good|perfect|great|faultless|flawless|reliable|ok|okay|happy|running|working,
is fine|perfect|good|great again|now, perfect since|now|again, works|working|work fine|perfectly|again|great|like|as|now|properly|well,
good as new|gold, like new|it|nothing, as new, back to normal|life|full|spec|working,
running|runs|ran fine|sweet|perfect|perfectly|great|like|smooth|smoothly|well|again,
starts|start|started right|straight|first|every|fine|perfectly|hot|up|like|instantly, starts and,
and she|it|he|they ran|runs|drives|goes|works|started|starts|lives|fires|charges|heats|prints|makes|holds|builds, goes forward,
everything ok|fine|good|normal|well, flying again, back in business, up and running, good to go, right again, on the road again,
in service again, back in service|use, alive again, starts|runs|charges|heats|cools|idles|shifts|drives smoothly|cleanly|properly|sweetly,
full power since|again|on|everywhere, no longer active|there|present|comes|trips|leaks, has done every, that was all, free for|since|of,
everything works, no more *,
no code|codes|light|lights|leak|leaks|problem|problems|issues|issue|fault|faults|error|errors|alarm|alarms|trouble|warning|warnings|lamp|misfire|trips|stop|stops,
not a single|blink|peep|drop|murmur|sound|squeak, not one *, no sign of, not seen * since, not seen since, not seen * lamp|light|code|error,
never seen|saw|came|returned|tripped|again|happened|missed|come|failed|stopped|lost|gone|skipped,
hasnt|has_not|havent|have_not|not|didnt|did_not|never|didn come|came|returned|return|moved|happened|missed|tripped|happen|failed|shown|recurred back?,
without a|any|one|single problem|hitch|fault|code|error|blink|beep|peep|trip|issue|leak|hiccup|glitch, is|are|has|have|was|were gone,
gone since|now, codes|code|light|lights|lamp|fault|error|noise|problem|alarm|warning|alarm gone|cleared|off|out|away,
went out|away|off|ready, stayed off|out|away|dry|clear|cleared|at|put|up, stays off|out|away|dry|clear, stay|stays away,
light|lights is|are|was off|out, still fine|good|ok|okay|going|perfect|out|off|dry|holding|working|running|solid|strong,
still works|working|fine, purrs|purring, happy days, sweet as, rock solid, spot on, worked a treat, success, fixed, it worked, that worked,
ready first press, first press, first time, fault free, trouble free, problem free, dry as, holds pressure, up and running, healed,
cured the, all clear, read|reads the same now, right as rain, went ready, now works, now charges, charges fine|normally|again,
prints fine|again, heats fine|again, drains fine|again, cools fine|again, all four * the same, no recurrence, not recurred, not come back,
has held, holding fine, held ever, is|was the cure|fix|answer|solution, finally fixed, case closed,
calling this|it one? solved|fixed|closed|done
just finished|completed|did a|an|my|the, finished a|my|the, hasnt|havent|hasn|never|not put a foot wrong,
hasnt|havent|not missed|skipped a beat, behaves|behaving itself|fine|now, happy as, not thought about it, on the button, job jobbed,
bobs your uncle, no trouble, no bother, never looked back, still going, still running, still holding, still good,
been perfect|fine|faultless|solid|great|ok|quiet|dry since
[back]
came back|again, come back, comes back, is|are back, was back, its back, back again, back to the|square|old, back on again, returned,
has returned, un solve, unsolve, scratch that, spoke too soon, again today|tonight|yesterday, is on again,
light|lamp|code|fault|error|problem is? back, now im back, back to square|where|being|its|limp|no, code|light|fault|error|it again,
started again, doing it again, happened again, failed again, and again it, again the same, tripped again, back it came, reappeared, recurred,
only lasted, lasted, un fixed, not solved after all, celebrated too|to early|soon, same fault again, leaking again, on again
[credit]
turned out, turns out, turned out to be, turned out it|that|the, turns out it|the|that, it was|is the,
was|were the culprit|problem|cause|fault|issue|reason|offender|one|leak|trouble|failure|cure, culprit was|is|were, cause was|is|were,
problem was|is|were, fault was|is, reason was|is, mine was, ours was, ended up being, traced it|back|to|the it?, tracked it|down|to,
guilty party, putting it down to, down to the, saying it was, credit goes, found it, found you, it was * all along, real cause, root cause,
in my case it was, in the end it was, caused by, was caused by, due to, which one did it
[reproduce]
as an experiment, as a test, as a check, to prove it, to double check, to make sure it was, plugged it in again|back, plugged it back,
put the old one|part|unit|sensor|pump back, refitted the old|original, put the original back, swapped the old one back, reconnected it,
switched it back on to see
[unsolved]
not solved, unsolved, not fixed yet, never found, never did find, never resolved, gave up, given up, quit looking, live with it,
living with it, no fix yet, still not fixed, havent found it, still dont know, no cure yet, not cured, without a fix
[clear]
wasnt the, was not the, isnt the, is not the, not the, so it wasnt, so not the, so not, it wasnt the, ruled out, rules out,
isnt|wasnt your|my, was never the, did not need, didnt need, never did need, nothing to do with, so mine isnt|wasnt the, is innocent,
exonerated, can rule out, not guilty
[hold]
since, ever since, later, so far, so good, ago, held, holding, touch wood, long term, in all, running, without, still, now, after,
and counting, not once, not one, every day, daily
[unknowing]
couldnt tell you, cant|cannot|couldnt tell|say which, can|could not tell|say which, dont|do|does_not|no know|idea which, which one did it, no idea which, who knows which, ill never know,
never know, hard to say which, not sure which, whichever, one of those|them|the, one or the other, both at once, all at once, in one go,
at the same time, same time
`
