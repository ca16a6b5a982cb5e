package wear

import (
	"strconv"
	"strings"
)

// Unit is the unit a glucose value was recorded in. It is kept with every
// reading because limits are compared in the recorded unit (see [Limit]).
type Unit uint8

// The two units glucose is reported in.
const (
	UnitUnknown Unit = iota
	MmolL            // millimoles per litre
	MgdL             // milligrams per decilitre
)

// MgdlPerMmol is the number of mg/dL in one mmol/L of glucose: the molar mass
// of C6H12O6, 180.156 g/mol, divided by ten. Source: IUPAC standard atomic
// weights (6 × 12.011 + 12 × 1.008 + 6 × 15.999). The common 18 and 18.0182
// misprint published pairs such as 100 mg/dL = 5.6 and 300 mg/dL = 16.7.
const MgdlPerMmol = 18.0156

// String gives the unit as it is written for people and in JSON.
func (u Unit) String() string {
	switch u {
	case MmolL:
		return "mmol/L"
	case MgdL:
		return "mg/dL"
	}
	return "unknown"
}

// ParseUnit reads the two spellings that [Unit.String] writes.
func ParseUnit(s string) Unit {
	switch s {
	case "mmol/L":
		return MmolL
	case "mg/dL":
		return MgdL
	}
	return UnitUnknown
}

// Bound says whether a reading is a measurement or only a limit: sensors write
// "low" or "high" where the value lies outside what they can report.
type Bound uint8

// Kinds of bound.
const (
	Exact Bound = iota // a measured value
	Below              // at or below what the sensor can report
	Above              // at or above what the sensor can report
)

// Mark is a set of facts that the file itself states about a reading.
type Mark uint8

// Marks.
const (
	MarkWarmUp   Mark = 1 << iota // the file says the sensor was warming up
	MarkOnDemand                  // taken when the wearer asked, not on the clock; kept out of time-based measures
	MarkError                     // the file says the value is in error
)

// Reading is one sensor value exactly as recorded. The decimal text is
// recoverable: Num is the digits and Scale counts those after the point, so
// "6.70" is Num 670, Scale 2.
type Reading struct {
	At    int64 // seconds since 1970-01-01 UTC
	Num   int64 // value × 10^Scale; for a bare word such as "low", 0
	Scale uint8 // digits after the decimal point, 0 to [MaxScale]
	Unit  Unit
	Bound Bound
	Mark  Mark
}

// MaxDigits and MaxScale bound the decimal text that a Reading can hold, so
// that exact comparison against a [Limit] never overflows.
const (
	MaxDigits = 17
	MaxScale  = 15
)

var pow10 = [MaxScale + 1]int64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15}

// ParseValue reads a plain decimal number: digits, optionally a point and more
// digits, nothing else (no sign, exponent, grouping or spaces), and at most
// [MaxDigits] digits. The caller turns a decimal comma into a point first.
// ok is false for anything else.
func ParseValue(s string) (num int64, scale uint8, ok bool) {
	digits, point := 0, -1
	for i := 0; i < len(s); i++ {
		c := s[i]
		switch {
		case c >= '0' && c <= '9':
			digits++
			if digits > MaxDigits {
				return 0, 0, false
			}
			num = num*10 + int64(c-'0')
		case c == '.' && point < 0 && i > 0 && i < len(s)-1:
			point = i
		default:
			return 0, 0, false
		}
	}
	if digits == 0 {
		return 0, 0, false
	}
	if point >= 0 {
		if len(s)-1-point > MaxScale {
			return 0, 0, false
		}
		scale = uint8(len(s) - 1 - point)
	}
	return num, scale, true
}

// Text gives the recorded decimal text back, with a point as decimal mark. A
// bound is written with its sign ("<2.2"); a bare word gives "low" or "high".
func (r Reading) Text() string {
	if r.Bound != Exact && r.Num == 0 {
		if r.Bound == Below {
			return "low"
		}
		return "high"
	}
	s := strconv.FormatInt(r.Num, 10)
	if n := int(r.Scale); n > 0 {
		if len(s) <= n {
			s = strings.Repeat("0", n-len(s)+1) + s
		}
		s = s[:len(s)-n] + "." + s[len(s)-n:]
	}
	switch r.Bound {
	case Below:
		return "<" + s
	case Above:
		return ">" + s
	}
	return s
}

