package code_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"ruledout/kb/code"
)

// The rule of SAE J2012 / ISO 15031-6: bits 15 and 14 the letter, 13 and 12 the second character, three hex digits. The
// first two rows are also worked bit by bit in public data sheets, the others in public test suites or computed.
func TestDecodeOBD(t *testing.T) {
	for _, tc := range []struct {
		bytes [2]byte
		want  string
	}{
		{[2]byte{0x01, 0x33}, "P0133"}, {[2]byte{0x01, 0x35}, "P0135"}, {[2]byte{0x01, 0x2C}, "P012C"},
		{[2]byte{0xC2, 0x93}, "U0293"}, {[2]byte{0x0A, 0xA6}, "P0AA6"}, {[2]byte{0x0A, 0x80}, "P0A80"},
		{[2]byte{0x05, 0x71}, "P0571"}, {[2]byte{0x33, 0xED}, "P33ED"}, {[2]byte{0x31, 0xE7}, "P31E7"},
		{[2]byte{0xA6, 0x30}, "B2630"}, {[2]byte{0xC1, 0x00}, "U0100"}, {[2]byte{0xE1, 0x03}, "U2103"},
		{[2]byte{0xC1, 0x58}, "U0158"}, {[2]byte{0xD0, 0x16}, "U1016"}, {[2]byte{0x40, 0x35}, "C0035"},
		{[2]byte{0x92, 0x34}, "B1234"}, {[2]byte{0x3F, 0xFF}, "P3FFF"}, {[2]byte{0x04, 0x20}, "P0420"},
	} {
		c := code.DecodeOBD(tc.bytes)
		assert.Equal(t, tc.want, c.String())
		back, err := code.EncodeOBD(c)
		require.NoError(t, err)
		assert.Equal(t, tc.bytes, back)
	}
}

// ISO 14229-1: two bytes as above and the failure type byte.
func TestDecodeUDS(t *testing.T) {
	for want, b := range map[string][3]byte{
		"P0A80-13": {0x0A, 0x80, 0x13}, "P0AA6-4A": {0x0A, 0xA6, 0x4A}, "U0100-87": {0xC1, 0x00, 0x87}, "P0171": {0x01, 0x71, 0x00},
	} {
		assert.Equal(t, want, code.DecodeUDS(b).String())
	}
}

func TestEncodeRejects(t *testing.T) {
	for _, c := range []code.Code{
		{}, {Scheme: code.Maker, Text: "P0420"}, {Scheme: code.OBD, Text: "P042"}, {Scheme: code.OBD, Text: "P042G"},
		{Scheme: code.OBD, Text: "P4420"}, {Scheme: code.OBD, Text: "X0420"},
	} {
		_, err := code.EncodeOBD(c)
		assert.Error(t, err, c.Text)
	}
	_, err := code.EncodeUDS(code.Code{Scheme: code.OBD, Text: "P0420", FTB: "G1"})
	assert.Error(t, err)
}

func TestDecodeReply(t *testing.T) {
	for _, tc := range []struct {
		name     string
		bytes    []byte
		protocol code.Protocol
		status   code.Status
		want     []string
	}{
		// A public data sheet's example; the trailing zeros are filling.
		{"older, padded", []byte{0x43, 0x01, 0x33, 0, 0, 0, 0}, code.ProtocolOlder, code.StatusStored, []string{"P0133"}},
		// Rule of the standard (ISO 15765-4 has a count, the older protocols have none), computed.
		{"CAN, one", []byte{0x43, 0x01, 0x01, 0x2C}, code.ProtocolCAN, code.StatusStored, []string{"P012C"}},
		{"CAN, two", []byte{0x43, 0x02, 0x01, 0x02, 0x01, 0x13}, code.ProtocolCAN, code.StatusStored, []string{"P0102", "P0113"}},
		{"CAN, filled frame", []byte{0x47, 0x01, 0x01, 0x2C, 0xAA, 0xAA, 0xAA}, code.ProtocolCAN, code.StatusPending, []string{"P012C"}},
		{"CAN, none", []byte{0x43, 0x00}, code.ProtocolCAN, code.StatusStored, nil},
		{"permanent", []byte{0x4A, 0x01, 0x04, 0x20}, code.ProtocolCAN, code.StatusStored, []string{"P0420"}},
	} {
		t.Run(tc.name, func(t *testing.T) {
			r, err := code.DecodeReply(tc.bytes, tc.protocol)
			require.NoError(t, err)
			assert.Equal(t, tc.status, r.Status)
			var got []string
			for _, c := range r.Codes {
				got = append(got, c.String())
			}
			assert.Equal(t, tc.want, got)
		})
	}
}

