package wear

import "strings"

// exercise gives what glucose did in each logged bout and in the two hours
// after it, against the half hour before. Hard exercise can lift glucose for a
// while and moderate exercise lowers it a little; neither is a meal's doing.
func (t *trace) exercise(in *Input) []ExerciseFig {
	p := &in.Protocol.Exercise
	figures := make([]ExerciseFig, 0, 4)
	for _, e := range in.Events {
		if e.Kind != Exercise || !t.covers(e.At) {
			continue
		}
		f := ExerciseFig{At: t.cal.time(e.At), Label: strings.TrimSpace(e.Label), Minutes: max(0, e.Minutes)}
		f.BeforeMmol = t.meanBetween(e.At-seconds(p.BeforeMinutes*60), e.At)
		_, until := bout(e, p)
		f.LowestMmol, f.HighestMmol = t.leastBetween(e.At, until), t.mostBetween(e.At, until)
		figures = append(figures, f)
	}
	return figures
}

// bout is the time that a bout of exercise has its hand in, in seconds.
func bout(e Event, p *ExerciseRules) (from, until int64) {
	minutes := float64(e.Minutes)
	if e.Minutes <= 0 {
		minutes = p.UsualMinutes
	}
	return e.At, e.At + seconds((minutes+p.AfterMinutes)*60)
}

// mostBetween is the greatest believed value in [from, to].
func (t *trace) mostBetween(from, to int64) Figure {
	var f Figure
	for i := t.from(from); i < len(t.r) && t.r[i].At <= to; i++ {
		if t.why[i] == 0 && (!f.OK || t.mmol[i] > f.V) {
			f = Of(t.mmol[i])
		}
	}
	return f
}
