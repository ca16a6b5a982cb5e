package wear

// ruler is the limits as whole numbers of one unit and number of decimals, so
// that each reading is compared exactly, before any rounding, and at once.
type ruler struct {
	unit  Unit
	scale uint8

	above7_8, above10, highEpisode, above13_9, veryHigh, below3_9, below3_0 int64

	lowest, highest int64 // that a sensor can measure
}

// newRuler writes the limits in the unit and with the decimals of r.
func newRuler(r Reading, p *Protocol) ruler {
	in := func(l Limit) int64 { return l.scaled(r.Unit, r.Scale) }
	return ruler{
		unit: r.Unit, scale: r.Scale,
		above7_8: in(Limit7_8), above10: in(Limit10_0), highEpisode: in(p.Flag.HighEpisode), above13_9: in(Limit13_9),
		veryHigh: in(p.Flag.VeryHighReading), below3_9: in(Limit3_9), below3_0: in(Limit3_0),
		lowest: in(p.Believe.LowestPlausible), highest: in(p.Believe.HighestPlausible),
	}
}

// past gives the limits that a reading of the ruler's unit and decimals is
// past. One beyond what the sensor can report is past every limit on its side.
func (l *ruler) past(r Reading) (b past) {
	switch r.Bound {
	case Above:
		return pastAbove7_8 | pastAbove10 | pastHighEpisode | pastAbove13_9 | pastVeryHigh
	case Below:
		return pastBelow3_9 | pastBelow3_0
	}
	// mmol/L is compared in tenths.
	value := r.Num
	if l.unit == MmolL {
		value *= 10
	}
	if value > l.above7_8 {
		b = pastAbove7_8
		if value > l.above10 {
			b |= pastAbove10
		}
		if value >= l.highEpisode {
			b |= pastHighEpisode
		}
		if value > l.above13_9 {
			b |= pastAbove13_9
		}
		if value > l.veryHigh {
			b |= pastVeryHigh
		}
	} else if value < l.below3_9 {
		b = pastBelow3_9
		if value < l.below3_0 {
			b |= pastBelow3_0
		}
	}
	if value < l.lowest || value > l.highest {
		b |= pastPlausible
	}
	return b
}

// over and under compare a value worked out of readings with a limit, in the
// unit of the readings: 70 mg/dL is not under 3.9 although it converts to 3.886.
func (t *trace) over(f Figure, l Limit) bool { return f.OK && f.V > t.limit(l)+hair }

func (t *trace) under(f Figure, l Limit) bool { return f.OK && f.V < t.limit(l)-hair }

// atLeast and atMost compare a value worked out of readings with a limit in the
// same unit: what is equal but for the rounding of a sum or a unit is equal.
func atLeast(v, limit float64) bool { return v >= limit-hair }

func atMost(v, limit float64) bool { return v <= limit+hair }

// limit is a limit in mmol/L, as a file in the unit of this one has it.
func (t *trace) limit(l Limit) float64 {
	if len(t.r) > 0 && t.r[0].Unit == MgdL {
		return MmolFromMgdl(float64(l.Mgdl))
	}
	return l.Mmol()
}

// classify finds the limits that each reading is past, and its value.
func (t *trace) classify(p *Protocol) {
	var l ruler
	for i, r := range t.r {
		if r.Unit != l.unit || r.Scale != l.scale || i == 0 {
			l = newRuler(r, p)
		}
		t.mmol[i] = r.Mmol()
		if r.Bound != Exact && r.Num == 0 {
			t.mmol[i] = p.Censored.assumed(r)
		}
		t.past[i] = l.past(r)
		t.seen |= t.past[i]
	}
}