// Native is the value in its own unit as a float: for sums and drawing, never
// for comparison against a limit.
func (r Reading) Native() float64 {
	if r.Scale == 0 {
		return float64(r.Num)
	}
	return float64(r.Num) / float64(pow10[r.Scale])
}

// Mmol is the value in mmol/L, unrounded: for sums and drawing, never for
// comparison against a limit.
func (r Reading) Mmol() float64 {
	if r.Unit == MgdL {
		return r.Native() / MgdlPerMmol
	}
	return r.Native()
}

// Mgdl is the value in mg/dL, unrounded.
func (r Reading) Mgdl() float64 {
	if r.Unit == MgdL {
		return r.Native()
	}
	return r.Native() * MgdlPerMmol
}

// Limit is one threshold as the published pair of numbers. A reading is
// compared with the number of its own unit, exactly and before any rounding:
// 141 mg/dL is above 140 although it prints as 7.8 mmol/L, and 70 mg/dL is not
// below 70 although it converts to 3.886 mmol/L.
// Source: consensus cut-points, Diabetes Care 2017;40:1631 and 2019;42:1593.
type Limit struct {
	MmolTenths int64 `json:"mmol_tenths"` // tenths of a mmol/L
	Mgdl       int64 `json:"mgdl"`        // whole mg/dL
}

// Published limit pairs.
var (
	Limit3_0  = Limit{30, 54}
	Limit3_9  = Limit{39, 70}
	Limit7_8  = Limit{78, 140}
	Limit10_0 = Limit{100, 180}
	Limit11_1 = Limit{111, 200}
	Limit13_9 = Limit{139, 250}
)

// compare gives -1, 0 or 1 for the recorded number against the limit.
func (l Limit) compare(r Reading) int {
	value, limit := r.Num, l.scaled(r.Unit, r.Scale)
	if r.Unit == MmolL {
		value *= 10
	}
	switch {
	case value < limit:
		return -1
	case value > limit:
		return 1
	}
	return 0
}

// scaled is the limit in the last decimal place of a reading: of its number,
// or in mmol/L of ten times its number.
func (l Limit) scaled(u Unit, scale uint8) int64 {
	if u == MmolL {
		return l.MmolTenths * pow10[scale]
	}
	return l.Mgdl * pow10[scale]
}

// Above reports whether r is strictly above the limit. An upper bound of the
// sensor's range counts as above every limit, a lower bound as above none.
func (l Limit) Above(r Reading) bool {
	return r.Bound == Above || r.Bound == Exact && l.compare(r) > 0
}

// AtLeast is like [Limit.Above] but counts a reading equal to the limit.
func (l Limit) AtLeast(r Reading) bool {
	return r.Bound == Above || r.Bound == Exact && l.compare(r) >= 0
}

// Below reports whether r is strictly below the limit. A lower bound of the
// sensor's range counts as below every limit, an upper bound as below none.
func (l Limit) Below(r Reading) bool {
	return r.Bound == Below || r.Bound == Exact && l.compare(r) < 0
}

// Mmol is the limit in mmol/L.
func (l Limit) Mmol() float64 { return float64(l.MmolTenths) / 10 }

// String writes the limit in mmol/L with one decimal ("7.8").
func (l Limit) String() string {
	return strconv.FormatFloat(l.Mmol(), 'f', 1, 64)
}

// MmolFromMgdl converts mg/dL to mmol/L with [MgdlPerMmol], unrounded.
func MmolFromMgdl(mgdl float64) float64 { return mgdl / MgdlPerMmol }

// MgdlFromMmol converts mmol/L to mg/dL with [MgdlPerMmol], unrounded.
func MgdlFromMmol(mmol float64) float64 { return mmol * MgdlPerMmol }
