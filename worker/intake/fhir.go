package intake

import (
	"cmp"
	"encoding/json"
	"fmt"
	"strings"

	"wearround/worker/wear"
)

// The parts of FHIR R4 (4.0.1) that say something of a wear. Everything else in
// a resource is left alone.
type (
	coding struct {
		System  string `json:"system"`
		Code    string `json:"code"`
		Display string `json:"display"`
	}
	concept struct {
		Coding []coding `json:"coding"`
		Text   string   `json:"text"`
	}
	quantity struct {
		Value      number `json:"value"`
		Comparator string `json:"comparator"`
		System     string `json:"system"`
		Code       string `json:"code"`
		Unit       string `json:"unit"`
	}
	reference struct {
		Reference string `json:"reference"`
	}
	timePeriod struct {
		Start string `json:"start"`
		End   string `json:"end"`
	}
	component struct {
		Code          concept  `json:"code"`
		ValueQuantity quantity `json:"valueQuantity"`
	}
	annotation struct {
		Text string `json:"text"`
	}
	observation struct {
		Status            string            `json:"status"`
		Code              concept           `json:"code"`
		Subject           reference         `json:"subject"`
		DateTime          string            `json:"effectiveDateTime"`
		Instant           string            `json:"effectiveInstant"`
		Period            *timePeriod       `json:"effectivePeriod"`
		Quantity          *quantity         `json:"valueQuantity"`
		Sampled           *sampledData      `json:"valueSampledData"`
		Text              string            `json:"valueString"`
		Concept           concept           `json:"valueCodeableConcept"`
		Absent            *concept          `json:"dataAbsentReason"`
		Interpretation    []concept         `json:"interpretation"`
		Method            concept           `json:"method"`
		Component         []component       `json:"component"`
		Note              []annotation      `json:"note"`
		ModifierExtension []json.RawMessage `json:"modifierExtension"`
	}
	bundle struct {
		Type  string `json:"type"`
		Entry []struct {
			FullURL  string          `json:"fullUrl"`
			Resource json.RawMessage `json:"resource"`
			Request  struct {
				Method string `json:"method"`
			} `json:"request"`
		} `json:"entry"`
	}
	patient struct {
		ID         string `json:"id"`
		BirthDate  string `json:"birthDate"`
		Identifier []struct {
			Use    string `json:"use"`
			System string `json:"system"`
			Value  string `json:"value"`
		} `json:"identifier"`
	}
)

// The code systems whose codes are read.
const (
	systemLOINC = "http://loinc.org"
	systemUCUM  = "http://unitsofmeasure.org"

	// wearEvents ends the address of a system for what wearers log; its codes are
	// the texts of [wear.EventKind].
	wearEvents = "/CodeSystem/wear-event"
)

// observed is what an observation is, by its code.
type observed uint8

const (
	otherObservation observed = iota
	sensorReading
	fingerstickReading
	laboratory
	summary
	symptomReport
	loggedEvent
)

// loincCodes are the codes that tell a reading from what must not be taken for
// one. Source: the HL7 guide for continuous glucose monitoring 1.0.0 and the
// Symptoms guide 1.0.0; fingerstick and laboratory codes from loinc.org.
var loincCodes = map[string]observed{
	"105272-9": sensorReading, "99504-3": sensorReading,
	"14743-9": fingerstickReading, "41653-7": fingerstickReading, "14770-2": fingerstickReading,
	"14749-6": laboratory, "2345-7": laboratory, "77145-1": laboratory, "14771-0": laboratory, "14995-5": laboratory,
	"4548-4": laboratory, "59261-8": laboratory,
	"107931-8": summary, "105273-7": summary, "97507-8": summary, "106793-3": summary,
	"104642-4": summary, "104641-6": summary, "97510-2": summary, "104640-8": summary, "104639-0": summary,
	"97506-0": summary, "104638-2": summary, "104636-6": summary, "104637-4": summary, "104643-2": summary,
	"75325-1": symptomReport,
}

