package export

import (
	"bytes"
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"strconv"
	"strings"
	"time"

	"wearround/store"
	"wearround/worker/wear"
)

// Systems of codes. Ours are names, not addresses: nothing answers there.
const (
	loinc    = "http://loinc.org"
	ucum     = "http://unitsofmeasure.org"
	profiles = "http://hl7.org/fhir/uv/cgm/StructureDefinition/"
	ours     = "https://wearround.invalid/fhir/CodeSystem/"
	codes    = "https://wearround.invalid/fhir/patient-code"
)

type object = map[string]any

func coding(system, code string) object { return object{"system": system, "code": code} }

func concept(c ...object) object { return object{"coding": c} }

// measured is a quantity with its digits as recorded. The guide for continuous
// glucose monitoring asks for the unit's display in small letters.
func measured(digits, unit string) object {
	return object{"value": json.Number(digits), "unit": strings.ToLower(unit), "system": ucum, "code": unit}
}

// id is an address of a resource that says nothing of a person and is the same
// each time.
func id(parts ...any) string {
	h := sha256.Sum256(fmt.Append(nil, parts...))
	h[6], h[8] = h[6]&0x0f|0x80, h[8]&0x3f|0x80 // a UUID of one's own making (RFC 9562, version 8)
	return fmt.Sprintf("%x-%x-%x-%x-%x", h[0:4], h[4:6], h[6:8], h[8:10], h[10:16])
}

// patientOf is the patient by the practice's code, without name or birth date.
func patientOf(p store.Patient) object {
	return object{
		"resourceType": "Patient", "id": id("patient", p.ID),
		"identifier": []object{{"use": "usual", "system": codes, "value": p.Code}},
	}
}

// resources are the wear in FHIR R4: its patient, readings, events and figures.
func (w *Wear) resources() []object {
	patient := patientOf(w.Patient)
	subject := object{"reference": "Patient/" + patient["id"].(string)}
	list := []object{patient}
	add := func(o object, key ...any) {
		o["resourceType"], o["status"], o["subject"] = "Observation", "final", subject
		o["id"] = id(append([]any{"wear", w.ID}, key...)...)
		list = append(list, o)
	}
	for _, r := range w.Readings {
		add(w.reading(r), "reading", r.At, r.Text(), r.Mark)
	}
	for i, e := range w.Events {
		add(w.event(e), "event", i)
	}
	for _, o := range w.figures() {
		add(o, "figure", fmt.Sprint(o["code"]))
	}
	return list
}

// reading is one reading of the sensor by the profile of its unit. One beyond
// what the sensor can report has a comparator, or no value where it has no number.
func (w *Wear) reading(r wear.Reading) object {
	code, profile := "105272-9", "cgm-sensor-reading-moles-per-volume"
	if r.Unit == wear.MgdL {
		code, profile = "99504-3", "cgm-sensor-reading-mass-per-volume"
	}
	o := object{
		"meta": object{"profile": []string{profiles + profile}},
		"code": concept(coding(loinc, code)), "effectiveDateTime": w.at(r.At),
	}
	bounded(o, r)
	var marks []object
	for _, m := range readingMarks {
		if r.Mark&m.mark != 0 {
			marks = append(marks, coding(ours+"reading-mark", m.code))
		}
	}
	if len(marks) > 0 {
		o["method"] = concept(marks...)
	}
	return o
}

var readingMarks = []struct {
	mark wear.Mark
	code string
}{{wear.MarkWarmUp, "warm-up"}, {wear.MarkOnDemand, "on-demand"}, {wear.MarkError, "error"}}

// bounded writes a value that may only be a limit.
func bounded(o object, r wear.Reading) {
	value, bound := parts(r)
	sign := map[string]string{"below": "<", "above": ">"}[bound]
	if value == "" {
		o["dataAbsentReason"] = concept(coding("http://terminology.hl7.org/CodeSystem/data-absent-reason", "unsupported"))
		o["interpretation"] = []object{concept(coding("http://terminology.hl7.org/CodeSystem/v3-ObservationInterpretation", sign))}
		return
	}
	q := measured(value, r.Unit.String())
	if sign != "" {
		q["comparator"] = sign
	}
	o["valueQuantity"] = q
}

// event is what the wearer logged. A fingerstick has its own code; a symptom
// that of the guide for symptoms.
func (w *Wear) event(e wear.Event) object {
	o := object{"code": concept(coding(ours+"wear-event", string(e.Kind)))}
	switch {
	case e.Kind == wear.Fingerstick && e.Value.Unit == wear.MgdL:
		o["code"] = concept(coding(loinc, "41653-7"))
	case e.Kind == wear.Fingerstick:
		o["code"] = concept(coding(loinc, "14743-9"))
	case e.Kind == wear.Symptom && e.Label != "":
		o["code"] = concept(coding(loinc, "75325-1"))
	}
	if e.Minutes > 0 {
		o["effectivePeriod"] = object{"start": w.at(e.At), "end": w.at(e.At + int64(e.Minutes)*60)}
	} else {
		o["effectiveDateTime"] = w.at(e.At)
	}
	switch {
	case e.Kind == wear.Fingerstick:
		bounded(o, e.Value)
		if e.Label != "" {
			o["note"] = []object{{"text": e.Label}}
		}
	case e.Label != "":
		o["valueCodeableConcept"] = object{"text": e.Label}
	}
	if e.Carbs > 0 {
		o["component"] = []object{{
			"code":          concept(coding(ours+"wear-event", "carbohydrate-estimate")),
			"valueQuantity": measured(strconv.FormatFloat(e.Carbs, 'f', -1, 64), "g"),
		}}
	}
	return o
}

