package quantity

import (
	"math"
	"strings"
	"unicode"
	"unicode/utf8"
)

// unit is one row of the table: SI value = (value + shift) * factor.
type unit struct {
	symbol  string
	base    string
	factor  float64
	shift   float64
	aliases string // further spellings, separated by commas
}

// table holds every unit there is. Factors are exact by definition where one exists: inch 0.0254 m, pound 0.45359237 kg,
// standard gravity 9.80665 m/s2, US gallon 231 cubic inches; a conventional inch of mercury or water is a rounded one.
var table = [...]unit{
	{"ohm", "ohm", 1, 0, "ohms,Ω,R"},
	{"mohm", "ohm", 1e-3, 0, "mohms,m ohm,m ohms,milliohm,milliohms,mΩ"},
	{"kohm", "ohm", 1e3, 0, "kohms,k-ohm,k-ohms,k ohm,k ohms,kΩ,k Ω,kilohm,kilohms,kiloohm,kiloohms,kilo ohm,kilo ohms"},
	{"Mohm", "ohm", 1e6, 0, "M ohm,M ohms,MΩ,M Ω,MOHM,MOHMS,M,megohm,megohms,meg-ohm,meg-ohms,meg ohm,meg ohms,megaohm,megaohms,mega ohm,mega ohms,meg,megs"},
	{"Gohm", "ohm", 1e9, 0, "gohms,g ohm,gΩ,gigohm,gigohms,gigaohm,gigaohms"},
	{"ohm/V", "ohm/V", 1, 0, "ohms/V,Ω/V,ohm per volt,ohms per volt"},
	{"kohm/V", "ohm/V", 1e3, 0, "kohms/V,kΩ/V,kohm per volt,kohms per volt,kilohms per volt"},
	{"Mohm/V", "ohm/V", 1e6, 0, "MΩ/V,Mohm per volt,megohms per volt"},
	{"V", "V", 1, 0, "volt,volts,v dc,v ac,vdc,vac,volts dc,volts ac,volt dc,volt ac,dc volts,ac volts"},
	{"mV", "V", 1e-3, 0, "millivolt,millivolts,mvdc,mv dc,mvac,mv ac"},
	{"kV", "V", 1e3, 0, "kilovolt,kilovolts"},
	{"uV", "V", 1e-6, 0, "µV,μV,microvolt,microvolts"},
	{"A", "A", 1, 0, "amp,amps,ampere,amperes,a dc,a ac,adc"},
	{"mA", "A", 1e-3, 0, "milliamp,milliamps,milliampere,milliamperes"},
	{"uA", "A", 1e-6, 0, "µA,μA,microamp,microamps"},
	{"W", "W", 1, 0, "watt,watts"},
	{"kW", "W", 1e3, 0, "kilowatt,kilowatts"},
	{"hp", "W", 745.69987158227022, 0, "bhp,horsepower"},
	{"Wh", "J", 3600, 0, "watt hours"},
	{"kWh", "J", 3.6e6, 0, "kwhs"},
	{"Ah", "C", 3600, 0, "amp hours,amp-hours"},
	{"mAh", "C", 3.6, 0, ""},
	{"Pa", "Pa", 1, 0, "pascal,pascals"},
	{"hPa", "Pa", 1e2, 0, ""},
	{"kPa", "Pa", 1e3, 0, "kilopascal,kilopascals"},
	{"MPa", "Pa", 1e6, 0, "megapascal,megapascals"},
	{"bar", "Pa", 1e5, 0, "bars"},
	{"mbar", "Pa", 1e2, 0, "millibar,millibars"},
	{"psi", "Pa", 6894.757293168361, 0, "psig,lbs/in2,pounds per square inch"},
	{"inHg", "Pa", 3386.389, 0, "in hg,inches hg,inches of mercury,in. hg"},
	{"mmHg", "Pa", 133.322387415, 0, "mm hg"},
	{"inH2O", "Pa", 249.08891, 0, "in h2o,inches of water column,inches wc,in wc,iwc"},
	{"°C", "K", 1, 273.15, "C,deg c,degc,degs c,degrees c,° c,celsius,degrees celsius,ºc,℃"},
	{"°F", "K", 5.0 / 9, 459.67, "F,deg f,degf,degs f,degrees f,° f,fahrenheit,degrees fahrenheit,ºf,℉"},
	{"K", "K", 1, 0, "kelvin"},
	{"%", "1", 0.01, 0, "percent,per cent,pct"},
	{"ppm", "1", 1e-6, 0, ""},
	{"rpm", "1/s", 1.0 / 60, 0, "r/min,rev/min,revs,revs/min,rpms,min-1"},
	{"Hz", "Hz", 1, 0, "hertz"},
	{"kHz", "Hz", 1e3, 0, "kilohertz"},
	{"MHz", "Hz", 1e6, 0, "megahertz"},
	{"s", "s", 1, 0, "sec,secs,second,seconds"},
	{"ms", "s", 1e-3, 0, "millisecond,milliseconds,msec"},
	{"us", "s", 1e-6, 0, "µs,μs,microsecond,microseconds"},
	{"min", "s", 60, 0, "mins,minute,minutes"},
	{"h", "s", 3600, 0, "hr,hrs,hour,hours"},
	{"d", "s", 86400, 0, "day,days"},
	{"wk", "s", 604800, 0, "week,weeks,wks"},
	{"m", "m", 1, 0, "metre,metres,meter,meters"},
	{"km", "m", 1e3, 0, "kms,kilometre,kilometres,kilometer,kilometers"},
	{"cm", "m", 1e-2, 0, "centimetre,centimetres,centimeter,centimeters"},
	{"mm", "m", 1e-3, 0, "millimetre,millimetres,millimeter,millimeters"},
	{"um", "m", 1e-6, 0, "µm,μm,micron,microns"},
	{"mi", "m", 1609.344, 0, "mile,miles"},
	{"ft", "m", 0.3048, 0, "foot,feet"},
	{"in", "m", 0.0254, 0, "inch,inches"},
	{"thou", "m", 2.54e-5, 0, ""},
	{"mm2", "m2", 1e-6, 0, "mm²,sq mm,sqmm,square mm,square millimetres,square millimeters"},
	{"m/s", "m/s", 1, 0, ""},
	{"km/h", "m/s", 1 / 3.6, 0, "kmh,kph,km/hr"},
	{"mph", "m/s", 0.44704, 0, ""},
	{"L", "m3", 1e-3, 0, "litre,litres,liter,liters,ltr,ltrs"},
	{"mL", "m3", 1e-6, 0, "millilitre,millilitres,milliliter,milliliters,cc"},
	{"gal", "m3", 0.003785411784, 0, "gallon,gallons"},
	{"L/min", "m3/s", 1e-3 / 60, 0, "lpm,l/m,litre per minute,liter per minute,litre/min,liter/min,litre a minute,liter a minute,litres per minute,liters per minute,litres/min,liters/min,litres a minute,liters a minute"},
	{"L/h", "m3/s", 1e-3 / 3600, 0, "lph,l/hr,litres per hour,liters per hour"},
	{"gpm", "m3/s", 0.003785411784 / 60, 0, "gal/min"},
	{"m3/h", "m3/s", 1.0 / 3600, 0, "m³/h,m3/hr"},
	{"g/s", "kg/s", 1e-3, 0, "gps,grams/s,grams per second"},
	{"kg/h", "kg/s", 1.0 / 3600, 0, "kg/hr,kilograms per hour"},
	{"cfm", "m3/s", 0.028316846592 / 60, 0, "cubic feet per minute"},
	{"Nm", "N m", 1, 0, "n m,n·m,n-m,newton metre,newton metres,newton meter,newton meters"},
	{"ft-lb", "N m", 1.3558179483314004, 0, "ft-lbs,ft lb,ft lbs,ftlb,ftlbs,lb-ft,lb ft,lbft,lbs-ft,foot pounds,foot-pounds"},
	{"in-lb", "N m", 0.1129848290276167, 0, "in-lbs,in lb,in lbs,inch pounds,inch-pounds"},
	{"kg", "kg", 1, 0, "kgs,kilo,kilos,kilogram,kilograms"},
	{"g", "kg", 1e-3, 0, "gram,grams"},
	{"mg", "kg", 1e-6, 0, "milligram,milligrams"},
	{"lb", "kg", 0.45359237, 0, "lbs,pound,pounds"},
	{"oz", "kg", 0.028349523125, 0, "ounce,ounces"},
	{"mF", "F", 1e-3, 0, "millifarad,millifarads"},
	{"uF", "F", 1e-6, 0, "µF,μF,mfd,microfarad,microfarads"},
	{"nF", "F", 1e-9, 0, "nanofarad,nanofarads"},
	{"pF", "F", 1e-12, 0, "picofarad,picofarads"},
	{"mH", "H", 1e-3, 0, "millihenry,millihenries"},
	{"uH", "H", 1e-6, 0, "µH,μH,microhenry,microhenries"},
	{"°", "rad", math.Pi / 180, 0, "deg,degs,degree,degrees,º"},
	{"rad", "rad", 1, 0, "radian,radians"},
	{"lambda", "lambda", 1, 0, "λ"},
	{"g/km", "kg/m", 1e-6, 0, ""},
}