// molarCodes are the codes of readings per volume whose name says moles; the
// other codes of readings say mass.
var molarCodes = map[string]bool{"105272-9": true, "14743-9": true, "14770-2": true}

// kind tells what an observation is, and by which code.
func (c *concept) kind() (observed, string) {
	for _, k := range c.Coding {
		if k.System == systemLOINC && loincCodes[k.Code] != otherObservation {
			return loincCodes[k.Code], k.Code
		}
		if strings.HasSuffix(k.System, wearEvents) && loggedKinds[wear.EventKind(k.Code)] {
			return loggedEvent, k.Code
		}
		if strings.HasSuffix(k.System, "/CodeSystem/wear-metric") {
			return summary, k.Code
		}
	}
	return otherObservation, ""
}

var loggedKinds = map[wear.EventKind]bool{
	wear.Meal: true, wear.Symptom: true, wear.Exercise: true, wear.Sleep: true, wear.Medicine: true, wear.Note: true, wear.Undated: true,
}

// glucose is the unit by its UCUM code; what is displayed does not count.
func (q *quantity) glucose() wear.Unit {
	if q.System != systemUCUM {
		return wear.UnitUnknown
	}
	switch q.Code {
	case "mmol/L", "mmol/l":
		return wear.MmolL
	case "mg/dL", "mg/dl":
		return wear.MgdL
	}
	return wear.UnitUnknown
}

// nationalIDs are systems of identifiers that belong to a person beyond the
// practice. They are never taken as a patient's code.
const nationalIDs = "|http://ns.electronichealth.net.au/id/hi/ihi/1.0|http://ns.electronichealth.net.au/id/medicare-number|http://ns.electronichealth.net.au/id/dva|"

// resource reads one resource of any type.
func (d *documents) resource(raw []byte, kind string, row int) *wear.Refusal {
	switch kind {
	case "Bundle":
		return d.bundle(raw)
	case "Patient":
		d.patient(raw, "")
	case "Observation":
		d.res.Rows++
		var o observation
		if json.Unmarshal(raw, &o) != nil {
			d.skip(row, "an observation that does not follow FHIR R4")
			break
		}
		d.observation(&o, row)
	default:
		d.otherResource(raw, kind)
	}
	return nil
}

// silent are kinds of resources that say nothing of the wearer's state.
const silent = "|Device|Provenance|Organization|Practitioner|PractitionerRole|Location|OperationOutcome|MessageHeader|"

// otherResource keeps what a resource says that is not read, such as a medicine
// or a condition.
func (d *documents) otherResource(raw []byte, kind string) {
	if strings.Contains(silent, "|"+kind+"|") {
		return
	}
	nodes, err := jsonNode(raw)
	if err != nil || len(nodes) != 1 {
		return
	}
	said := nodes[0].said("")
	d.say(0, rowTime{}, kind+": "+strings.Join(said[:min(len(said), 12)], ", "))
}

// said lists the texts of a resource that are written for people.
func (n *node) said(key string) (list []string) {
	switch {
	case n.scalar():
		switch key {
		case "text", "display", "conclusion", "description", "valueString", "reference":
			if n.text != "" && key != "reference" {
				list = append(list, n.text)
			}
		}
	case n.list:
		for i := range n.kids {
			list = append(list, n.kids[i].said(key)...)
		}
	default:
		for i := range n.kids {
			if n.keys[i] != "subject" && n.keys[i] != "patient" && n.keys[i] != "performer" {
				list = append(list, n.kids[i].said(n.keys[i])...)
			}
		}
	}
	return list
}

// says is the value of an observation that is no reading, with what it is of.
func (o *observation) says() string {
	name := o.Code.Text
	for _, c := range o.Code.Coding {
		name = cmp.Or(name, c.Display, c.Code)
	}
	value := cmp.Or(o.Text, o.Concept.Text)
	for _, c := range o.Concept.Coding {
		value = cmp.Or(value, c.Display, c.Code)
	}
	if q := o.Quantity; q != nil {
		value = strings.TrimSpace(q.Comparator + string(q.Value) + " " + cmp.Or(q.Unit, q.Code))
	}
	for _, c := range o.Component {
		value = join(value, strings.TrimSpace(c.Code.Text+" "+string(c.ValueQuantity.Value)+" "+cmp.Or(c.ValueQuantity.Unit, c.ValueQuantity.Code)))
	}
	if o.Sampled != nil {
		value = join(value, "a series of values")
	}
	for _, n := range o.Note {
		value = join(value, n.Text)
	}
	return saying{name, value}.text()
}

