package intake

import (
	"fmt"
	"strings"

	"wearround/worker/wear"
)

// sampledData is a run of values at one period, FHIR R4 (4.0.1) data type
// SampledData.
type sampledData struct {
	Origin       quantity `json:"origin"`
	Period       number   `json:"period"` // milliseconds
	Factor       number   `json:"factor"`
	LowerLimit   number   `json:"lowerLimit"`
	UpperLimit   number   `json:"upperLimit"`
	Dimensions   int      `json:"dimensions"`
	Data         string   `json:"data"`
	Interval     number   `json:"interval"` // of the next version of the standard, where it replaces period
	IntervalUnit string   `json:"intervalUnit"`
}

// fixed is an exact decimal: n × 10^-scale.
type fixed struct {
	n     int64
	scale uint8
}

// These bounds keep origin + factor × token exact in 64 bits.
const (
	maxSampleDigits = 7
	maxSampleScale  = 4
)

// fixedOf reads a number in plain notation; a minus is allowed.
func fixedOf(s number) (f fixed, ok bool) {
	text, negative := strings.CutPrefix(string(s), "-")
	if len(text) > maxSampleDigits+1 {
		return f, false
	}
	f.n, f.scale, ok = wear.ParseValue(text)
	if negative {
		f.n = -f.n
	}
	return f, ok && f.scale <= maxSampleScale
}

func (f fixed) times(g fixed) fixed { return fixed{f.n * g.n, f.scale + g.scale} }

func (f fixed) plus(g fixed) fixed {
	for f.scale < g.scale {
		f.n *= 10
		f.scale++
	}
	for g.scale < f.scale {
		g.n *= 10
		g.scale++
	}
	f.n += g.n
	return f
}

// compare gives a negative number, 0 or a positive one.
func (f fixed) compare(g fixed) int64 {
	g.n = -g.n
	return f.plus(g).n
}

// scaled is a value of the series: origin + factor × token.
type scaled struct{ origin, factor fixed }

func (s scaled) of(token fixed) fixed { return s.origin.plus(s.factor.times(token)) }

// limits are the values that L and U stand for.
type limits struct {
	lower, upper       fixed
	hasLower, hasUpper bool
}

// bound reports whether every number of the series lies within the limits.
func (b limits) bound(values []fixed) bool {
	for _, v := range values {
		if b.hasLower && v.compare(b.lower) < 0 || b.hasUpper && v.compare(b.upper) > 0 {
			return false
		}
	}
	return true
}

// sampled reads a run of values that starts at from. end is that of the stated
// period, if any.
func (d *documents) sampled(row, subject int, s *sampledData, from rowTime, end string) {
	unit := s.Origin.glucose()
	period, okPeriod := fixedOf(s.Period)
	origin, okOrigin := fixedOf(s.Origin.Value)
	factor, okFactor := fixed{1, 0}, true
	if s.Factor != "" {
		factor, okFactor = fixedOf(s.Factor)
	}
	bad := ""
	switch {
	case s.Interval != "" || s.IntervalUnit != "":
		bad = "a series in the form of a later version of FHIR"
	case s.Dimensions != 1:
		bad = "a series of more than one dimension"
	case unit == wear.UnitUnknown || !okOrigin:
		bad = "a series without a glucose unit"
	case !okPeriod || period.n <= 0 || !okFactor || factor.n == 0:
		bad = "a series without a period or factor that can be read"
	}
	var lim limits
	if s.LowerLimit != "" {
		lim.lower, lim.hasLower = fixedOf(s.LowerLimit)
	}
	if s.UpperLimit != "" {
		lim.upper, lim.hasUpper = fixedOf(s.UpperLimit)
	}
	tokens := strings.Split(s.Data, " ")
	scale := scaled{origin, factor}
	var raw, values []fixed
	if bad == "" {
		raw, values, bad = samples(tokens, scale, lim)
	}
	if bad == "" && !d.fills(tokens, period, from, end) {
		bad = "a series whose length does not agree with its period"
	}
	if bad != "" {
		d.res.Rows++
		d.skip(row, bad)
		return
	}
	if s.Factor != "" {
		lim = d.whichLimits(row, lim, raw, values, scale)
	}
	d.tokens(row, subject, tokens, scale, lim, unit, from, period)
}

