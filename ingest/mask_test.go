package ingest_test

import (
	"strings"
	"testing"
	"unicode"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"ruledout/ingest"
)

// The telephone numbers below are of the ranges kept free for fiction (Ofcom drama numbers, NANP 555-01xx), mail domains
// end in .example (RFC 2606); people, places and makers are invented.
func TestMaskTakesPersonalDataOut(t *testing.T) {
	tests := []struct {
		name, text, gone, kind string
	}{
		{"mail address", "write to ada.quill@lantern.example please", "ada.quill@lantern.example", ingest.MaskedEmail},
		{"mail address at the end of a sentence", "Mail me: pump-man+old@north.lantern.example.", "pump-man+old@north.lantern.example", ingest.MaskedEmail},
		{"mail address spelled out", "I am at quill at lantern dot example most days", "quill at lantern dot example", ingest.MaskedEmail},
		{"mail address with brackets", "quill (at) lantern (dot) example", "quill (at) lantern (dot) example", ingest.MaskedEmail},
		{"mobile number", "text me 07700 900123 after four", "07700 900123", ingest.MaskedPhone},
		{"mobile number in one piece", "mobile: 07700900123", "07700900123", ingest.MaskedPhone},
		{"number with area code", "workshop 01632 960123", "01632 960123", ingest.MaskedPhone},
		{"number with area code in brackets", "(01632) 960 123 daytime only", "01632) 960 123", ingest.MaskedPhone},
		{"short local number after a cue", "Call or text 555-0123 if you want it", "555-0123", ingest.MaskedPhone},
		{"short local number with a name between", "CALL DAN ON 555-0123", "555-0123", ingest.MaskedPhone},
		{"ten digits with dashes", "the shop is 202-555-0123", "202-555-0123", ingest.MaskedPhone},
		{"ten digits with brackets", "the shop is (202) 555-0123", "202) 555-0123", ingest.MaskedPhone},
		{"international number", "from abroad +44 7700 900123", "+44 7700 900123", ingest.MaskedPhone},
		{"international number with trunk zero", "+44 (0)1632 960 123", "+44 (0)1632 960 123", ingest.MaskedPhone},
		{"labelled number without area code", "tel. 555 0142 886", "555 0142 886", ingest.MaskedPhone},
		{"number with a slash", "Tel: 0555/730118", "0555/730118", ingest.MaskedPhone},
		{"address in English", "find me at 418 Elder Mill Road, the red doors", "418 Elder Mill Road", ingest.MaskedAddress},
		{"address with a town", "Pick up at 27 Tanner's Yard, Wexby.", "27 Tanner's Yard, Wexby", ingest.MaskedAddress},
		{"address with a house name", "Heron Cottage, 4 Mill Lane, Wexby Parva", "Heron Cottage, 4 Mill Lane, Wexby Parva", ingest.MaskedAddress},
		{"address with a postcode", "12 Cooper Street, Wexby AB1 2CD", "12 Cooper Street, Wexby AB1 2CD", ingest.MaskedAddress},
		{"address abbreviated", "218 Larch Hollow Rd, after 5", "218 Larch Hollow Rd", ingest.MaskedAddress},
		{"address in Portuguese", "Rua do Poço 27, Vale Manso", "Rua do Poço 27, Vale Manso", ingest.MaskedAddress},
		{"address in German", "Abholung Lindenstraße 14, 12345 Wexheim", "Lindenstraße 14, 12345 Wexheim", ingest.MaskedAddress},
		{"address in Dutch", "Molenlaan 9 in Wexdam", "Molenlaan 9", ingest.MaskedAddress},
		{"address in Norwegian", "Steinlia 12, 7799 Vikåsen", "Steinlia 12, 7799 Vikåsen", ingest.MaskedAddress},
		{"address in French", "12 rue de la Forge, Wexville", "12 rue de la Forge", ingest.MaskedAddress},
		{"plate after a cue", "2014 Halden Brisk, reg QX14 ZPT, 90k", "QX14 ZPT", ingest.MaskedPlate},
		{"plate in a table", "Registration | QX14 ZPT", "QX14 ZPT", ingest.MaskedPlate},
		{"plate without cue", "QX14 ZPT 'the blue one'", "QX14 ZPT", ingest.MaskedPlate},
		{"older plate", "number plate K482 XYZ", "K482 XYZ", ingest.MaskedPlate},
		{"plate of another country", "The plate of my trailer reads LNX 3820, park behind it", "LNX 3820", ingest.MaskedPlate},
		{"German plate", "Kennzeichen WX-AB 1234", "WX-AB 1234", ingest.MaskedPlate},
		{"full name after a phrase", "My name is Orla Pendlewick and I run two", "Orla Pendlewick", ingest.MaskedName},
		{"full name in a table", "Customer | Quenby Thistlewade", "Quenby Thistlewade", ingest.MaskedName},
		{"full name before a number", "Orla Pendlewick, mobile repairs, 07700 900123", "Orla Pendlewick", ingest.MaskedName},
		{"full name above a number", "Orla Pendlewick\ntel. 07700 900123", "Orla Pendlewick", ingest.MaskedName},
		{"full name to ring", "ring Orla Pendlewick on 07700 900123", "Orla Pendlewick", ingest.MaskedName},
		{"full name below a greeting", "Kind regards,\nOrla Pendlewick", "Orla Pendlewick", ingest.MaskedName},
		{"full name with a common first name", "so Margaret Thistlewade lent me hers", "Margaret Thistlewade", ingest.MaskedName},
		{"double last name", "Geoffrey Hollow-Marsh\n1985 camper", "Geoffrey Hollow-Marsh", ingest.MaskedName},
		{"name with a particle", "met Pieter van der Wexdam there", "Pieter van der Wexdam", ingest.MaskedName},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			masked, regions := ingest.Mask(tt.text)
			assert.NotContains(t, masked, tt.gone)
			require.NotEmpty(t, regions)
			kinds := map[string]bool{}
			for _, r := range regions {
				assert.Equal(t, ingest.RegionMasked, r.Kind)
				assert.Equal(t, ingest.Veil, masked[r.Start:r.End])
				kinds[r.Name] = true
			}
			assert.True(t, kinds[tt.kind], "kinds %v", kinds)
			for word := range strings.FieldsFuncSeq(tt.gone, func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) }) {
				if len(word) > 3 {
					assert.NotContains(t, masked, word)
				}
			}
		})
	}
}