// bundle reads every entry. Patients come first, so that references to them
// can be told wherever they stand.
func (d *documents) bundle(raw []byte) *wear.Refusal {
	var b bundle
	if json.Unmarshal(raw, &b) != nil {
		return refuse("json", "The file is a FHIR bundle, but not one that follows FHIR R4.", exportAsText)
	}
	switch b.Type {
	case "collection", "transaction", "batch", "searchset":
	default:
		if d.ask("bundle", fmt.Sprintf("The file is a FHIR bundle of type %q, which may not be a list of readings. May its readings be filed?", short(b.Type)),
			wear.Choice{Value: "file", Text: "Yes, file them", Effect: fmt.Sprintf("%d entries would be read", len(b.Entry))},
			wear.Choice{Value: "stop", Text: "No, or not known", Effect: "the file stays out"}) == "stop" {
			return refuse("bundle", "The file is a FHIR bundle of a kind that is not for passing on readings.", "Ask the sender for a bundle of type collection.")
		}
	}
	types := make([]string, len(b.Entry))
	for i, e := range b.Entry {
		var head struct {
			ResourceType string `json:"resourceType"`
		}
		if e.FullURL != "" {
			if d.addresses[e.FullURL] {
				return refuse("json_keys", "Two entries of the FHIR bundle have the same address, so one would hide the other.", "Ask the sender for a bundle in which each entry has an address of its own.")
			}
			d.addresses[e.FullURL] = true
		}
		if json.Unmarshal(e.Resource, &head) == nil {
			types[i] = head.ResourceType
		}
		if types[i] == "Patient" {
			d.patient(e.Resource, e.FullURL)
		}
	}
	for i, e := range b.Entry {
		if m := e.Request.Method; types[i] == "Observation" && m != "" && m != "POST" && m != "PUT" {
			d.res.Rows++
			d.skip(i+1, "an entry that asks for something else than to be stored")
			continue
		}
		switch types[i] {
		case "Observation":
			d.resource(e.Resource, types[i], i+1)
		case "Bundle":
			d.res.Rows++
			d.skip(i+1, "a bundle inside a bundle")
		case "Patient", "":
		default:
			d.otherResource(e.Resource, types[i])
		}
	}
	return nil
}

// patient remembers the code that a patient's record carries.
func (d *documents) patient(raw []byte, address string) {
	var p patient
	if json.Unmarshal(raw, &p) != nil {
		return
	}
	if p.BirthDate != "" {
		d.born = append(d.born, p.BirthDate)
	}
	code := ""
	for _, id := range p.Identifier {
		if id.Value != "" && !strings.Contains(nationalIDs, "|"+id.System+"|") && (code == "" || id.Use == "usual") {
			code = id.Value
		}
	}
	if code == "" {
		code = p.ID
	}
	if address != "" {
		d.codes[address] = code
	}
	if p.ID != "" {
		d.codes["Patient/"+p.ID] = code
	}
}

