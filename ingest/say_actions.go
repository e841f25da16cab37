package ingest

import (
	"strings"

	"ruledout/kb"
)

// spokenActions is the table of everyday ways to say what was done, whose words may be parted by the thing it was done to, which the
// vocabulary's phrases cannot express. A star is any one word; articles need not be written.
func spokenActions() []cueGroup {
	return []cueGroup{
		{string(kb.Replace), "Stuck another pump in.",
			"put|stuck|dropped|popped|slid|screwed|bunged|threw|chucked|slapped another|that in|on, " +
				"put|stuck|dropped|popped|slid|screwed|bunged|threw|chucked|slapped another|a|an * in|on, " +
				"put|stuck|dropped|popped|slid|screwed|bunged|chucked|slapped another|a|an * * in|on, put|stuck a|an * * * in|on, put the * in|on, " +
				"put the * * in|on, tried a|an|another, fitted it, installed it, put it on|in"},
		{string(kb.Replace), "Swapped the pump for a new one.",
			"swapped|swopped|swapping|swap it|them|her|him for, swapped|swopped|swapping|changed|changing * for, " +
				"swapped|swopped|swapping|changed|changing * * for, swapped|swopped|swapping * * * for, swapped|swopped|swapping * out, " +
				"swapped|swopped|swapping * * out, swapped|swopped|swapping, changed * out, changed * * out"},
		{string(kb.Replace), "Threw a pump at it.",
			"threw|thrown|chucked|throwing a|an|another * at it|this, threw|thrown|chucked|throwing a|an|another * * at it|this, " +
				"threw|chucked in a|an|another"},
		{string(kb.Refit), "Pushed it home.",
			"pushed|pressed|clipped|plugged|snapped|slid|seated|bolted|screwed|hooked|connected|popped it|them|that|her back|home|in|on, " +
				"pushed|pressed|shoved till|until it clicked, pulled forward, plug|connector back on, put it|them|her|that back on|in|together, " +
				"put them|it right way round, off and on again, clicked|popped it|them back into place"},
		{string(kb.Refit), "Pushed the plug home.",
			"pushed|pressed|shoved|clipped|plugged|snapped|slid|hooked|put|connected|popped|screwed|bolted * back|home, " +
				"pushed|pressed|shoved|clipped|plugged|snapped|slid|hooked|put|connected|popped|screwed|bolted * * back|home, " +
				"pushed|pressed|shoved|clipped|snapped * fully|right|properly in|home, put * the right way round"},
		{string(kb.Repair), "Cut it back to clean copper.",
			"ran * around it, ran a new|fresh wire|cable|earth|ground, cut it|them|that back, closed|bent|squeezed|pinched it|them up|back, " +
				"bent|pinched|squeezed|straightened it|them|that forward|out|closed|straight|tighter|back, " +
				"bent|pinched|squeezed the? * forward|out|closed|straight|tighter|back, cut the * * out and, " +
				"cut|chopped the bad bit|part|section|piece out, joined|rejoined it|them, joined|rejoined the *, made it good, " +
				"freed it|them|that|her off|up?, freed the? *, freed off|up the? *, unstuck, unseized, got it moving|free|freed, " +
				"sent * off|away to be repaired|rebuilt|fixed, sent * * off|away to be repaired|rebuilt|fixed, had * repaired|rebuilt|fixed, " +
				"had * * repaired|rebuilt|fixed, rejoined"},
		{string(kb.Adjust), "Opened it up a turn.",
			"opened it|them up, opened all? the * * up, opened all? the * * right up, turned it|them up|down|back, turned the * * up|down, " +
				"turned the * up|down, turned the * a|an? quarter|half|full, turned the * * a|an? quarter|half|full, " +
				"turned the * * * a|an? quarter|half|full, set the * to, set the * * to, loosened, slackened, raised, lowered, changed the setting, " +
				"changed the * setting"},
		{string(kb.Clean), "Blew down the hose.",
			"blew down|out|through the? *, cleared, dried it|them, dry it|them, dug it|them out, cleaned it|them up|out"},
		{string(kb.Service), "Charged the battery up.",
			"charged|recharged the? * overnight|up|fully, charged|recharged the? * * overnight|up|fully, put * on charge, put * on the charger, " +
				"topped * up, topped * * up, filled it|her up"},
	}
}

// spokenActionTable gives the phrases of the table above.
func spokenActionTable() []cue {
	var all []cue
	for _, g := range spokenActions() {
		for phrase := range strings.SplitSeq(g.phrases, ",") {
			all = append(all, cue{g.class, strings.TrimSpace(phrase)})
		}
	}
	return all
}

// spokenTerm gives the action that a cue of the table stands for.
func spokenTerm(c cue) term { return term{kind: kb.TermAction, name: c.class} }