func TestMaskLeavesTheRepairAlone(t *testing.T) {
	tests := []string{
		"SPN 3226 FMI 9 and SPN 520211 FMI 2, then P0AA6-1A again",
		"612,000 miles, 1 240 500 cycles, 187.000 km, 11240 hrs",
		"part no 89661-47260, ordered 0280 155 968 twice",
		"P/N 012-345-6789 superseded",
		"call it 1 200 000 km and be done",
		"readings 161 164 158 160 163 162 psi on all six",
		"between 2100-2500 rpm it hunts, spec 800-1000 ohm",
		"fitted 12.05.2021, failed 2021-06-30, again on 3 March 2024",
		"$1,320 for the cooler and $2100 for the turbo",
		"4 Wheel Drive light is on, 3 Way Valve is stuck",
		"2019 Halden Mica Road test: 40 min with the long hill",
		"number plate bulbs dead on my Halden GX 450",
		"09 plate Halden Wren 1.1, 71000 miles",
		"2015 HALDEN TX12 HAS 12 OHM ON ALL OF THEM AND KT30 THE SAME",
		"Halden Brisk 3, Sommerlund Porter E, Hollbeck S510",
		"Fuse F14 is fine, relay K7 clicks, plug C104 pin 22",
		"Thanks Margaret, and Paul was right about the pump",
		"Mark the bearing, then Will it go back? Rob the spring seat.",
		"Ring Main Unit tripped, Phone Charger unplugged",
		"VIN plate is on the door pillar, VIN not needed",
		"meter on F1/F2 shows 232 V, L-N 400 V",
		"runs at 1500 rpm with 50.0 Hz, 9 inHg, 4.7 ohm",
		"Porter 440, 2017 Halden, third owner",
		"bought a Halden TX12 PRO last week",
		"version 4.12.0-1189 on the display, 0x2B twice",
	}
	for _, text := range tests {
		masked, regions := ingest.Mask(text)
		assert.Equal(t, text, masked)
		assert.Empty(t, regions)
	}
}