// observation reads one observation.
func (d *documents) observation(o *observation, row int) {
	kind, code := o.Code.kind()
	switch {
	case len(o.ModifierExtension) > 0:
		d.skip(row, "an extension that changes its meaning")
		return
	case o.Status == "entered-in-error" || o.Status == "cancelled":
		d.leaveOut(row, "its status is "+o.Status)
		return
	case kind == laboratory:
		d.leaveOut(row, "a laboratory value, not a sensor's reading: kept as words")
		d.sayOf(o)
		return
	case kind == summary:
		d.summaries++
		d.leaveOut(row, "a figure over a period, not a reading")
		return
	case kind == otherObservation:
		d.leaveOut(row, "an observation that is no reading: kept as words")
		d.sayOf(o)
		return
	case !d.settled(o.Status, row):
		return
	}
	subject := d.subject(o.Subject.Reference)
	if o.Sampled != nil && kind == sensorReading {
		d.res.Rows-- // each of its values counts
		d.series(o, subject, row)
		return
	}
	at, ok := d.moment(o.moment())
	switch {
	case o.Absent != nil && o.Quantity == nil && ok && o.offScale() != wear.Exact && (kind == sensorReading || kind == fingerstickReading):
		r := wear.Reading{Unit: wear.MgdL, Bound: o.offScale(), Mark: o.marks()}
		if molarCodes[code] {
			r.Unit = wear.MmolL
		}
		d.reading(row, subject, at, r, kind == fingerstickReading, o.words())
	case o.Absent != nil && o.Quantity == nil && (kind == sensorReading || kind == fingerstickReading):
		d.absent++
		d.leaveOut(row, "the file marks the value as missing")
	case !ok:
		d.skip(row, "no moment that can be read")
	case kind == sensorReading || kind == fingerstickReading:
		d.measured(o, kind, code, subject, row, at)
	default:
		e := o.event(kind, code)
		if to, ok := d.moment(o.end()); ok && to.secs > at.secs {
			e.Minutes = int(min((to.secs-at.secs)/60, maxMinutes))
		}
		d.found = append(d.found, found{row: row, subject: subject, when: at, event: e})
	}
}

// sayOf keeps an observation as words, the first of a kind one by one.
func (d *documents) sayOf(o *observation) {
	name, _, _ := strings.Cut(o.says(), ":")
	if d.kept == nil {
		d.kept = make(map[string]int)
	}
	subject := d.subject(o.Subject.Reference)
	d.kept[name]++
	switch n := d.kept[name]; {
	case n <= mostQuantities:
		at, _ := d.moment(o.moment())
		d.say(subject, at, o.says())
	case n == mostQuantities+1:
		d.say(subject, rowTime{}, name+": more than "+fmt.Sprint(mostQuantities)+" values, of which the first stand here")
	}
}

// settled reports whether a resource counts as final; others wait for a person.
func (d *documents) settled(status string, row int) bool {
	switch status {
	case "final", "amended", "corrected":
		return true
	case "preliminary", "registered", "unknown":
	default:
		d.skip(row, "a status that FHIR R4 does not have")
		return false
	}
	if d.ask("status", fmt.Sprintf("Some values are marked %q, so they may still change. May they be filed?", status),
		wear.Choice{Value: "file", Text: "Yes, file them", Effect: "they count like all others"},
		wear.Choice{Value: "leave_out", Text: "No, leave them out", Effect: "they are listed and not used"}) == "file" {
		return true
	}
	d.leaveOut(row, "its status is "+status)
	return false
}

func (o *observation) moment() string {
	switch {
	case o.DateTime != "":
		return o.DateTime
	case o.Instant != "":
		return o.Instant
	case o.Period != nil:
		return o.Period.Start
	}
	return ""
}

func (o *observation) end() string {
	if o.Period == nil {
		return ""
	}
	return o.Period.End
}

// series reads an observation whose value is a run of readings.
func (d *documents) series(o *observation, subject, row int) {
	from, ok := d.moment(o.moment())
	if !ok {
		d.res.Rows++
		d.skip(row, "no moment that can be read")
		return
	}
	d.sampled(row, subject, o.Sampled, from, o.end())
}