func TestDecodeReplyErrors(t *testing.T) {
	for name, b := range map[string][]byte{
		"empty": nil, "another service": {0x41, 0x01}, "no count": {0x43}, "fewer than counted": {0x43, 0x02, 0x01, 0x02},
	} {
		_, err := code.DecodeReply(b, code.ProtocolCAN)
		assert.Error(t, err, name)
	}
	_, err := code.DecodeReply([]byte{0x43, 0x01}, code.ProtocolOlder)
	assert.ErrorContains(t, err, "two each")
}

func TestDecodeUDSReport(t *testing.T) {
	got, err := code.DecodeUDSReport([]byte{0x59, 0x02, 0xFF, 0x0A, 0x80, 0x13, 0x2E, 0, 0, 0, 0})
	require.NoError(t, err)
	require.Len(t, got, 1)
	assert.Equal(t, "P0A80-13", got[0].Code.String())
	assert.Equal(t, code.StatusStored, got[0].Status.Status())
	for _, b := range [][]byte{nil, {0x59, 0x04, 0xFF}, {0x59, 0x02, 0xFF, 1}} {
		_, err := code.DecodeUDSReport(b)
		assert.Error(t, err)
	}
}

// Equipment & Tool Institute, j1939-84, DM1ActiveDTCsPacketTest.
func TestDecodeDM1(t *testing.T) {
	b := []byte{0x11, 0xCD, 0x61, 0x02, 0x13, 0x00, 0x21, 0x06, 0x1F, 0x00, 0xEE, 0x10, 0x04, 0x00}
	m, err := code.DecodeDM1(b)
	require.NoError(t, err)
	assert.Equal(t, code.Lamp{State: code.LampOff, Flash: code.FlashNone}, m.Malfunction)
	assert.Equal(t, code.Lamp{State: code.LampOn, Flash: code.FlashSlow}, m.RedStop)
	assert.Equal(t, code.Lamp{State: code.LampOff, Flash: code.FlashNone}, m.Amber)
	assert.Equal(t, code.Lamp{State: code.LampOn, Flash: code.FlashFast}, m.Protect)
	var got []string
	for _, o := range m.Codes {
		got = append(got, o.Code.String())
		assert.Zero(t, o.Count)
	}
	assert.Equal(t, []string{"SPN 609 FMI 19", "SPN 1569 FMI 31", "SPN 4334 FMI 4"}, got)
	back, err := code.EncodeDM1(m)
	require.NoError(t, err)
	assert.Equal(t, b, back)
}

// The layout of SAE J1939-73 applied to inputs from a public function reference, computed; the third row is the example
// in the standard's text, from memory. The count is in the last byte, where a decoder that takes it from the first fails.
func TestDM1Bytes(t *testing.T) {
	for _, tc := range []struct {
		bytes [4]byte
		spn   uint32
		fmi   uint8
		count uint8
	}{
		{[4]byte{0x32, 0x09, 0x30, 0x65}, 67890, 16, 101},
		{[4]byte{0x7B, 0x00, 0x0B, 0x05}, 123, 11, 5},
		{[4]byte{0xB8, 0x04, 0x03, 0x0A}, 1208, 3, 10},
		{[4]byte{0xFF, 0xFF, 0xFF, 0x7F}, 524287, 31, 127},
	} {
		m, err := code.DecodeDM1(append([]byte{0, 0}, tc.bytes[:]...))
		require.NoError(t, err)
		require.Len(t, m.Codes, 1)
		want, err := code.NewSPN(tc.spn, tc.fmi)
		require.NoError(t, err)
		assert.Equal(t, code.Occurrence{Code: want, Count: tc.count}, m.Codes[0])
	}
}

func TestDM1WithoutCodes(t *testing.T) {
	for _, b := range [][]byte{{0, 0xFF, 0, 0, 0, 0}, {0, 0xFF, 0, 0, 0, 0, 0xFF, 0xFF}} {
		m, err := code.DecodeDM1(b)
		require.NoError(t, err)
		assert.Empty(t, m.Codes)
	}
	m, err := code.DecodeDM1([]byte{0, 0, 0x7B, 0, 0x0B, 0x85})
	require.NoError(t, err)
	assert.True(t, m.Codes[0].OldConversion)
	assert.EqualValues(t, 5, m.Codes[0].Count)
	for _, n := range []int{0, 5, 7, 9, 12} {
		_, err := code.DecodeDM1(make([]byte, n))
		assert.Error(t, err, n)
	}
}

