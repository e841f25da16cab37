package code_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ruledout/kb/code"
)

func TestParse(t *testing.T) {
	for in, want := range map[string]struct {
		scheme code.Scheme
		text   string
	}{
		"P0420":                {code.OBD, "P0420"},
		"p 0420":               {code.OBD, "P0420"},
		"PO420":                {code.OBD, "P0420"}, // the letter O for a zero
		"P-0420":               {code.OBD, "P0420"},
		"p0aa6-1a":             {code.OBD, "P0AA6-1A"},
		"P0AA6 (1A)":           {code.OBD, "P0AA6-1A"},
		"P0AA61A":              {code.OBD, "P0AA6-1A"},
		"U0293:00":             {code.OBD, "U0293"}, // 00 says that there is no sub type
		"P0171-00":             {code.OBD, "P0171"},
		"P1B77–13":             {code.OBD, "P1B77-13"},
		"SPN 3226 FMI 4":       {code.J1939, "SPN 3226 FMI 4"},
		"spn157 fmi18":         {code.J1939, "SPN 157 FMI 18"},
		"SPN: 520211 / FMI 2":  {code.J1939, "SPN 520211 FMI 2"},
		"SPN-177 / FMI-16":     {code.J1939, "SPN 177 FMI 16"},
		"SPN 3226 FMI 04 (x3)": {code.J1939, "SPN 3226 FMI 4"},
		"FMI 4 on SPN 3226":    {code.J1939, "SPN 3226 FMI 4"},
		"641 fmi 13":           {code.J1939, "SPN 641 FMI 13"},
		"SPN 639":              {code.J1939, "SPN 639"},
		"e47":                  {code.Maker, "E47"},
		"E-18":                 {code.Maker, "E-18"},
		"H3.06":                {code.Maker, "H3.06"},
		"0x2b":                 {code.Maker, "0X2B"},
		"Error 08":             {code.Maker, "ERROR 08"},
		"fault code 45":        {code.Maker, "45"},
		"code E47":             {code.Maker, "E47"},
		"LE":                   {code.Maker, "LE"},
		"P1":                   {code.Maker, "P1"}, // a display code: too short for OBD
		"C4500":                {code.Maker, "C4500"},
		"BLINK 5":              {code.Maker, "BLINK 5"},
		"5 blinks":             {code.Maker, "BLINK 5"},
		"blinks five times":    {code.Maker, "BLINK 5"},
		"flash code 3-2":       {code.Maker, "BLINK 3-2"},
		"2 long 3 short":       {code.Maker, "BLINK 2 LONG 3 SHORT"},
	} {
		t.Run(in, func(t *testing.T) {
			c, err := code.Parse(in)
			require.NoError(t, err)
			assert.Equal(t, want.scheme, c.Scheme)
			assert.Equal(t, want.text, c.String())
			again, err := code.ParseScheme(c.Scheme, c.String())
			require.NoError(t, err)
			assert.Equal(t, c, again)
		})
	}
}

func TestParseErrors(t *testing.T) {
	for _, tc := range []struct {
		scheme  code.Scheme
		in      string
		message string
	}{
		{"", "  ", "empty code"},
		{"", strings.Repeat("E", 50), "longer than"},
		{"", "hello there", "want letters and digits"},
		{"", "HELLO", "want letters and digits"},
		{"", "SPN", "want a suspect parameter number"},
		{"", "SPN 600000 FMI 4", "want 1 to 524287"},
		{"", "SPN 0 FMI 4", "want 1 to 524287"},
		{"", "SPN 157 FMI 32", "want 0 to 31"},
		{code.OBD, "P4420", "want P, C, B or U, a digit 0 to 3"},
		{code.OBD, "E47", "want P, C, B or U"},
		{code.OBD, "P042G", "three hex digits"},
		{code.J1939, "P0420", "want a suspect parameter number"},
		{"can", "P0420", "want obd, j1939 or maker"},
	} {
		t.Run(tc.in, func(t *testing.T) {
			var err error
			if tc.scheme == "" {
				_, err = code.Parse(tc.in)
			} else {
				_, err = code.ParseScheme(tc.scheme, tc.in)
			}
			require.ErrorContains(t, err, tc.message)
		})
	}
}

func TestParseSchemeReadsBarePair(t *testing.T) {
	c, err := code.ParseScheme(code.J1939, "157/18")
	require.NoError(t, err)
	assert.Equal(t, "SPN 157 FMI 18", c.String())
}