// measured reads an observation whose value is one reading of a sensor or a
// fingerstick.
func (d *documents) measured(o *observation, kind observed, code string, subject, row int, at rowTime) {
	switch {
	case o.Quantity == nil:
		d.skip(row, "a reading without a value")
		return
	case o.Period != nil && o.DateTime == "" && o.Instant == "":
		d.skip(row, "a value over a period, not of a moment")
		return
	}
	if kind != fingerstickReading { // the words of a fingerstick stay with it
		for _, n := range o.Note {
			d.say(subject, at, n.Text)
		}
	}
	r := wear.Reading{Unit: o.Quantity.glucose(), Mark: o.marks()}
	var ok bool
	if r.Num, r.Scale, ok = wear.ParseValue(string(o.Quantity.Value)); !ok {
		d.skip(row, "a value that is no plain number")
		return
	}
	if r.Unit == wear.UnitUnknown {
		d.skip(row, "a value without the code of a glucose unit")
		return
	}
	if (r.Unit == wear.MmolL) != molarCodes[code] {
		d.otherUnit(&r)
	}
	switch o.Quantity.Comparator {
	case "":
	case "<", "<=":
		r.Bound = wear.Below
	case ">", ">=":
		r.Bound = wear.Above
	default:
		d.skip(row, "a comparator that FHIR R4 does not have")
		return
	}
	d.reading(row, subject, at, r, kind == fingerstickReading, o.words())
}

// offScale tells a value that the sensor could not give a number for because it
// was too low or too high, by the published codes for that.
func (o *observation) offScale() wear.Bound {
	for _, i := range o.Interpretation {
		for _, k := range i.Coding {
			switch {
			case k.System != "http://terminology.hl7.org/CodeSystem/v3-ObservationInterpretation":
			case k.Code == "<":
				return wear.Below
			case k.Code == ">":
				return wear.Above
			}
		}
	}
	return wear.Exact
}

// marks are what the file says of how a reading came about.
func (o *observation) marks() (m wear.Mark) {
	for _, k := range o.Method.Coding {
		if strings.HasSuffix(k.System, "/CodeSystem/reading-mark") {
			m |= map[string]wear.Mark{"warm-up": wear.MarkWarmUp, "on-demand": wear.MarkOnDemand, "error": wear.MarkError}[k.Code]
		}
	}
	return m
}

// words are the notes of an observation.
func (o *observation) words() (text string) {
	for _, n := range o.Note {
		text = join(text, n.Text)
	}
	return text
}

// reading puts a sensor's reading or a fingerstick on the list.
func (d *documents) reading(row, subject int, at rowTime, r wear.Reading, finger bool, label string) {
	if d.place(row, subject, at, r) && finger {
		d.found[len(d.found)-1].event = &wear.Event{Kind: wear.Fingerstick, Value: r, Label: label}
	}
}

// otherUnit asks about a value whose unit is not the one of its code's name.
func (d *documents) otherUnit(r *wear.Reading) {
	stated := r.Unit.String()
	switch d.ask("unit", "The code of the readings and the unit of their values do not agree. Which unit are they in?",
		wear.Choice{Value: stated, Text: stated + ", as the values state", Effect: "the first would be " + r.Text() + " " + stated},
		wear.Choice{Value: other(r.Unit).String(), Text: other(r.Unit).String() + ", as the code says", Effect: "the first would be " + r.Text() + " " + other(r.Unit).String()}) {
	case other(r.Unit).String():
		r.Unit = other(r.Unit)
	}
}

// event is what the wearer logged.
func (o *observation) event(kind observed, code string) *wear.Event {
	e := &wear.Event{Kind: wear.Symptom, Label: cmp.Or(o.Concept.Text, o.Text)}
	if kind == loggedEvent {
		e.Kind = wear.EventKind(code)
	}
	if e.Label == "" && len(o.Concept.Coding) > 0 {
		e.Label = cmp.Or(o.Concept.Coding[0].Display, o.Concept.Coding[0].Code)
	}
	if e.Label == "" {
		e.Label = o.Code.Text
	}
	e.Label = join(e.Label, o.words())
	for _, c := range o.Component {
		if e.Kind == wear.Meal && c.ValueQuantity.System == systemUCUM && c.ValueQuantity.Code == "g" {
			if num, scale, ok := wear.ParseValue(string(c.ValueQuantity.Value)); ok {
				e.Carbs += wear.Reading{Num: num, Scale: scale}.Native()
			}
		}
	}
	return e
}