func bySymbol(symbol string) (unit, bool) {
	for _, u := range table {
		if u.symbol == symbol {
			return u, true
		}
	}
	return unit{}, false
}

// spelling is one way to write a unit.
type spelling struct {
	text string
	unit unit
}

// spellings is the table by spelling, the aliases taken apart.
var spellings = allSpellings()

func allSpellings() []spelling {
	var out []spelling
	for _, u := range table {
		out = append(out, spelling{u.symbol, u})
		for alias := range strings.SplitSeq(u.aliases, ",") {
			if alias != "" {
				out = append(out, spelling{alias, u})
			}
		}
	}
	return out
}

// unitAt returns the unit that text begins with, and how many bytes it takes. The longest spelling wins, and among equals
// the one in the right case: MPa and mPa, Mohm and mohm differ by nothing else.
func unitAt(text string) (u unit, size int, ok bool) {
	best := 0
	for _, s := range spellings {
		n, exact := spelled(text, s.text)
		rank := 2 * n
		if exact {
			rank++
		}
		if n > 0 && rank > best {
			best, u, size = rank, s.unit, n
		}
	}
	return u, size, best > 0
}

// spelled returns how many bytes of text spell s as a whole word, 0 if they do not, and whether in the same case. A lone
// capital never stands for a small letter: M is no metre, H no hour.
func spelled(text, s string) (size int, exact bool) {
	exact = true
	rest := text
	for _, want := range s {
		got, n := utf8.DecodeRuneInString(rest)
		if n == 0 {
			return 0, false
		}
		if plain(got) != plain(want) {
			exact = false
			if unicode.ToLower(plain(got)) != unicode.ToLower(plain(want)) || len(s) == 1 && unicode.IsUpper(got) {
				return 0, false
			}
		}
		rest = rest[n:]
	}
	last, _ := utf8.DecodeLastRuneInString(s)
	if unicode.IsLetter(last) || unicode.IsDigit(last) {
		next, _ := utf8.DecodeRuneInString(rest)
		if unicode.IsLetter(next) || unicode.IsDigit(next) {
			return 0, false
		}
	}
	return len(text) - len(rest), exact
}

// plain folds the second signs for ohm and micro.
func plain(r rune) rune {
	switch r {
	case '\u2126':
		return 'Ω'
	case 'µ', 'μ':
		return 'u'
	}
	return r
}