// Ranges by SAE J2012: P0 and P2 the standard's, P1 the maker's, P3 split; C and B, and U2 the maker's from 1 on.
func TestKey(t *testing.T) {
	for _, tc := range []struct{ in, key, family string }{
		{"P0420", "obd/SAE/P0420", "P04"},
		{"P0AA6-1A", "obd/SAE/P0AA6", "P0A"},
		{"P2457", "obd/SAE/P2457", "P24"},
		{"P3400", "obd/SAE/P3400", "P34"},
		{"U0100", "obd/SAE/U0100", "U01"},
		{"C0035", "obd/SAE/C0035", "C00"},
		{"P1B77-13", "obd/halden/P1B77", ""},
		{"P33ED", "obd/halden/P33ED", ""},
		{"P3A00", "obd/halden/P3A00", ""},
		{"B2630", "obd/halden/B2630", ""},
		{"U2103", "obd/halden/U2103", ""},
		{"U3000", "obd/halden/U3000", ""},
		{"SPN 3226 FMI 4", "j1939/SAE/3226/4", "3226"},
		{"SPN 639", "j1939/SAE/639", "639"},
		{"SPN 516095 FMI 4", "j1939/SAE/516095/4", "516095"},
		{"SPN 516096 FMI 4", "j1939/halden/516096/4", "halden/516096"},
		{"SPN 524287 FMI 31", "j1939/halden/524287/31", "halden/524287"},
		{"E47", "maker/halden/E47", ""},
		{"F-21", "maker/halden/F21", ""},
		{"E-07", "maker/halden/E7", ""},
		{"Error 08", "maker/halden/8", ""},
		{"ERR-203", "maker/halden/203", ""},
		{"H3.06", "maker/halden/H3.06", ""},
		{"BLINK 5", "maker/halden/BLINK 5", ""},
	} {
		t.Run(tc.in, func(t *testing.T) {
			c, err := code.Parse(tc.in)
			require.NoError(t, err)
			k := c.Key(" Halden ")
			assert.Equal(t, tc.key, k.String())
			assert.Equal(t, tc.family, k.Family())
			again, err := code.ParseKey(k.String())
			require.NoError(t, err)
			assert.Equal(t, k, again)
		})
	}
}

func TestKeyWithoutMake(t *testing.T) {
	c, err := code.Parse("E47")
	require.NoError(t, err)
	assert.Equal(t, code.Key{Scheme: code.Maker, Code: "E47"}, c.Key(""))
	for _, s := range []string{"", "obd/SAE", "can/x/P0420", "obd/SAE/"} {
		_, err := code.ParseKey(s)
		assert.Error(t, err, s)
	}
}

func TestStructure(t *testing.T) {
	for _, tc := range []struct{ in, system, subsystem string }{
		{"P0133", "powertrain", "fuel and air metering"},
		{"P0301", "powertrain", "ignition or misfire"},
		{"P0741", "powertrain", "transmission"},
		{"P0AA6", "powertrain", "hybrid propulsion"},
		{"P1133", "powertrain", ""}, // the maker's own order
		{"C0035", "chassis", ""},
		{"B1234", "body", ""},
		{"U0100", "network", ""},
	} {
		c, err := code.Parse(tc.in)
		require.NoError(t, err)
		assert.Equal(t, tc.system, c.System(), tc.in)
		assert.Equal(t, tc.subsystem, c.Subsystem(), tc.in)
	}
	var none code.Code
	assert.True(t, none.IsZero())
	assert.Empty(t, none.System()+none.Subsystem()+string(none.Control()))
}