// figures are the main figures over the wear. Those that the guide has a code
// for are by it; time above a limit of one's own has the limit in the message,
// for the published codes are about the ranges of diabetes.
func (w *Wear) figures() []object {
	r := w.Report
	m := r.Metrics
	period := object{"start": r.Start.Format(time.DateOnly), "end": r.End.Format(time.DateOnly)}
	var list []object
	published := func(code, profile, unit string, f wear.Figure) {
		if f.OK {
			list = append(list, object{
				"meta": object{"profile": []string{profiles + profile}},
				"code": concept(coding(loinc, code)), "effectivePeriod": period, "valueQuantity": measured(strconv.FormatFloat(f.V, 'f', 2, 64), unit),
			})
		}
	}
	published("105273-7", "cgm-summary-mean-glucose-moles-per-volume", "mmol/L", m.MeanMmol)
	published("104638-2", "cgm-summary-coefficient-of-variation", "%", m.CVPct)
	published("104637-4", "cgm-summary-sensor-active-percentage", "%", r.CapturedPct)
	for _, x := range []struct {
		code, limit string
		share       wear.Figure
	}{{"time-above", "7.8", m.Above7_8Pct}, {"time-above", "10.0", m.Above10Pct}, {"time-below", "3.9", m.Below3_9Pct}} {
		if x.share.OK {
			list = append(list, object{
				"code": concept(coding(ours+"wear-metric", x.code)), "effectivePeriod": period,
				"component": []object{
					{"code": concept(coding(ours+"wear-metric", "threshold")), "valueQuantity": measured(x.limit, "mmol/L")},
					{"code": concept(coding(ours+"wear-metric", "percent-of-usable-time")), "valueQuantity": measured(strconv.FormatFloat(x.share.V, 'f', 2, 64), "%")},
				},
			})
		}
	}
	return list
}

// labCodes are the LOINC codes of results by kind and unit.
var labCodes = map[store.ResultKind]map[string]string{
	store.HbA1c:    {"mmol/mol": "59261-8", "%": "4548-4"},
	store.Fasting:  {"mmol/L": "14771-0", "mg/dL": "1558-6"},
	store.RandomGl: {"mmol/L": "14749-6", "mg/dL": "2345-7"},
	store.OGTT2h:   {"mmol/L": "14995-5", "mg/dL": "1518-0"},
}

// LabResults are a patient's results that count, as observations of a laboratory.
func LabResults(p store.Patient, list []store.Result) []object {
	patient := patientOf(p)
	if p.Name != "" {
		patient["name"] = []object{{"text": p.Name}}
	}
	if p.BirthDate != "" {
		patient["birthDate"] = p.BirthDate
	}
	out := []object{patient}
	for _, r := range list {
		if !r.Withdrawn.IsZero() {
			continue
		}
		code := concept(coding(ours+"laboratory-test", string(r.Kind)))
		if c := labCodes[r.Kind][r.Unit]; c != "" {
			code = concept(coding(loinc, c), coding(ours+"laboratory-test", string(r.Kind)))
		}
		q := object{"unit": r.Unit, "system": ucum, "code": r.Unit}
		digits := strings.TrimLeft(r.Value, "<>=")
		if sign := strings.TrimSuffix(r.Value, digits); sign != "" {
			q["comparator"] = sign
		}
		q["value"] = json.Number(digits)
		o := object{
			"resourceType": "Observation", "status": "final", "id": id("result", r.ID), "code": code, "subject": object{"reference": "Patient/" + patient["id"].(string)},
			"category":          []object{concept(coding("http://terminology.hl7.org/CodeSystem/observation-category", "laboratory"))},
			"effectiveDateTime": r.TakenAt.UTC().Format(time.RFC3339), "issued": r.At.UTC().Format(time.RFC3339), "valueQuantity": q,
		}
		if r.Note != "" {
			o["note"] = []object{{"text": r.Note}}
		}
		out = append(out, o)
	}
	return out
}

// bundle is a collection of resources, of which the first is the patient.
func bundle(list []object) ([]byte, error) {
	entries := make([]object, len(list))
	address := func(r object) string { return "urn:uuid:" + r["id"].(string) }
	for i, r := range list {
		if s, ok := r["subject"].(object); ok {
			s["reference"] = address(list[0])
		}
		entries[i] = object{"fullUrl": address(r), "resource": r}
	}
	return json.Marshal(object{"resourceType": "Bundle", "type": "collection", "entry": entries})
}

// lines is one resource a line.
func lines(list []object) ([]byte, error) {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	for _, r := range list {
		if err := e.Encode(r); err != nil {
			return nil, err
		}
	}
	return b.Bytes(), nil
}
