package code

import (
	"errors"
	"fmt"
)

// Limits of SAE J1939-73: 19 bits of SPN, 5 of FMI, 7 of occurrence count.
const (
	MaxSPN        = 0x7FFFF
	MaxFMI        = 31
	MaxOccurrence = 127 // 127 itself says that the count is not available
)

const firstProprietarySPN = 516096

// ProprietarySPN reports whether an SPN lies in the range that makers use as they like.
func ProprietarySPN(spn uint32) bool { return spn >= firstProprietarySPN && spn <= MaxSPN }

// NewSPN makes a J1939 code from its numbers.
func NewSPN(spn uint32, fmi uint8) (Code, error) {
	switch {
	case spn == 0 || spn > MaxSPN:
		return Code{}, fmt.Errorf("SPN %d: want 1 to %d", spn, MaxSPN)
	case fmi > MaxFMI:
		return Code{}, fmt.Errorf("FMI %d: want 0 to %d", fmi, MaxFMI)
	}
	return newSPNFMI(spn, fmi), nil
}

// Lamp is the state of one of the four lamps of a DM1 message.
type Lamp struct {
	State LampState
	Flash LampFlash
}

// LampState is the two-bit state of a lamp.
type LampState uint8

// The states of a lamp.
const (
	LampOff         LampState = 0
	LampOn          LampState = 1
	LampError       LampState = 2
	LampUnavailable LampState = 3
)

// LampFlash is the two-bit flash code of a lamp.
type LampFlash uint8

// The flash codes of a lamp.
const (
	FlashSlow     LampFlash = 0
	FlashFast     LampFlash = 1
	FlashReserved LampFlash = 2
	FlashNone     LampFlash = 3 // steady, or not available
)

// Occurrence is one code of a DM1 message with how often it came.
type Occurrence struct {
	Code  Code
	Count uint8
	// OldConversion is the conversion method bit. When set, the sender may have laid out the SPN by a method that
	// was in use before 1996, and the SPN given here cannot be relied on.
	OldConversion bool
}

// DM1 is a message of active codes, PGN 65226.
type DM1 struct {
	Malfunction, RedStop, Amber, Protect Lamp
	Codes                                []Occurrence
}

// DecodeDM1 reads the bytes of a DM1 message after the transport layer has joined them: two of lamps, then four for each
// code. It is not preceded by a number of codes, and four zero bytes are no code.
func DecodeDM1(b []byte) (DM1, error) {
	if len(b) < 6 {
		return DM1{}, fmt.Errorf("DM1 of %d bytes: want at least 6", len(b))
	}
	m := DM1{
		Malfunction: lampAt(b, 6), RedStop: lampAt(b, 4), Amber: lampAt(b, 2), Protect: lampAt(b, 0),
	}
	rest := b[2:]
	if len(b) == 8 { // a single frame is filled up to eight bytes
		rest = b[2:6]
	}
	if len(rest)%4 != 0 {
		return DM1{}, fmt.Errorf("DM1 of %d bytes: want 2 and 4 for each code", len(b))
	}
	for ; len(rest) > 0; rest = rest[4:] {
		o := decodeOccurrence([4]byte(rest))
		if o.Code.SPN == 0 {
			continue
		}
		m.Codes = append(m.Codes, o)
	}
	return m, nil
}

func lampAt(b []byte, shift uint) Lamp {
	return Lamp{State: LampState(b[0] >> shift & 3), Flash: LampFlash(b[1] >> shift & 3)}
}

func decodeOccurrence(b [4]byte) Occurrence {
	spn := uint32(b[0]) | uint32(b[1])<<8 | uint32(b[2]>>5)<<16
	return Occurrence{Code: newSPNFMI(spn, b[2]&0x1F), Count: b[3] & 0x7F, OldConversion: b[3]&0x80 != 0}
}

// EncodeDM1 is the inverse of DecodeDM1, without filling.
func EncodeDM1(m DM1) ([]byte, error) {
	b := make([]byte, 2, 6+4*len(m.Codes))
	for i, l := range [4]Lamp{m.Protect, m.Amber, m.RedStop, m.Malfunction} {
		b[0] |= byte(l.State&3) << (2 * i)
		b[1] |= byte(l.Flash&3) << (2 * i)
	}
	for _, o := range m.Codes {
		four, err := o.encode()
		if err != nil {
			return nil, err
		}
		b = append(b, four[:]...)
	}
	if len(m.Codes) == 0 {
		b = append(b, 0, 0, 0, 0)
	}
	return b, nil
}

func (o Occurrence) encode() ([4]byte, error) {
	c := o.Code
	switch {
	case c.Scheme != J1939 || !c.HasFMI:
		return [4]byte{}, errors.New("only a code with SPN and FMI goes into a DM1 message")
	case c.SPN == 0 || c.SPN > MaxSPN || c.FMI > MaxFMI || o.Count > MaxOccurrence:
		return [4]byte{}, fmt.Errorf("SPN %d FMI %d, count %d: out of range", c.SPN, c.FMI, o.Count)
	}
	last := o.Count
	if o.OldConversion {
		last |= 0x80
	}
	return [4]byte{byte(c.SPN), byte(c.SPN >> 8), byte(c.SPN>>16)<<5 | c.FMI, last}, nil
}
