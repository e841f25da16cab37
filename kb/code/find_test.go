package code_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ruledout/kb/code"
)

// found lists the codes of a text with what is said of each, as "P0420 stored absent back".
func found(text string) []string {
	var out []string
	for _, f := range code.Find(text) {
		s := f.Code.String()
		if f.Status != "" {
			s += " " + string(f.Status)
		}
		if f.Absent {
			s += " absent"
		}
		if f.SetAgain != nil && *f.SetAgain {
			s += " back"
		} else if f.SetAgain != nil {
			s += " away"
		}
		out = append(out, s)
	}
	return out
}

func TestFindSpellings(t *testing.T) {
	for text, want := range map[string][]string{
		"got a p0420 (gas cap?)":                        {"P0420"},
		"P 0420 on the reader":                          {"P0420"},
		"PO420 on the reader":                           {"P0420"},
		"P0171/174 both banks":                          {"P0171", "P0174"},
		"P0171/P0174 both banks":                        {"P0171", "P0174"},
		"P0171 and 174":                                 {"P0171", "P0174"},
		"P0300, 301 and 302":                            {"P0300", "P0301", "P0302"},
		"P0AA6-1A, U0293:00, P0AA6 (1A)":                {"P0AA6-1A", "U0293", "P0AA6-1A"},
		"P0AA6 FTB 1A":                                  {"P0AA6-1A"},
		"code 0420, that is P0420":                      {"P0420", "P0420"},
		"DTC U1000, C1201":                              {"U1000", "C1201"},
		"spn157 fmi18 every time":                       {"SPN 157 FMI 18"},
		"s157 f18":                                      {"SPN 157 FMI 18"},
		"SPN: 520211 / FMI 2":                           {"SPN 520211 FMI 2"},
		"SPN 3226 FMI 4 (x3)":                           {"SPN 3226 FMI 4"},
		"SPN 91 FMI 3, 4":                               {"SPN 91 FMI 3", "SPN 91 FMI 4"},
		"SPN 91, 102 and 3509 all FMI 4":                {"SPN 91 FMI 4", "SPN 102 FMI 4", "SPN 3509 FMI 4"},
		"FMI 4 on SPN 3226":                             {"SPN 3226 FMI 4"},
		"SPN 157 FMI 18 before, now the same 157/18":    {"SPN 157 FMI 18", "SPN 157 FMI 18"},
		"SPN 641 FMI 7 here. Mine had 641 with FMI 9":   {"SPN 641 FMI 7", "SPN 641 FMI 9"},
		"SPN 639 FMI 9 here, and what does SPN 639 do?": {"SPN 639 FMI 9", "SPN 639 FMI 9"},
		"throws error E47 at start":                     {"E47"},
		"fault code 45 on the dash":                     {"45"},
		"Codes: 12, 31 and 45":                          {"12", "31", "45"},
		"code F28, then F30":                            {"F28", "F30"},
		"error number E47, from the book":               {"E47"},
		"shows E-18 and stops":                          {"E-18"},
		"Err 7":                                         {"ERR 7"},
		"display goes Error 08 and that is it":          {"ERROR 08"},
		"Dash says ERR-203":                             {"ERR-203"},
		"trips with 0x2B":                               {"0X2B"},
		"display reads E:02":                            {"E:02"},
		"fault 31 after rain":                           {"31"},
		"H07 on the display":                            {"H07"},
		"the panel shows H3.06 and stops":               {"H3.06"},
		"error LE on the panel":                         {"LE"},
		"oven says F3 E2 and beeps F3 E2":               {"F3 E2", "F3 E2"},
		"Book calls E\u200b61 \"low\", it shows E61":    {"E61", "E61"},
		"it stops with \"E 05\"":                        {"E 05"},
		"the light gives 5 blinks":                      {"BLINK 5"},
		"the lamp blinks five and nothing more":         {"BLINK 5"},
		"LED flashes red 3 times":                       {"BLINK 3"},
		"code 45 by blinks":                             {"BLINK 45"},
		"2 long 3 short":                                {"BLINK 2 LONG 3 SHORT"},
		"three flashes, pause, two flashes":             {"BLINK 3-2"},
		"It flashes 3-2 at power up and will not drive": {"BLINK 3-2"},
		"the lamp blinks 5 then 1":                      {"BLINK 5-1"},
		"fault F-21 here. F21 again, no more F21 since": {"F21", "F21 back", "F21 absent"},
	} {
		t.Run(text, func(t *testing.T) { assert.Equal(t, want, found(text)) })
	}
}

func TestFindLeavesOtherThingsAlone(t *testing.T) {
	for _, text := range []string{
		"", "a car with no codes at all", "fault on the bus, error in the code",
		"F12 fuse was blown and fuse F2 open", "pin B7 corroded", "12V at terminal B3, 5A, 2L", "relay K4 and contactor K1",
		"resistor R47 shorted, Q3 burnt", "replaced C12 and D5", "my 2009 Wolmar A4 with V6", "same code on my T40 from 2016", "the same error on our B12", "2009 Halden C1500 van",
		"C1500 tractor starts ok", "post #12, M8 bolt, 205/55R16 tyres", "on 11/22, 3/4 turn",
		"post code SW1A 2AA, zip code 90210, paint code 45", "engine code N54B30", "flashes once per second", "blinks 10 seconds",
		"MID 128 SID 21 FMI 5", "the printed list (E1 to E9)", "see https://board.example/t/p0171-e47-error", "fault 3 times a day",
		"No P07xx solenoid codes", "code 12 V", "Flash the field first", "the CO2 test went yellow", "8.5 x 11",
	} {
		t.Run(text, func(t *testing.T) { assert.Empty(t, found(text)) })
	}
}

