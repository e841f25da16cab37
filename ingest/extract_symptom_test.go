package ingest_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ruledout/kb"
)

// noticed gives the symptoms that a first post tells, those that are said to be absent with "no:" before them.
func noticed(t *testing.T, words string) []string {
	t.Helper()
	out := []string{}
	for _, s := range one(t, threadOf("Halden P1B77", "ann: My 2015 Halden Brisk van shows P1B77. "+words)).Symptoms {
		name := s.Symptom
		if s.Absent {
			name = "no:" + name
		}
		out = append(out, name)
	}
	return out
}

func TestSymptomsInOwnWords(t *testing.T) {
	for _, tt := range []struct{ words, want string }{
		{"Idle hunts when it is warm.", "hunting idle"},
		{"No smoke at all.", "no:exhaust smoke"},
		{"The sliding door goes back a foot and quits.", "sliding door goe back foot and quit"},
		{"Pulls to the left when braking.", "pull to left when braking"},
		{"Steering goes heavy at a standstill.", "steering goe heavy at standstill"},
		{"Boom light comes on and the boom judders.", "shudder"},
		{"Grinder runs, no beans come through.", "no bean come through"},
		{"Pilot won't stay lit.", "pilot wont stay lit"},
		{"Top element never glows.", "top element never glow"},
		{"It keeps dropping off the line at night.", "keep dropping off line at night"},
		{"Always after it has been washed down.", "always after it has been washed down"},
		{"Never does it on the flat.", "no:never does it on flat"},
		{"The dash says CHECK COOLANT LEVEL.", "dash say check coolant level"},
		{"Motor dont even hum.", "no:motor dont even hum"},
		{"If I lift off it surges.", "surging"},
	} {
		got := noticed(t, tt.words)
		if assert.NotEmpty(t, got, tt.words) {
			assert.Contains(t, strings.Join(got, "; "), tt.want, tt.words)
			assert.Equal(t, strings.HasPrefix(tt.want, "no:"), strings.HasPrefix(got[len(got)-1], "no:"), tt.words)
		}
	}
}

func TestThingsOfUseAreDeadOrStillWork(t *testing.T) {
	assert.Equal(t, []string{"rear wiper inoperative", "number plate bulb inoperative"}, noticed(t, "Rear wiper and number plate bulbs packed up."))
	assert.Equal(t, []string{"no:radio wiper light inoperative"}, noticed(t, "Radio, wipers and lights all fine."), "what still works counts once")
	assert.Empty(t, noticed(t, "The lights were fine before."), "of the time before the fault")
}

func TestWhatIsNoSymptom(t *testing.T) {
	for _, words := range []string{
		"I stopped at a red light.",                     // what the writer does
		"I switch off the engine at night.",             // the same in the vocabulary's words
		"Filled the overflow tank yesterday.",           // a piece of a part's name
		"The fuse read 12.4 V on both legs.",            // a reading
		"A quick fit place told him it was misfiring.",  // others' words
		"It might be losing coolant.",                   // a guess
		"P1B77 came back.",                              // the code's own status
		"Can't be bothered with the scaffold for that.", // the writer's mood
		"If the pump failed it would leak.",             // a supposition
	} {
		assert.Empty(t, noticed(t, words), words)
	}
}

func TestLaterPostsAddNoSymptoms(t *testing.T) {
	cases := extract(t, threadOf("Halden P1B77", "ann: My 2015 Halden Brisk van shows P1B77 and it stalls at idle.",
		"ben: Check the pump.", "ann: Checked the fuse, good. With the pump running it rattles."))
	require.NotEmpty(t, cases)
	require.Len(t, cases[0].Symptoms, 1)
	assert.Equal(t, "stalling", cases[0].Symptoms[0].Symptom)
}

func TestTheSameIsInherited(t *testing.T) {
	cases := extract(t, threadOf("Halden P1B77", "ann: My 2015 Halden Brisk van shows P1B77 and it stalls at idle.",
		"ben: My 2016 Halden Brisk did exactly this with P1B77. Replaced the purge valve and it has been fine since."))
	require.Len(t, cases, 2)
	require.Len(t, cases[1].Symptoms, 1)
	assert.Equal(t, cases[0].Symptoms[0].Symptom, cases[1].Symptoms[0].Symptom)
	assert.Less(t, cases[1].Symptoms[0].Confidence, cases[0].Symptoms[0].Confidence)
	assert.False(t, cases[1].Symptoms[0].Absent)
}

func TestRowsNameWhatWasReplaced(t *testing.T) {
	for _, tt := range []struct {
		found, done, part string
		action            kb.Action
	}{
		{"ROCKER COVERS 2, 3 & 4 WEEPING.", "REPLACED #2, 3 & 4 ROCKER COVER GASKETS.", "rocker cover gasket", kb.Replace},
		{"L/H ENGINE INTAKE WEEPING.", "REPLACED L/H ENGINE #2 INTAKE GASKET.", "intake gasket", kb.Replace},
		{"SIDE BAFFLE BOLT GONE.", "INSTALLED MISSING BOLT.", "baffle bolt", kb.Replace},
		{"AFT BAFFLE CRACKED.", "INSTALLED PATCH.", "baffle", kb.Repair},
		{"LOW COMPRESSION ON #3.", "REPLACED #3 CYLINDER.", "cylinder", kb.Replace},
		{"EXHAUST PUSH ROD WORN.", "REPLACED PUSH ROD SEALS.", "push rod seal", kb.Replace},
		{"STARTER DRAGS.", "COMPLETED INSTALL OF STARTER.", "starter", kb.Replace},
	} {
		c := one(t, rowOf("found="+tt.found, "done="+tt.done))
		if assert.Len(t, c.Fixes, 1, tt.done) {
			assert.Equal(t, tt.action, c.Fixes[0].Action, tt.done)
			assert.Equal(t, tt.part, strings.TrimSpace(c.Fixes[0].Component), tt.done)
		}
	}
}