func TestNewSPNLimits(t *testing.T) {
	_, err := code.NewSPN(code.MaxSPN+1, 0)
	assert.ErrorContains(t, err, "524287")
	_, err = code.NewSPN(0, 0)
	assert.Error(t, err)
	_, err = code.NewSPN(1, 32)
	assert.ErrorContains(t, err, "0 to 31")
	_, err = code.EncodeDM1(code.DM1{Codes: []code.Occurrence{{Code: code.Code{Scheme: code.OBD, Text: "P0420"}}}})
	assert.Error(t, err)
	spn, err := code.NewSPN(1, 1)
	require.NoError(t, err)
	_, err = code.EncodeDM1(code.DM1{Codes: []code.Occurrence{{Code: spn, Count: 200}}})
	assert.Error(t, err)
}

// Every three bytes are a code, and that code is those three bytes; what it is called reads back as itself.
func TestUDSRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := [3]byte(rapid.SliceOfN(rapid.Byte(), 3, 3).Draw(t, "bytes"))
		c := code.DecodeUDS(b)
		back, err := code.EncodeUDS(c)
		require.NoError(t, err)
		assert.Equal(t, b, back)
		parsed, err := code.Parse(c.String())
		require.NoError(t, err)
		assert.Equal(t, c, parsed)
		found := code.Find("the reader shows code " + c.String() + " stored")
		require.Len(t, found, 1)
		assert.Equal(t, c, found[0].Code)
	})
}

func TestDM1RoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var m code.DM1
		lamp := rapid.Custom(func(t *rapid.T) code.Lamp {
			return code.Lamp{
				State: code.LampState(rapid.IntRange(0, 3).Draw(t, "state")),
				Flash: code.LampFlash(rapid.IntRange(0, 3).Draw(t, "flash")),
			}
		})
		m.Malfunction, m.RedStop, m.Amber, m.Protect = lamp.Draw(t, "mil"), lamp.Draw(t, "red"), lamp.Draw(t, "amber"), lamp.Draw(t, "protect")
		for range rapid.IntRange(0, 5).Draw(t, "codes") {
			c, err := code.NewSPN(rapid.Uint32Range(1, code.MaxSPN).Draw(t, "spn"), rapid.Uint8Range(0, code.MaxFMI).Draw(t, "fmi"))
			require.NoError(t, err)
			m.Codes = append(m.Codes, code.Occurrence{
				Code: c, Count: rapid.Uint8Range(0, code.MaxOccurrence).Draw(t, "count"), OldConversion: rapid.Bool().Draw(t, "old"),
			})
			parsed, err := code.Parse(c.String())
			require.NoError(t, err)
			assert.Equal(t, c, parsed)
		}
		b, err := code.EncodeDM1(m)
		require.NoError(t, err)
		again, err := code.DecodeDM1(b)
		require.NoError(t, err)
		assert.Equal(t, m, again)
	})
}

func FuzzDecode(f *testing.F) {
	f.Add([]byte{0x43, 0x02, 0x01, 0x02, 0x01, 0x13})
	f.Add([]byte{0x11, 0xCD, 0x61, 0x02, 0x13, 0x00})
	f.Add([]byte{0x59, 0x02, 0xFF, 0x0A, 0x80, 0x13, 0x2E})
	f.Fuzz(func(t *testing.T, b []byte) {
		for _, p := range []code.Protocol{code.ProtocolCAN, code.ProtocolOlder} {
			if r, err := code.DecodeReply(b, p); err == nil && 2*len(r.Codes) > len(b) {
				t.Fatalf("%x: %d codes", b, len(r.Codes))
			}
		}
		if m, err := code.DecodeDM1(b); err == nil && 4*len(m.Codes) > len(b) {
			t.Fatalf("%x: %d codes", b, len(m.Codes))
		}
		if r, err := code.DecodeUDSReport(b); err == nil && 4*len(r) > len(b) {
			t.Fatalf("%x: %d codes", b, len(r))
		}
	})
}
