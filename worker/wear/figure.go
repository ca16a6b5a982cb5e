package wear

import (
	"errors"
	"math"
	"strconv"
)

// Figure is a number that may not be available. "Not enough data" is a value
// of its own, so that it can never be mistaken for zero.
type Figure struct {
	V  float64
	OK bool
}

// Of makes an available figure; a value that is not finite is not available.
func Of(v float64) Figure {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return Figure{}
	}
	return Figure{v, true}
}

// Fixed writes the figure with n decimals, rounded half away from zero, or a
// dash where it is not available.
func (f Figure) Fixed(n int) string {
	if !f.OK {
		return "–"
	}
	return FormatHalfUp(f.V, n)
}

// FormatHalfUp rounds half away from zero at n decimals (0 to 9). A value
// within 1e-9 of a tie counts as the tie, so that 13.35 prints as 13.4 although
// its binary form lies just under.
func FormatHalfUp(v float64, n int) string {
	p := math.Pow(10, float64(n))
	r := math.Floor(math.Abs(v)*p+0.5+1e-9) / p
	if v < 0 && r != 0 {
		r = -r
	}
	return strconv.FormatFloat(r, 'f', n, 64)
}

// MarshalJSON writes the number rounded to six decimals, or null.
func (f Figure) MarshalJSON() ([]byte, error) {
	if !f.OK {
		return []byte("null"), nil
	}
	r := f.V
	if math.Abs(r) < 1e15 { // beyond, a float has no six decimals to round
		r = math.Round(r*1e6) / 1e6
	}
	if r == 0 {
		r = 0 // no minus sign on zero
	}
	return strconv.AppendFloat(nil, r, 'f', -1, 64), nil
}

// UnmarshalJSON reads what [Figure.MarshalJSON] writes.
func (f *Figure) UnmarshalJSON(b []byte) error {
	if string(b) == "null" {
		*f = Figure{}
		return nil
	}
	v, err := strconv.ParseFloat(string(b), 64)
	if err != nil {
		return errors.New("wear: a figure must be a number or null")
	}
	*f = Of(v)
	return nil
}