func TestFindReadsWhatIsSaidOfACode(t *testing.T) {
	for text, want := range map[string][]string{
		"Stored P0401/P0403, and P0299 pending.":            {"P0401 stored", "P0403 stored", "P0299 pending"},
		"P 0420 stored, P0171/174 pending":                  {"P0420 stored", "P0171 pending", "P0174 pending"},
		"P0335 as pending not stored":                       {"P0335 pending"},
		"Codes active: SPN 97 FMI 3, SPN 110 FMI 5. Hello":  {"SPN 97 FMI 3 active", "SPN 110 FMI 5 active"},
		"SPN 4364 FMI 9 active and once a stored 4364/18":   {"SPN 4364 FMI 9 active", "SPN 4364 FMI 18 stored"},
		"U0100 historic":                                    {"U0100 history"},
		"no P0420 stored":                                   {"P0420 stored absent"},
		"no P0302, P0171 stored":                            {"P0302 stored absent", "P0171 stored"},
		"neither P0171 nor P0174 showed":                    {"P0171 absent", "P0174 absent"},
		"Not P0299 any longer, today it is P0234":           {"P0299 absent", "P0234"},
		"Three months on, error E47 never, not one E47":     {"E47", "E47 absent"},
		"Cleared it, P0420 came back in 2 days":             {"P0420 back"},
		"P0741 has not returned":                            {"P0741 away"},
		"C0035 cleared and stayed cleared":                  {"C0035 away"},
		"Still P0335. Nothing else":                         {"P0335 back"},
		"no joy. P0335 is all I have":                       {"P0335"},
		"It had no power. Codes P0016 and P0017. No smoke.": {"P0016", "P0017"},
	} {
		t.Run(text, func(t *testing.T) { assert.Equal(t, want, found(text)) })
	}
}

func TestFindPlaces(t *testing.T) {
	text := "Überall PO420\u00a0hier, and E\u200b61 on the display"
	got := code.Find(text)
	require.Len(t, got, 2)
	assert.Equal(t, "PO420", text[got[0].Start:got[0].End])
	assert.Equal(t, "E\u200b61", text[got[1].Start:got[1].End])
	assert.Less(t, got[0].Confidence, 0.9, "a guessed zero is less sure")
}

// A code of letters and a number tied by a hyphen is told from a model by how it is spoken of: one gets a code and has a machine.
func TestTiedCodes(t *testing.T) {
	posts := []string{"After a minute it stops and I get KL-204 in the app.", "Mine had KL-204 too."}
	c := code.Learn(posts...)
	for _, p := range posts {
		require.Len(t, c.Find(p), 1, p)
		assert.Equal(t, "KL-204", c.Find(p)[0].Code.Text)
	}
	models := []string{"I have a KL-204 from 2013.", "My KL-204 does the same, got it used."}
	c = code.Learn(models...)
	for _, p := range models {
		assert.Empty(t, c.Find(p), p)
	}
}

func TestLearnReachesOverPosts(t *testing.T) {
	posts := []string{"E6 on that old unit", "then error E6", "Ours did 157/18 too", "the reader gives SPN 157 FMI 18"}
	learned := code.Learn(posts...)
	var got []string
	for _, p := range posts {
		for _, f := range learned.Find(p) {
			got = append(got, f.Code.String())
		}
	}
	assert.Equal(t, []string{"E6", "E6", "SPN 157 FMI 18", "SPN 157 FMI 18"}, got)
	assert.Empty(t, code.Find(posts[0]), "alone it could be anything")
	assert.Empty(t, code.Find(posts[2]))
}

func FuzzParse(f *testing.F) {
	for _, s := range []string{"P0AA6-1A", "spn157 fmi18", "FMI 4 on SPN 3226", "Error 08", "5 blinks", "2 long 3 short"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		c, err := code.Parse(s)
		if err != nil {
			return
		}
		again, err := code.ParseScheme(c.Scheme, c.String())
		if err != nil || again != c {
			t.Fatalf("%q: %+v reads back as %+v, %v", s, c, again, err)
		}
		key, err := code.ParseKey(c.Key("halden").String())
		if err != nil || key != c.Key("halden") {
			t.Fatalf("%q: key %v, %v", s, key, err)
		}
	})
}

func FuzzFind(f *testing.F) {
	f.Add("Stored P0171/174, spn157 fmi18, 157/18")
	f.Add("error E\u200b61\xff, F-21 and F3/E2, 5 blinks")
	f.Fuzz(func(t *testing.T, s string) {
		last := 0
		for _, m := range code.Find(s) {
			if m.Start < last || m.End <= m.Start || m.End > len(s) || m.Code.IsZero() || m.Confidence <= 0 || m.Confidence > 1 {
				t.Fatalf("%q: %+v", s, m)
			}
			last = m.End
		}
	})
}

func BenchmarkFind(b *testing.B) {
	text := strings.Repeat("Stored P0171/174 again, SPN 157 FMI 18 active, error E47 on the display and F12 fuse fine. ", 100)
	b.SetBytes(int64(len(text)))
	for b.Loop() {
		code.Find(text)
	}
}
