package export

import (
	"strconv"
	"strings"
	"time"

	"wearround/store"
	"wearround/web/delimited"
	"wearround/worker/wear"
)

// csv is the wear as a table of its readings and events, without names.
func (w *Wear) csv() []byte {
	s := delimited.New("time", "utc_offset_basis", "kind", "value", "unit", "bound", "quality", "wear", "minutes", "carbohydrate_g", "words")
	basis, id := "clinic-zone", strconv.FormatInt(w.ID, 10)
	if w.Zone != "" {
		basis = "person-told-us"
	}
	readings, events := w.Readings, w.Events
	for len(readings)+len(events) > 0 {
		if len(events) == 0 || len(readings) > 0 && readings[0].At <= events[0].At {
			r := readings[0]
			readings = readings[1:]
			kind := "auto"
			if r.Mark&wear.MarkOnDemand != 0 {
				kind = "on-demand"
			}
			value, bound := parts(r)
			s.Row(w.at(r.At), basis, kind, value, r.Unit.String(), bound, w.quality(r), id, "", "", "")
			continue
		}
		e := events[0]
		events = events[1:]
		var value, unit, bound string
		if e.Kind == wear.Fingerstick {
			value, bound = parts(e.Value)
			unit = e.Value.Unit.String()
		}
		s.Row(w.at(e.At), basis, string(e.Kind), value, unit, bound, "", id, positive(float64(e.Minutes)), positive(e.Carbs), e.Label)
	}
	return s.Bytes()
}

func (w *Wear) at(seconds int64) string {
	return time.Unix(seconds, 0).In(w.Place).Format(time.RFC3339)
}

// parts are the digits of a reading as recorded, and its bound.
func parts(r wear.Reading) (value, bound string) {
	bound = map[wear.Bound]string{wear.Below: "below", wear.Above: "above"}[r.Bound]
	if r.Bound != wear.Exact && r.Num == 0 {
		return "", bound
	}
	return strings.TrimLeft(r.Text(), "<>"), bound
}

func positive(v float64) string {
	if v <= 0 {
		return ""
	}
	return strconv.FormatFloat(v, 'f', -1, 64)
}

// quality says whether a reading is believed, and why not.
func (w *Wear) quality(r wear.Reading) string {
	if r.Mark&wear.MarkError != 0 {
		return "error"
	}
	for _, s := range w.Report.Suspect {
		if r.At >= s.From.Unix() && r.At <= s.To.Unix() {
			return "suspect: " + s.Kind
		}
	}
	return "ok"
}

// Results is a table of laboratory results.
func Results(codes map[int64]string, list []store.Result) []byte {
	s := delimited.New("patient", "taken", "test", "value", "unit", "criteria", "class", "note", "recorded", "recorded_by", "withdrawn")
	for _, r := range list {
		withdrawn := ""
		if !r.Withdrawn.IsZero() {
			withdrawn = r.Withdrawn.UTC().Format(time.RFC3339)
		}
		s.Row(codes[r.PatientID], r.TakenAt.UTC().Format(time.RFC3339), string(r.Kind), r.Value, r.Unit, r.Criteria, r.Class, r.Note,
			r.At.UTC().Format(time.RFC3339), r.By.Name, withdrawn)
	}
	return s.Bytes()
}

// Wears is a table of wears with their main figures.
func Wears(list []*Wear) []byte {
	s := delimited.New("wear", "patient", "sensor_kind", "start", "end", "unit", "readings", "believed", "captured_pct", "tier", "headline", "confidence",
		"mean_mmol", "sd_mmol", "cv_pct", "above_7_8_pct", "above_10_pct", "above_13_9_pct", "below_3_9_pct", "below_3_0_pct", "engine", "protocol")
	for _, w := range list {
		r, m := w.Report, w.Report.Metrics
		s.Row(strconv.FormatInt(w.ID, 10), w.Patient.Code, w.SensorKind, r.Start.Format(time.RFC3339), r.End.Format(time.RFC3339), r.Unit,
			strconv.Itoa(r.Readings), strconv.Itoa(r.Believed), figure(r.CapturedPct), string(r.Priority.Tier), r.Headline, r.Confidence,
			figure(m.MeanMmol), figure(m.SDMmol), figure(m.CVPct), figure(m.Above7_8Pct), figure(m.Above10Pct), figure(m.Above13_9Pct), figure(m.Below3_9Pct), figure(m.Below3_0Pct), r.Engine, r.Protocol)
	}
	return s.Bytes()
}

// figure is a figure with four decimals, or nothing where it cannot be given.
func figure(f wear.Figure) string {
	if !f.OK {
		return ""
	}
	return strconv.FormatFloat(f.V, 'f', 4, 64)
}