func TestDescribe(t *testing.T) {
	for _, tc := range []struct{ in, text, source string }{
		{"P0AA6-1A", "high-voltage system isolation fault; resistance too low", "SAE J2012 / ISO 15031-6"},
		{"P0420", "catalyst efficiency too low, bank 1", "SAE J2012 / ISO 15031-6, from memory"},
		{"P0442", "powertrain, auxiliary emission control, meaning set by the standard", "SAE J2012 / ISO 15031-6"},
		{"P1B77-13", "powertrain, meaning set by the maker; circuit open", "SAE J2012 / ISO 15031-6"},
		{"P0335-2B", "powertrain, ignition or misfire, meaning set by the standard; failure type 2B, signal", "SAE J2012 / ISO 15031-6"},
		{"P3A00", "powertrain, range not assigned by the standard", "SAE J2012 / ISO 15031-6"},
		{"SPN 3226 FMI 4", "parameter 3226 of the standard: voltage too low, or shorted to ground", "SAE J1939-73"},
		{"SPN 520211 FMI 31", "parameter 520211, meaning set by the maker: the condition named exists", "SAE J1939-73"},
		{"E47", "", ""},
	} {
		t.Run(tc.in, func(t *testing.T) {
			c, err := code.Parse(tc.in)
			require.NoError(t, err)
			assert.Equal(t, code.Meaning{Text: tc.text, Source: tc.source}, code.Describe(c))
		})
	}
}

// Entries of the list in ISO 15031-6 / SAE J2012-DA that open lists get wrong by a shifted row.
func TestFTBText(t *testing.T) {
	for ftb, want := range map[string]string{
		"11": "shorted to ground", "12": "shorted to battery positive", "13": "circuit open",
		"1E": "resistance outside its range", "23": "signal stays low", "24": "signal stays high", "2F": "signal erratic",
		"3A": "too many pulses", "4B": "unit too hot", "7B": "fluid level low", "87": "message missing", "98": "component too hot",
		"20": "", "99": "", "F0": "", "": "", "1": "", "XY": "",
	} {
		assert.Equal(t, want, code.FTBText(ftb), ftb)
	}
	assert.Equal(t, "general", code.FTBFamily("09"))
	assert.Equal(t, "component", code.FTBFamily("91"))
	assert.Empty(t, code.FTBFamily("A1"))
}

// SAE J1939-73: 22 to 30 are reserved, 31 is the last.
func TestFMIText(t *testing.T) {
	assert.Equal(t, "value far too high (most severe)", code.FMIText(0))
	assert.Equal(t, "current too low, or circuit open", code.FMIText(5))
	assert.Equal(t, "value has drifted low", code.FMIText(21))
	assert.Equal(t, "reserved", code.FMIText(22))
	assert.Equal(t, "reserved", code.FMIText(30))
	assert.NotEmpty(t, code.FMIText(31))
	assert.Empty(t, code.FMIText(32))
}

func TestNormaliseStatus(t *testing.T) {
	for word, want := range map[string]code.Status{
		"Stored": code.StatusStored, "confirmed": code.StatusStored, "pending": code.StatusPending,
		"current": code.StatusActive, "historic": code.StatusHistory, "previously active": code.StatusHistory, "": "",
	} {
		got, ok := code.NormaliseStatus(word)
		assert.True(t, ok, word)
		assert.Equal(t, want, got, word)
	}
	_, ok := code.NormaliseStatus("purple")
	assert.False(t, ok)
}

// ISO 14229-1 status bits; the readings of each byte follow from them.
func TestUDSStatus(t *testing.T) {
	for _, tc := range []struct {
		b      code.UDSStatus
		has    code.UDSStatus
		lacks  code.UDSStatus
		status code.Status
	}{
		{0x50, code.TestNotCompletedSinceLastClear | code.TestNotCompletedThisOperationCycle, code.ConfirmedDTC, ""},
		{0x00, 0, code.TestFailed, ""},
		{0xAF, code.TestFailed | code.PendingDTC | code.ConfirmedDTC | code.TestFailedSinceLastClear | code.WarningIndicatorRequested, code.TestNotCompletedSinceLastClear, code.StatusActive},
		{0x2E, code.PendingDTC | code.ConfirmedDTC, code.TestFailed, code.StatusStored},
		{0x0C, code.PendingDTC | code.ConfirmedDTC, code.TestFailed, code.StatusStored},
		{0x2F, code.PendingDTC, code.WarningIndicatorRequested, code.StatusActive}, // bit 2 set, bit 7 clear
		{0x04, code.PendingDTC, code.ConfirmedDTC, code.StatusPending},
		{0x20, code.TestFailedSinceLastClear, code.PendingDTC, code.StatusHistory},
	} {
		assert.True(t, tc.b.Has(tc.has), "%02X", byte(tc.b))
		assert.False(t, tc.b.Has(tc.lacks), "%02X", byte(tc.b))
		assert.Equal(t, tc.status, tc.b.Status(), "%02X", byte(tc.b))
	}
}
