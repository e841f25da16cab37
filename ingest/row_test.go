package ingest_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ruledout/ingest"
	"ruledout/kb"
)

// rowOf builds the thread of a table row with the fields that stand in its text line by line.
func rowOf(fields ...string) ingest.Thread {
	p := ingest.Post{N: 1, Author: "row 1"}
	for _, f := range fields {
		name, value, _ := strings.Cut(f, "=")
		start := len(p.Text)
		p.Text += value + "\n"
		p.Regions = append(p.Regions, ingest.Region{Start: start, End: start + len(value), Kind: ingest.RegionField, Name: name})
	}
	return ingest.Thread{Key: "table/1", Kind: ingest.KindRow, Title: "table", Posts: []ingest.Post{p}}
}

func TestRowsGiveRepairs(t *testing.T) {
	cases := []struct {
		found, done string
		action      kb.Action
		part        string
	}{
		{"#3 INTAKE GASKET LEAKING.", "REMOVED & REPLACED GASKET.", kb.Replace, "intake gasket"},
		{"#3 INTAKE IS LEAKING.", "REMOVED & REPLACED GASKET.", kb.Replace, "intake gasket"},
		{"L/H MOTOR, ROCKER COVER GASKETS #1 & 3 WEEP OIL.", "INSTALLED NEW ROCKER COVER GASKETS.", kb.Replace, "rocker cover gasket"},
		{"L/H FWD BAFFLE CRACKED.", "STOP DRILLED CRACK.", kb.Repair, "baffle"},
		{"BAFFLE SEAL SCREW LOOSE.", "TIGHTENED SCREW.", kb.Adjust, "baffle seal screw"},
		{"HYD PUMP NOISY.", "CLEANED STRAINER.", kb.Clean, "hyd pump strainer"},
		{"SEAL RIVETS SHEARED.", "REMOVED RIVETS & REPLACED WITH BOLTS.", kb.Replace, "seal rivet"},
	}
	for _, tt := range cases {
		t.Run(tt.found, func(t *testing.T) {
			th := rowOf("id=7", "found="+tt.found, "done="+tt.done)
			c := one(t, th)
			require.Len(t, c.Fixes, 1)
			assert.Equal(t, tt.action, c.Fixes[0].Action)
			assert.Equal(t, tt.part, c.Fixes[0].Component)
			assert.Equal(t, kb.Fixed, c.Fixes[0].Outcome)
			assert.Equal(t, kb.Closed, c.Status)
			assert.Equal(t, kb.Repaired, c.ClosedAs)
			assert.NotEmpty(t, c.Symptoms)
		})
	}
}

func TestRowsTellHowTheyEnded(t *testing.T) {
	cases := []struct {
		done         string
		status       kb.Status
		closedAs     kb.ClosedAs
		confirmation kb.Confirmation
	}{
		{"REPLACED PUMP SEAL.", kb.Closed, kb.Repaired, kb.Reported},
		{"REPLACED PUMP SEAL. LEAK CHECK GOOD.", kb.Closed, kb.Repaired, kb.Verified},
		{"COULD NOT REPRODUCE, NOTHING WRONG FOUND.", kb.Closed, kb.WentAway, kb.Unconfirmed},
		{"PART ON ORDER.", kb.Open, "", kb.Unconfirmed},
		{"REPLACED PUMP SEAL. DEFERRED, STILL LEAKING.", kb.Open, "", kb.Unconfirmed},
		{"", kb.Open, "", kb.Unconfirmed},
	}
	for _, tt := range cases {
		t.Run(tt.done, func(t *testing.T) {
			c := one(t, rowOf("found=PUMP SEAL LEAKING.", "done="+tt.done))
			assert.Equal(t, tt.status, c.Status)
			assert.Equal(t, tt.closedAs, c.ClosedAs)
			assert.Equal(t, tt.confirmation, c.Confirmation)
		})
	}
}

func TestRowsCarryMachineAndCodes(t *testing.T) {
	c := one(t, rowOf("machine=2019 Halden Brisk 3 van", "found=P0420 stored", "done=replaced oxygen sensor"))
	assert.Equal(t, "Halden", c.Machine.Make)
	assert.Equal(t, 2019, c.Machine.Year)
	require.Len(t, c.Codes, 1)
	assert.Equal(t, "P0420", c.Codes[0].Code)
}

func TestAnEmptyRowIsNoCase(t *testing.T) {
	assert.Empty(t, extract(t, ingest.Thread{Kind: ingest.KindRow}))
	assert.Empty(t, extract(t, rowOf("found=", "done=")))
}