// 1M8GDM9AXKP042788 is the worked example for the check digit of 49 CFR 565 that many publications use; its model year
// code K with a letter in place 7 is 2019 by the rule of the standard, with a digit there 1989.
func TestMaskKeepsTheFactsOfAVIN(t *testing.T) {
	masked, regions := ingest.Mask("VIN 1M8GDM9AXKP042788 if anybody can look")
	require.Len(t, regions, 1)
	assert.Equal(t, "VIN "+ingest.Veil+" if anybody can look", masked)
	assert.Equal(t, ingest.MaskedVIN, regions[0].Name)
	require.NotNil(t, regions[0].VIN)
	assert.Equal(t, "valid", regions[0].VIN.Check)
	assert.Equal(t, 1989, regions[0].VIN.ModelYear)
	assert.NotEmpty(t, regions[0].VIN.Region)
}

func TestMaskedAuthorsAreTheSameEverywhere(t *testing.T) {
	text := "Margaret Thistlewade\n3 Mar 2024 #1\nThe pump is seized, 0.2 A only.\n\nReply   Quote\n\n" +
		"pumpkin_pete\n4 Mar 2024 #2\nQuote:\nMargaret Thistlewade wrote:\nThe pump is seized, 0.2 A only.\n\nNew pump then.\n\nReply   Quote\n"
	threads, err := ingest.Read(ingest.File{Name: "pump.txt", Data: []byte(text)}, ingest.Options{})
	require.NoError(t, err)
	require.Len(t, threads, 1)
	posts := threads[0].Posts
	require.Len(t, posts, 2)
	assert.Equal(t, "Margaret "+ingest.Veil, posts[0].Author)
	assert.Equal(t, "pumpkin_pete", posts[1].Author)
	assert.NotContains(t, posts[1].Text, "Thistlewade")
	require.NotEmpty(t, posts[1].Regions)
	assert.Equal(t, posts[0].Author, posts[1].Regions[0].Author)
}

func TestMaskNamesBelowPosts(t *testing.T) {
	text := func(closing string) string {
		return "quill_9\n3 Mar 2024 #1\nMy Halden Brisk has a seized pump.\n" + closing + "\n\nReply   Quote\n\nbrassnut\n4 Mar 2024 #2\nNew pump then.\n\nReply   Quote\n"
	}
	tests := []struct{ closing, want string }{
		{"Thaddeus Crumwade", ingest.Veil},
		{"-- \nThaddeus Crumwade\n\"Plover\", Heron Creek", ingest.Veil + "\n\"Plover\", Heron Creek"},
		{"-- \nThaddeus Crumwade, south coast", ingest.Veil + ", south coast"},
		{"Halden Brisk", "Halden Brisk"}, // the thread talks of it: a machine
		{"-- \nTwo Brisks, one dog", "Two Brisks, one dog"},
		{"Crumwade Motors", "Crumwade Motors"},
	}
	for _, tt := range tests {
		posts := readOne(t, "pump.txt", text(tt.closing)).Posts
		require.Len(t, posts, 2, tt.closing)
		assert.True(t, strings.HasSuffix(posts[0].Text, "pump.\n"+tt.want), "%q: %q", tt.closing, posts[0].Text)
	}
}

func checkMasked(t interface {
	Errorf(string, ...any)
	FailNow()
}, text string) {
	masked, regions := ingest.Mask(text)
	again, more := ingest.Mask(masked)
	assert.Equal(t, masked, again)
	assert.Empty(t, more)
	last := 0
	for _, r := range regions {
		require.True(t, r.Start >= last && r.Start < r.End && r.End <= len(masked))
		assert.Equal(t, ingest.Veil, masked[r.Start:r.End])
		last = r.Start
	}
}

func TestMaskTwiceChangesNothing(t *testing.T) {
	piece := rapid.SampledFrom([]string{"ring ", "Margaret ", "Thistlewade", ", ", "\n", "07700 900123", "555-0123", "a@b.example", "@c.example", "12 Mill Lane",
		"reg ", "QX14 ZPT", "1M8GDM9AXKP042788", " ", "-", "+44 ", "5", "Rua do ", "Orla Pendlewick", ingest.Veil, "é", "\xff"})
	rapid.Check(t, func(t *rapid.T) {
		checkMasked(t, strings.Join(rapid.SliceOfN(piece, 0, 12).Draw(t, "pieces"), ""))
	})
}

func FuzzMask(f *testing.F) {
	for _, seed := range []string{"", "ring Orla Pendlewick on 07700 900123", "a@b.example@c.example", "VIN 1M8GDM9AXKP042788", "12 Mill Lane, Wexby", "reg QX14 ZPT\xff"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) { checkMasked(t, text) })
}
