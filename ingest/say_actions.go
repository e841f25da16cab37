package ingest

import "ruledout/kb"

// spokenActions are everyday ways to say what was done, whose words may be parted by the thing it was done to, which the
// vocabulary's phrases cannot express. A star is any one word.
const spokenActions = `
[replace]
put a|an|another in|on, put a|an|another * in|on, put a|an|another * * in|on, put a|an|another * * * in|on, stuck a|an|another|that * in|on,
stuck a|an * * in|on, dropped a|another * in, slid a|another * in
swapped it|them|her|him for, popped a|another * in|on, screwed a|another * in, bunged a|another * in, fitted it, installed it, put it on|in
[refit]
pushed|pressed|clipped|plugged|snapped|slid|seated|bolted|screwed it|them|that|her back|home|in|on, pushed|pressed till|until it clicked,
pulled forward, plug|connector back on, put it|them|her back on|in|together, put them the right way round
off and on again
[repair]
ran * around it, ran a new|fresh wire|cable|earth|ground, cut it|them|that back, closed|bent|squeezed it|them up|back, cut the * * out and
[adjust]
opened it|them up, opened all? the * * up, opened all? the * * right up, turned it|them up|down|back, turned the * * up|down, turned the * up|down
`

// spokenActionTable reads the table above.
func spokenActionTable() []cue { return readCues(spokenActions) }

// spokenTerm gives the action that a cue of the table stands for.
func spokenTerm(c cue) term { return term{kind: kb.TermAction, name: c.class} }
