package worker

import (
	"context"
	"fmt"
	"slices"
	"time"

	"wearround/store"
	"wearround/worker/wear"
)

// shiftCode is the question asked where the same readings are there already at
// other times: the clock or the zone of one export was wrong.
const shiftCode = "clock_shift"

// mostWears is how many of a patient's wears are compared for a shifted clock,
// the newest first.
const mostWears = 20

// shifts finds the wears of a file whose readings the patient already has at
// other times, and asks which times are right. With the answer it moves one or
// the other, so that they can be joined.
func (w *Worker) shifts(ctx context.Context, j job, p *wearer, before earlier) (*wear.Question, error) {
	there, err := w.store.WearsOf(ctx, p.patient.ID)
	if err != nil {
		return nil, err
	}
	there = slices.DeleteFunc(there, func(s store.WearSummary) bool { _, own := before[s.ID]; return own })
	for _, o := range there[:min(len(there), mostWears)] {
		t, err := w.trace(ctx, o)
		if err != nil {
			return nil, err
		}
		for i := range p.parts {
			part := &p.parts[i]
			if _, _, same, conflicts := wear.Merge(t.readings, part.readings); same > 0 && conflicts*100 <= same+conflicts {
				continue // another export by the same clock
			}
			d, ok := shiftOf(part.readings, t.readings)
			if !ok {
				continue
			}
			switch j.answers[shiftCode] {
			case "earlier":
				*part = part.later(-d)
			case "these":
				moved := t.part().later(d)
				part.moved = append(part.moved, standing{o.ID, trace{readings: moved.readings, events: moved.events, kind: t.kind, zone: t.zone}})
			case "two_sensors":
				part.apart = append(part.apart, o.ID)
			default:
				return w.shiftQuestion(part.readings, d), nil
			}
		}
	}
	return nil, nil
}

func (t trace) part() part { return part{readings: t.readings, events: t.events} }

func (w *Worker) shiftQuestion(readings []wear.Reading, d int64) *wear.Question {
	way := "earlier"
	if d < 0 {
		way = "later"
	}
	first := readings[0].At
	return &wear.Question{
		Code: shiftCode,
		Text: fmt.Sprintf("This patient already has the same readings, all of them exactly %s %s. Which times are right?", span(d), way),
		Choices: []wear.Choice{
			{
				Value: "earlier", Text: "The times filed first", Rows: w.sample(readings, -d),
				Effect: "this file is read by those times and joined; its first reading would be " + w.moment(first-d),
			},
			{
				Value: "these", Text: "The times in this file", Rows: w.sample(readings, 0),
				Effect: "the wear already filed is moved to these times and joined; the first reading here stays " + w.moment(first),
			},
			{Value: "two_sensors", Text: "Both: they are two sensors", Effect: "this file becomes a wear of its own"},
		},
	}
}

// span writes a length of time as people say it: "1 h", "1 h 30 min", "365 days".
func span(seconds int64) string {
	d := time.Duration(max(seconds, -seconds)) * time.Second
	days, hours, minutes := int(d/(24*time.Hour)), int(d/time.Hour)%24, int(d/time.Minute)%60
	text := ""
	add := func(n int, unit string) {
		if n == 0 {
			return
		}
		if text != "" {
			text += " "
		}
		text += fmt.Sprintf("%d %s", n, unit)
	}
	switch {
	case days == 1:
		add(1, "day")
	default:
		add(days, "days")
	}
	add(hours, "h")
	add(minutes, "min")
	add(int(d/time.Second)%60, "s")
	return text
}
