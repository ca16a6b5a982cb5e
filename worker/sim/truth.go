package sim

import (
	"time"

	"wearround/worker/wear"
)

// Kind is what is really so of a wear: what a perfect reader of its file would
// conclude.
type Kind string

// Kinds of wear.
const (
	Unremarkable  Kind = "unremarkable"
	Drifting      Kind = "drifting"       // early dysglycaemia: above 7.8 for much of most days
	FrequentPeaks Kind = "frequent_peaks" // near normal fasting, above 10 after many meals
	ReactiveDips  Kind = "reactive_dips"  // high rise, then a dip below 3.9 with symptoms
	PressureDips  Kind = "pressure_dips"  // unremarkable blood, false lows from lying on the sensor
	FailedSensor  Kind = "failed_sensor"  // unremarkable blood, a sensor that cannot be believed
	ShortWear     Kind = "short_wear"     // unremarkable blood, a wear of two to six days
	MedicineLows  Kind = "medicine_lows"  // on a sulfonylurea, with true lows
	VeryHigh      Kind = "very_high"      // untreated diabetes
)

// Kinds lists every kind, the commonest first.
func Kinds() []Kind {
	return []Kind{Unremarkable, Drifting, FrequentPeaks, ReactiveDips, PressureDips,
		FailedSensor, ShortWear, MedicineLows, VeryHigh}
}

// Artefact is the fault that spoilt a reading; [Clean] where none did. The
// texts are those of the engine's suspect stretches where it has the same one.
type Artefact string

// Artefacts.
const (
	Clean    Artefact = ""
	FirstDay Artefact = "first_day" // more than 0.3 mmol/L off while the sensor settles
	Pressure Artefact = wear.SuspectPressure
	Spike    Artefact = wear.SuspectSpike
	Flat     Artefact = wear.SuspectFlat
	LowStart Artefact = wear.SuspectLowStart
	Tail     Artefact = wear.SuspectTail
)

// Truth is what the file does not say. Its slices run beside [Wear.Readings].
type Truth struct {
	Artefact []Artefact
	Plasma   []float64 // plasma glucose at the moment of the reading, mmol/L
	Unspoilt []float64 // what the sensor would have shown without any fault, mmol/L
}

// Wear is one invented wear.
type Wear struct {
	Person   Person
	Kind     Kind
	Sensor   string // opaque code of the sensor kind: "A", "B" or "C"
	Unit     wear.Unit
	Interval time.Duration
	Zone     *time.Location
	Layout   Layout // the arrangement its file would have

	// Readings are in order of time, on whole minutes. One out of the sensor's
	// range carries the limit; a [Layout] that writes a word for it loses that.
	Readings []wear.Reading
	Events   []wear.Event // what the wearer logged, in order of time
	Truth    Truth
}