// samples reads the numbers of a series, as written and as scaled.
func samples(tokens []string, scale scaled, lim limits) (raw, values []fixed, bad string) {
	for _, token := range tokens {
		switch token {
		case "E":
		case "":
			return nil, nil, "a series with two spaces in a row or one at its end"
		case "L":
			if !lim.hasLower {
				return nil, nil, "a series with a value below a limit that it does not state"
			}
		case "U":
			if !lim.hasUpper {
				return nil, nil, "a series with a value above a limit that it does not state"
			}
		default:
			f, ok := fixedOf(number(token))
			if !ok {
				return nil, nil, "a series with a value that is no number"
			}
			raw, values = append(raw, f), append(values, scale.of(f))
		}
	}
	return raw, values, ""
}

// fills reports whether the values fill the stated time, one period allowed for.
func (d *documents) fills(tokens []string, period fixed, from rowTime, end string) bool {
	if end == "" {
		return true
	}
	to, ok := d.moment(end)
	if !ok || to.absolute != from.absolute {
		return false
	}
	each := millis(period)
	return abs((to.secs-from.secs)*1000-int64(len(tokens)-1)*each) <= each
}

// millis is a period in whole milliseconds.
func millis(period fixed) int64 { return period.n / max(tenTo(period.scale), 1) }

func tenTo(scale uint8) int64 {
	n := int64(1)
	for range scale {
		n *= 10
	}
	return n
}

// whichLimits settles whether the limits are meant before or after the factor,
// which the standard does not say: by which of the two holds all numbers.
func (d *documents) whichLimits(row int, lim limits, raw, values []fixed, scale scaled) limits {
	before := limits{scale.of(lim.lower), scale.of(lim.upper), lim.hasLower, lim.hasUpper}
	if before == lim || !lim.hasLower && !lim.hasUpper {
		return lim
	}
	switch fitsBefore, fitsAfter := lim.bound(raw), lim.bound(values); {
	case fitsAfter && !fitsBefore:
		d.once("limits", "after the factor", "only so do all values lie within the limits")
	case fitsBefore && !fitsAfter:
		d.once("limits", "before the factor", "only so do all values lie within the limits")
		return before
	default:
		text := func(l limits) string { return fmt.Sprintf("limits %s and %s", l.lower.text(), l.upper.text()) }
		if d.ask("limits", fmt.Sprintf("The series in document %d states limits and a factor. Are the limits meant before or after the factor?", row),
			wear.Choice{Value: "after", Text: "after it: they are glucose values", Effect: text(lim)},
			wear.Choice{Value: "before", Text: "before it: they must be multiplied too", Effect: text(before)}) == "before" {
			return before
		}
	}
	return lim
}

func (f fixed) text() string {
	if f.n < 0 {
		return "-" + fixed{-f.n, f.scale}.text()
	}
	return wear.Reading{Num: f.n, Scale: f.scale}.Text()
}

// tokens turns each value of a series into a reading at its own moment.
func (d *documents) tokens(row, subject int, tokens []string, scale scaled, lim limits, unit wear.Unit, from rowTime, period fixed) {
	each := millis(period)
	for i, token := range tokens {
		d.res.Rows++
		at := from
		at.secs += (int64(i)*each + 500) / 1000
		r := wear.Reading{Unit: unit}
		var v fixed
		switch token {
		case "E":
			d.absent++
			d.leaveOut(row, fmt.Sprintf("value %d of the series is marked as an error", i+1))
			continue
		case "L":
			v, r.Bound = lim.lower, wear.Below
		case "U":
			v, r.Bound = lim.upper, wear.Above
		default:
			f, _ := fixedOf(number(token))
			v = scale.of(f)
		}
		if v.n < 0 || v.scale > wear.MaxScale {
			d.skip(row, "a value that cannot be glucose in "+unit.String())
			continue
		}
		r.Num, r.Scale = v.n, v.scale
		d.place(row, subject, at, r)
	}
}
