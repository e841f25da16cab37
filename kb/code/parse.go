package code

import (
	"errors"
	"fmt"
	"regexp"
	"strconv"
	"strings"
)

const (
	maxLength   = 40
	blinkPrefix = "BLINK "
)

var (
	obdWhole = regexp.MustCompile(`^([PCBU])[\s_-]*([0-3O][0-9A-FO]{3})(?:[\s:./_-]*\(?([0-9A-FO]{2})\)?)?$`)
	spnWhole = regexp.MustCompile(`^(?:SPN|S)[\s:#=.-]*(\d{1,7})(?:[\s,;:/.|-]*(?:FMI|F)?[\s:#=.-]*(\d{1,3}))?(?:\s*\(?[X×]?\s*\d+[X×]?\)?)?$`)
	fmiFirst = regexp.MustCompile(`^FMI[\s:#=.-]*(\d{1,3})[\s,;:/-]*(?:ON|FOR|OF|AT)?\s*(?:SPN)?[\s:#=.-]*(\d{1,7})$`)
	pairOnly = regexp.MustCompile(`^(\d{1,7})\s*(?:[/.:,-]|\s|\s*FMI\s*)\s*(\d{1,3})$`)

	makerCue   = regexp.MustCompile(`^(?:(?:(?:ERROR|FAULT|TROUBLE|FLASH)\s+)?CODE|DTC|FAULT|ALARM)[\s:#=]+(.*\d.*)$`)
	makerWhole = regexp.MustCompile(`^[\p{Lu}\p{N}](?:[\p{Lu}\p{N} .:/_#+-]*[\p{Lu}\p{N}])?$`)
)

// Parse reads a string that is one code and nothing else, in any spelling, and finds its scheme. A bare pair of numbers
// is taken for a maker's code; use ParseScheme where J1939 is known.
func Parse(s string) (Code, error) {
	t, err := prepare(s)
	if err != nil {
		return Code{}, err
	}
	if strings.Contains(t, "SPN") || strings.Contains(t, "FMI") {
		return parseJ1939(t)
	}
	if obdWhole.MatchString(t) {
		return parseOBD(t)
	}
	return parseMaker(t)
}

// ParseScheme reads a string that is one code of a known scheme.
func ParseScheme(scheme Scheme, s string) (Code, error) {
	t, err := prepare(s)
	if err != nil {
		return Code{}, err
	}
	switch scheme {
	case OBD:
		return parseOBD(t)
	case J1939:
		return parseJ1939(t)
	case Maker:
		return parseMaker(t)
	}
	return Code{}, fmt.Errorf("scheme %.40q: want obd, j1939 or maker", scheme)
}

func prepare(s string) (string, error) {
	t := strings.ToUpper(strings.Join(strings.Fields(s), " "))
	switch {
	case t == "":
		return "", errors.New("empty code: want one such as P0420, SPN 3226 FMI 4 or E47")
	case len(t) > maxLength:
		return "", fmt.Errorf("code %.40q...: longer than %d characters", t, maxLength)
	}
	return strings.NewReplacer("–", "-", "—", "-", "‑", "-").Replace(t), nil
}

func parseOBD(t string) (Code, error) {
	m := obdWhole.FindStringSubmatch(t)
	if m == nil {
		return Code{}, fmt.Errorf("%q is no OBD code: want P, C, B or U, a digit 0 to 3, three hex digits and at most a failure type byte, such as P0420 or P0AA6-1A", t)
	}
	return obdFromParts(m[1], m[2], m[3]), nil
}

// obdFromParts takes the letter O where only a digit can stand for a zero, as people type it.
func obdFromParts(letter, digits, ftb string) Code {
	zero := func(s string) string { return strings.ReplaceAll(strings.ToUpper(s), "O", "0") }
	n, _ := strconv.ParseUint(zero(ftb), 16, 8) // "" is 0, no sub type
	return newOBD(strings.ToUpper(letter)+zero(digits), byte(n))
}

func parseJ1939(t string) (Code, error) {
	if m := spnWhole.FindStringSubmatch(t); m != nil {
		return j1939FromParts(m[1], m[2])
	}
	if m := fmiFirst.FindStringSubmatch(t); m != nil {
		return j1939FromParts(m[2], m[1])
	}
	if m := pairOnly.FindStringSubmatch(t); m != nil {
		return j1939FromParts(m[1], m[2])
	}
	return Code{}, fmt.Errorf("%q is no J1939 code: want a suspect parameter number and a failure mode, such as SPN 3226 FMI 4", t)
}

// j1939FromParts allows an SPN alone: displays often show no more.
func j1939FromParts(spn, fmi string) (Code, error) {
	n, err := strconv.ParseUint(spn, 10, 32)
	if err != nil || n == 0 || n > MaxSPN {
		return Code{}, fmt.Errorf("SPN %s: want 1 to %d", spn, MaxSPN)
	}
	if fmi == "" {
		return newSPN(uint32(n)), nil
	}
	f, err := strconv.ParseUint(fmi, 10, 8)
	if err != nil || f > MaxFMI {
		return Code{}, fmt.Errorf("FMI %s: want 0 to %d", fmi, MaxFMI)
	}
	return newSPNFMI(uint32(n), uint8(f)), nil
}

func parseMaker(t string) (Code, error) {
	if c, ok := wholeBlink(t); ok {
		return c, nil
	}
	if m := makerCue.FindStringSubmatch(t); m != nil {
		t = m[1]
	}
	// A display with few segments shows codes such as LE; anything longer without a digit is a word.
	if !makerWhole.MatchString(t) || len(strings.Fields(t)) > 3 || len(t) > 4 && !strings.ContainsAny(t, "0123456789") {
		return Code{}, fmt.Errorf("%q is no fault code: want letters and digits as on the display, such as E47, or a count of blinks", t)
	}
	return Code{Scheme: Maker, Text: t}, nil
}
