package sim

import "math"

// squeeze is the sensor being lain on: readings fall fast, stay down and come
// back fast. In 1125 nights about 3 % of readings were so (J Diabetes Sci
// Technol 2014, doi:10.1177/1932296814553267); shape and depth are ours.
type squeeze struct {
	span
	ramp  int     // minutes down, and up again
	depth float64 // mmol/L
}

// at is how much the squeeze takes off at a minute.
func (q squeeze) at(m int) float64 {
	if !q.has(m) {
		return 0
	}
	edge := float64(min(m-q.from+1, q.to-m)) / float64(q.ramp)
	return q.depth * min(1, edge)
}

// faults are everything that goes wrong with one sensor.
type faults struct {
	squeezes []squeeze
	spikes   map[int]float64 // minute to mmol/L added
	flats    []span
	gaps     []span
	misses   map[int]bool // single readings not sent

	lowStart float64 // factor on every reading, 0 where the sensor is sound
	tailFrom int     // minute from which the sensor fails, 0 for never
	tailOver int     // minutes over which it does
	tailEnd  float64 // factor it ends at
}

// newFaults invents what goes wrong between two minutes of a wear of a kind,
// read every interval minutes.
func newFaults(c chance, k Kind, d *diary, from, to, interval int) *faults {
	f := &faults{spikes: map[int]float64{}, misses: map[int]bool{}}
	days := float64(to-from) / (24 * 60)
	moment := func() int { return from + c.IntN(max(1, (to-from)/interval))*interval }

	lies := 0.04
	if k == PressureDips {
		lies = c.between(0.55, 0.85)
	}
	for _, night := range d.sleeps {
		if !c.happens(lies) {
			continue
		}
		f.lieOn(c, night)
		if k == PressureDips && c.happens(0.4) {
			f.lieOn(c, night)
		}
	}
	for range int(days * c.between(0, 0.15)) {
		size := c.between(2.8, 5)
		if c.happens(0.3) {
			size = -size / 2
		}
		f.spikes[moment()] = size
	}
	if c.happens(0.06) {
		at := moment()
		f.flats = append(f.flats, span{at, at + c.minutes(120, 360)})
	}
	for range int(days * c.between(0, 0.8)) {
		at := moment()
		f.gaps = append(f.gaps, span{at, at + c.minutes(15, 100)})
	}
	if c.happens(0.12) { // out of reach of the phone or reader
		at := moment()
		f.gaps = append(f.gaps, span{at, at + c.minutes(240, 720)})
	}
	for range (to - from) / interval / 300 {
		f.misses[moment()] = true
	}
	if k == FailedSensor {
		f.fail(c, from, to)
	}
	return f
}

// lieOn puts a squeeze somewhere in a night.
func (f *faults) lieOn(c chance, night span) {
	length := c.minutes(25, 95)
	begin := night.from + 45 + c.IntN(max(1, night.to-night.from-length-90))
	f.squeezes = append(f.squeezes, squeeze{span{begin, begin + length}, c.minutes(6, 9), c.between(1.9, 2.9)})
}

// fail chooses how a sensor fails: reading far too low from the start, fading
// away over days, or dying quickly.
func (f *faults) fail(c chance, from, to int) {
	length := to - from
	switch c.IntN(3) {
	case 0:
		f.lowStart = c.between(0.42, 0.55)
	case 1:
		f.tailFrom = from + int(float64(length)*c.between(0.35, 0.55))
		f.tailOver = c.minutes(2*24*60, 4*24*60)
		f.tailEnd = c.between(0.35, 0.5)
	default:
		f.tailFrom = from + int(float64(length)*c.between(0.4, 0.7))
		f.tailOver = c.minutes(6*60, 18*60)
		f.tailEnd = c.between(0.3, 0.45)
		// A dying sensor also falls silent more and more often.
		for at := f.tailFrom + f.tailOver; at < to; at += c.minutes(180, 600) {
			f.gaps = append(f.gaps, span{at, at + c.minutes(60, 300)})
		}
	}
}

// sound is the factor of a failing sensor at a minute: 1 while it works.
func (f *faults) sound(m int) float64 {
	if f.lowStart > 0 {
		return f.lowStart
	}
	if f.tailFrom == 0 || m < f.tailFrom {
		return 1
	}
	share := min(1, float64(m-f.tailFrom)/float64(f.tailOver))
	return 1 + (f.tailEnd-1)*share
}

// spoil applies the faults that change a value, and says which one rules.
func (f *faults) spoil(mmol float64, label Artefact, m int) (float64, Artefact) {
	if s := f.sound(m); s < 1 {
		mmol *= s
		if f.lowStart > 0 {
			label = LowStart
		} else if s < 0.85 { // further off than a sensor may be: 15 %, ISO 15197:2013
			label = Tail
		}
	}
	for _, q := range f.squeezes {
		if less := q.at(m); less > 0 {
			// A squeezed sensor still reads something.
			mmol = max(mmol-less, math.Min(mmol, 2.3))
			label = Pressure
		}
	}
	if more, ok := f.spikes[m]; ok {
		mmol += more
		label = Spike
	}
	return mmol, label
}

// flat reports whether the sensor repeats one value at a minute.
func (f *faults) flat(m int) bool { return within(f.flats, m) }

// lost reports whether no reading comes at a minute.
func (f *faults) lost(m int) bool { return f.misses[m] || within(f.gaps, m) }

func within(spans []span, m int) bool {
	for _, s := range spans {
		if s.has(m) {
			return true
		}
	}
	return false
}
