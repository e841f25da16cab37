// Package vin reads vehicle identification numbers (ISO 3779, check digit and model year of 49 CFR 565) so that what is
// worth knowing can be kept and the number itself dropped: the serial part identifies an owner.
package vin

import (
	"fmt"
	"strings"
)

const length = 17

// VIN is a well-formed vehicle identification number in upper case. It is personal data: keep only its Facts.
type VIN string

// Check is the result of the check digit.
type Check string

// The results of a check. The digit is compulsory in the North American scheme only, so elsewhere a digit that does not fit
// may mean nothing: CheckInvalid is a warning there too, CheckNotUsed says that the place holds no check digit at all.
const (
	CheckValid   Check = "valid"
	CheckInvalid Check = "invalid"
	CheckNotUsed Check = "not used"
)

// Facts is what may be kept of a VIN: nothing in it leads to one vehicle.
type Facts struct {
	Region    string
	ModelYear int // 0 when the code does not tell it
	Check     Check
}

// Parse reads a VIN in either case; spaces and hyphens between its groups do not count. A wrong check digit is no error.
func Parse(s string) (VIN, error) {
	t := strings.ToUpper(strings.ReplaceAll(strings.ReplaceAll(s, " ", ""), "-", ""))
	if len(t) != length {
		return "", fmt.Errorf("VIN of %d characters: want %d", len(t), length)
	}
	for i := range length {
		if value(t[i]) < 0 {
			return "", fmt.Errorf("VIN: %q at place %d: want digits and capitals without I, O and Q", t[i], i+1)
		}
	}
	return VIN(t), nil
}

// value is the number that stands for a character in the check sum, -1 for one that no VIN holds.
func value(c byte) int {
	switch {
	case c >= '0' && c <= '9':
		return int(c - '0')
	case c >= 'A' && c <= 'H':
		return int(c-'A') + 1
	case c >= 'J' && c <= 'N':
		return int(c-'J') + 1
	case c == 'P':
		return 7
	case c == 'R':
		return 9
	case c >= 'S' && c <= 'Z':
		return int(c-'S') + 2
	}
	return -1
}

// weights are those of 49 CFR 565 for the places 1 to 17; the check digit itself does not count.
var weights = [length]int{8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2}

func (v VIN) sum() int {
	sum := 0
	for i := range v {
		sum += weights[i] * value(v[i])
	}
	return sum
}

// CheckDigit computes the digit that belongs at place 9.
func (v VIN) CheckDigit() byte {
	if r := v.sum() % 11; r < 10 {
		return '0' + byte(r)
	}
	return 'X'
}

// Check compares the digit at place 9 with the computed one. Where that place cannot hold a check digit, and where another
// region than North America shows no match, the maker does not use one.
func (v VIN) Check() Check {
	c := v[8]
	switch {
	case c == v.CheckDigit():
		return CheckValid
	case !v.northAmerican() && !(c >= '0' && c <= '9' || c == 'X'):
		return CheckNotUsed
	}
	return CheckInvalid
}

func (v VIN) northAmerican() bool { return v[0] >= '1' && v[0] <= '5' }

// Region returns the part of the world that the first character assigns (ISO 3780, from memory).
func (v VIN) Region() string {
	switch c := v[0]; {
	case c >= '1' && c <= '5':
		return "North America"
	case c == '6' || c == '7':
		return "Oceania"
	case c == '8' || c == '9':
		return "South America"
	case c >= 'A' && c <= 'H':
		return "Africa"
	case c >= 'J' && c <= 'R':
		return "Asia"
	case c >= 'S' && c <= 'Z':
		return "Europe"
	}
	return ""
}

// yearCodes are those of place 10 from 1980 on; they come round after 30 years.
const yearCodes = "ABCDEFGHJKLMNPRSTVWXY123456789"

const firstYear = 1980

// ModelYear returns the year that place 10 gives, 0 for a character that is no year code. The code comes round every 30
// years. On light vehicles of the North American scheme a letter at place 7 means 2010 to 2039 and a digit the years
// before. Elsewhere the later year is taken unless it lies after latest; 0 sets no such limit.
func (v VIN) ModelYear(latest int) int {
	i := strings.IndexByte(yearCodes, v[9])
	if i < 0 {
		return 0
	}
	early, late := firstYear+i, firstYear+i+len(yearCodes)
	switch {
	case v.northAmerican() && v[6] >= '0' && v[6] <= '9':
		return early
	case latest > 0 && late > latest:
		return early
	}
	return late
}

// Facts returns what may be kept. latest is the last model year that can exist, 0 if unknown. European makers need not give
// a year at place 10, so one is only told where the check digit shows that the scheme is followed.
func (v VIN) Facts(latest int) Facts {
	f := Facts{Region: v.Region(), Check: v.Check()}
	if v.northAmerican() || f.Check == CheckValid {
		f.ModelYear = v.ModelYear(latest)
	}
	return f
}
