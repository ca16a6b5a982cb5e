package sim

import (
	"math"
	"time"

	"wearround/worker/wear"
)

// sensorKind is what all sensors of one opaque kind share. The kinds differ on
// purpose: two kinds on one arm differ by more than two people do (root mean
// square difference of the mean 0.7 mmol/L, Clin Chem,
// doi:10.1093/clinchem/hvac192). The sizes are ours.
type sensorKind struct {
	interval int     // minutes
	bias     float64 // mmol/L
	noise    float64 // slow noise, share of the value (1 SD)
	jitter   float64 // reading to reading, mmol/L (1 SD)
}

var sensorKinds = map[string]sensorKind{
	"A": {interval: 5, bias: 0.10, noise: 0.06, jitter: 0.06},
	"B": {interval: 15, bias: -0.15, noise: 0.065, jitter: 0.08},
	"C": {interval: 1, bias: 0.30, noise: 0.055, jitter: 0.04},
}

// Range a sensor reports, mmol/L and mg/dL; common practice.
const (
	reportsFromMmol, reportsToMmol = 2.2, 22.2
	reportsFromMgdl, reportsToMgdl = 40, 400
)

// sensor is one sensor on one arm.
type sensor struct {
	sensorKind
	lag       float64 // minutes: blood to tissue 5-6 (Diabetes 2013;62:4083), sensor in all 6-10
	gain      float64
	offset    float64 // mmol/L, of this sensor besides its kind's bias
	firstDay  float64 // mmol/L at the start, fading
	firstFade float64 // hours until it has fallen to a third
}

func newSensor(c chance, kind string) sensor {
	s := sensor{
		sensorKind: sensorKinds[kind],
		lag:        c.between(6, 10), gain: c.factor(0.035), offset: c.normal(0, 0.15),
		firstDay: c.normal(0.15, 0.25), firstFade: c.between(4, 9),
	}
	// Worse accuracy in the first 12 to 24 hours is widely reported; the size is ours.
	if c.happens(0.12) {
		s.firstDay = c.between(0.8, 1.6)
	}
	return s
}

// settling is the error of a first day at an age of the sensor in minutes.
func (s sensor) settling(age int) float64 {
	return s.firstDay * math.Exp(-float64(age)/60/s.firstFade)
}

// read gives the readings of the sensor between two minutes of the diary, and
// the truth beside them.
func (s sensor) read(c chance, d *diary, blood []float64, from, to int, f *faults, unit wear.Unit) ([]wear.Reading, Truth) {
	n := (to-from)/s.interval + 1
	readings := make([]wear.Reading, 0, n)
	truth := Truth{make([]Artefact, 0, n), make([]float64, 0, n), make([]float64, 0, n)}

	// Noise is correlated over about 20 minutes (ours), so that a trace wanders
	// rather than trembles.
	carry := math.Exp(-float64(s.interval) / 20)
	fresh := math.Sqrt(1 - carry*carry)
	tissue, wander, held := blood[0], c.NormFloat64(), 0.0
	for m := range to {
		tissue += (blood[m] - tissue) / s.lag
		if m < from || (m-from)%s.interval != 0 {
			continue
		}
		age := m - from
		wander = carry*wander + fresh*c.NormFloat64()
		seen := tissue*(s.gain+s.noise*wander) + s.bias + s.offset + s.settling(age) + s.jitter*c.NormFloat64()
		label := Clean
		if math.Abs(s.settling(age)) > 0.3 {
			label = FirstDay
		}
		unspoilt := seen
		seen, label = f.spoil(seen, label, m)
		if f.flat(m) {
			if held == 0 {
				held = seen
			}
			seen, label = held, Flat
		} else {
			held = 0
		}
		if f.lost(m) {
			continue
		}
		readings = append(readings, report(d.at(m), seen, unit))
		truth.Artefact = append(truth.Artefact, label)
		truth.Plasma = append(truth.Plasma, blood[m])
		truth.Unspoilt = append(truth.Unspoilt, unspoilt)
	}
	return readings, truth
}

// report writes a value as a sensor does: rounded, and bounded by its range.
func report(at time.Time, mmol float64, unit wear.Unit) wear.Reading {
	r := wear.Reading{At: at.Unix(), Unit: unit}
	lowest, highest, value := int64(reportsFromMgdl), int64(reportsToMgdl), math.Round(mmol*wear.MgdlPerMmol)
	if unit == wear.MmolL {
		r.Scale = 1
		lowest, highest, value = int64(reportsFromMmol*10), int64(reportsToMmol*10), math.Round(mmol*10)
	}
	switch {
	case value < float64(lowest):
		r.Num, r.Bound = lowest, wear.Below
	case value > float64(highest):
		r.Num, r.Bound = highest, wear.Above
	default:
		r.Num = int64(value)
	}
	return r
}
