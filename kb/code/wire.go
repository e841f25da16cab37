package code

import (
	"errors"
	"fmt"
	"strconv"
)

const letters = "PCBU" // in the order of bits 15 and 14

// DecodeOBD reads the two-byte form: bits 15 and 14 the letter, 13 and 12 the second character, then three hex digits.
func DecodeOBD(b [2]byte) Code { return newOBD(obdText(b[0], b[1]), 0) }

func obdText(hi, lo byte) string {
	return fmt.Sprintf("%c%d%X%02X", letters[hi>>6], hi>>4&3, hi&0xF, lo)
}

// EncodeOBD writes the two-byte form, which has no room for a failure type byte.
func EncodeOBD(c Code) ([2]byte, error) {
	if c.Scheme != OBD || len(c.Text) != 5 {
		return [2]byte{}, fmt.Errorf("%.40q has no two-byte form: want a code such as P0420", c.Text)
	}
	n, err := strconv.ParseUint(c.Text[1:], 16, 16)
	if err != nil || n > 0x3FFF {
		return [2]byte{}, fmt.Errorf("%.40q has no two-byte form: want a code such as P0420", c.Text)
	}
	for i := range len(letters) {
		if letters[i] == c.Text[0] {
			return [2]byte{byte(i)<<6 | byte(n>>8), byte(n)}, nil
		}
	}
	return [2]byte{}, fmt.Errorf("%.40q has no two-byte form: want P, C, B or U first", c.Text)
}

// DecodeUDS reads the three-byte form of ISO 14229: two bytes as above and the failure type byte.
func DecodeUDS(b [3]byte) Code { return newOBD(obdText(b[0], b[1]), b[2]) }

// EncodeUDS writes the three-byte form.
func EncodeUDS(c Code) ([3]byte, error) {
	two, err := EncodeOBD(c)
	if err != nil {
		return [3]byte{}, err
	}
	ftb := uint64(0)
	if c.FTB != "" {
		if ftb, err = strconv.ParseUint(c.FTB, 16, 8); err != nil {
			return [3]byte{}, fmt.Errorf("failure type byte %.10q: want two hex digits", c.FTB)
		}
	}
	return [3]byte{two[0], two[1], byte(ftb)}, nil
}

// Protocol tells how a reply of OBD codes is laid out.
type Protocol int

// The layouts of a reply.
const (
	ProtocolCAN   Protocol = iota // a count byte follows the service byte
	ProtocolOlder                 // three codes a message, no count
)

// Reply is what a control unit answers when asked for its codes.
type Reply struct {
	Status Status // stored for service 03, pending for 07, permanent codes (service 0A) count as stored
	Codes  []Code
}

// DecodeReply reads the answer to services 03, 07 and 0A. Older protocols send no number of codes, so the protocol has to
// be known: 43 02 01 02 01 13 is two codes on CAN and three on the others. Pairs of zero are filling.
func DecodeReply(b []byte, p Protocol) (Reply, error) {
	if len(b) == 0 {
		return Reply{}, errors.New("empty reply: want 43, 47 or 4A first")
	}
	r := Reply{Status: StatusStored}
	switch b[0] {
	case 0x43, 0x4A:
	case 0x47:
		r.Status = StatusPending
	default:
		return Reply{}, fmt.Errorf("reply starts with %02X: want 43, 47 or 4A", b[0])
	}
	rest := b[1:]
	if p == ProtocolCAN {
		if len(rest) == 0 || len(rest)-1 < 2*int(rest[0]) {
			return Reply{}, fmt.Errorf("reply of %d bytes is shorter than its count says", len(b))
		}
		rest = rest[1 : 1+2*int(rest[0])]
	}
	if len(rest)%2 != 0 {
		return Reply{}, fmt.Errorf("reply of %d bytes: codes take two each", len(b))
	}
	for ; len(rest) > 0; rest = rest[2:] {
		if rest[0]|rest[1] != 0 {
			r.Codes = append(r.Codes, DecodeOBD([2]byte(rest)))
		}
	}
	return r, nil
}

// UDSRecord is one code of a UDS report with its status byte.
type UDSRecord struct {
	Code   Code
	Status UDSStatus
}

// DecodeUDSReport reads the answer to service 19 sub-function 02: 59 02, a mask, then four bytes for each code.
func DecodeUDSReport(b []byte) ([]UDSRecord, error) {
	if len(b) < 3 || b[0] != 0x59 || b[1] != 0x02 {
		return nil, errors.New("want a reply that starts with 59 02 and a status mask")
	}
	rest := b[3:]
	if len(rest)%4 != 0 {
		return nil, fmt.Errorf("%d bytes of codes: want four for each", len(rest))
	}
	var out []UDSRecord
	for ; len(rest) > 0; rest = rest[4:] {
		if rest[0]|rest[1]|rest[2] != 0 {
			out = append(out, UDSRecord{DecodeUDS([3]byte(rest)), UDSStatus(rest[3])})
		}
	}
	return out, nil
}
