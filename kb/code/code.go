package code

import (
	"fmt"
	"regexp"
	"strings"
)

// Scheme names the system that a code belongs to.
type Scheme string

// The schemes that exist.
const (
	OBD   Scheme = "obd"
	J1939 Scheme = "j1939"
	Maker Scheme = "maker"
)

// IssuerStandard is the issuer of a code whose meaning the standard gives, whoever built the machine.
const IssuerStandard = "SAE"

// Code is one fault code in normal form. The zero value is no code.
type Code struct {
	Scheme Scheme
	Text   string // normalised, without the failure type byte
	FTB    string // failure type byte, two upper-case hex digits; "" when none is given or it is 00, "no sub type"
	SPN    uint32
	FMI    uint8 // only meaningful when HasFMI is set
	HasFMI bool
}

// String writes the code as it is stored and shown: "P1B77-13", "SPN 3226 FMI 4", "E47", "BLINK 5".
func (c Code) String() string {
	if c.FTB == "" {
		return c.Text
	}
	return c.Text + "-" + c.FTB
}

// IsZero reports whether c holds no code.
func (c Code) IsZero() bool { return c.Text == "" }

func newOBD(text string, ftb byte) Code {
	c := Code{Scheme: OBD, Text: text}
	if ftb != 0 {
		c.FTB = fmt.Sprintf("%02X", ftb)
	}
	return c
}

func newSPN(spn uint32) Code {
	return Code{Scheme: J1939, Text: fmt.Sprintf("SPN %d", spn), SPN: spn}
}

func newSPNFMI(spn uint32, fmi uint8) Code {
	return Code{Scheme: J1939, Text: fmt.Sprintf("SPN %d FMI %d", spn, fmi), SPN: spn, FMI: fmi, HasFMI: true}
}

// Key is what cases are counted under: the same text means different things from different issuers.
type Key struct {
	Scheme Scheme
	Issuer string // IssuerStandard, else the folded make; "" when the make is not known
	Code   string
}

// Key returns the key of c on a machine of the given make. The failure type byte is no part of it.
func (c Code) Key(maker string) Key {
	k := Key{Scheme: c.Scheme, Issuer: IssuerStandard, Code: c.Text}
	switch c.Scheme {
	case OBD:
		if c.Control() != ControlStandard {
			k.Issuer = foldMake(maker)
		}
	case J1939:
		k.Code = fmt.Sprint(c.SPN)
		if c.HasFMI {
			k.Code += fmt.Sprintf("/%d", c.FMI)
		}
		if ProprietarySPN(c.SPN) {
			k.Issuer = foldMake(maker)
		}
	default:
		k.Issuer = foldMake(maker)
		k.Code = foldMaker(c.Text)
	}
	return k
}

// String writes the key as "obd/SAE/P0420" or "maker/halden/E47".
func (k Key) String() string { return string(k.Scheme) + "/" + k.Issuer + "/" + k.Code }

// ParseKey reads what Key.String wrote.
func ParseKey(s string) (Key, error) {
	scheme, rest, ok := strings.Cut(s, "/")
	issuer, text, ok2 := strings.Cut(rest, "/")
	k := Key{Scheme: Scheme(scheme), Issuer: issuer, Code: text}
	if !ok || !ok2 || text == "" || !k.Scheme.valid() {
		return Key{}, fmt.Errorf("code key %.80q: want scheme/issuer/code, such as obd/SAE/P0420", s)
	}
	return k, nil
}

func (s Scheme) valid() bool { return s == OBD || s == J1939 || s == Maker }

// Family returns the group that related codes share: letter and first two digits of a standard code ("P04"), the SPN of
// a J1939 code ("3226", with the make in front where the SPN is the maker's own), "" where no standard orders the codes.
func (k Key) Family() string {
	switch {
	case k.Scheme == OBD && k.Issuer == IssuerStandard && len(k.Code) == 5:
		return k.Code[:3]
	case k.Scheme == J1939:
		spn, _, _ := strings.Cut(k.Code, "/")
		if k.Issuer != IssuerStandard {
			return k.Issuer + "/" + spn
		}
		return spn
	}
	return ""
}

// foldMake drops case, spacing and the slash that separates the parts of a written key.
func foldMake(s string) string {
	return strings.Join(strings.Fields(strings.ReplaceAll(strings.ToLower(s), "/", " ")), " ")
}

var (
	cuePrefix   = regexp.MustCompile(`^(?:ERROR|ERR|ALARM|CODE|FAULT)[ :-]*(\d.*)$`)
	lettersThen = regexp.MustCompile(`^([A-Z]*)[ :_-]*0*(\d+)$`)
)

// foldMaker brings the spellings of one maker code together: "F-21" and "F21", "Error 08" and "error 8", "E-07" and "E7".
// Displays pad with zeros and people leave them out, so leading zeros do not count. A point does: H3.06 is not H306.
func foldMaker(text string) string {
	s := strings.ToUpper(strings.Join(strings.Fields(text), " "))
	if strings.HasPrefix(s, blinkPrefix) {
		return s
	}
	if m := cuePrefix.FindStringSubmatch(s); m != nil {
		s = m[1]
	}
	if m := lettersThen.FindStringSubmatch(s); m != nil {
		return m[1] + m[2]
	}
	return strings.NewReplacer(" ", "", ":", "", "_", "", "-", "", "/", "").Replace(s)
}
