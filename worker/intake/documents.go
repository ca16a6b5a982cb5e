package intake

import (
	"bytes"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"wearround/worker/wear"
)

// documents collects what the health records of one JSON file say.
type documents struct {
	tally
	zone *time.Location

	standards map[string]bool   // "FHIR", "OMH": what the file's documents are
	people    []string          // references of subjects, in order of appearance
	codes     map[string]string // a patient's reference or address, and the code on record
	addresses map[string]bool   // every fullUrl met
	found     []found
	absent    int // values that the file itself says are missing
	spoken    []spoken
	kept      map[string]int // observations kept as words, by their name
	born      []string       // birth dates
	summaries int            // means, shares and other figures over a period
}

// found is one reading or event, before its time is placed and its person known.
type found struct {
	row     int
	subject int // index into documents.people
	when    rowTime
	reading wear.Reading
	event   *wear.Event // nil for a reading
}

// spoken is what the file says in words, of a person and perhaps of a moment.
type spoken struct {
	subject int
	at      rowTime
	text    string
}

func (d *documents) say(subject int, at rowTime, text string) {
	if strings.TrimSpace(text) != "" {
		d.spoken = append(d.spoken, spoken{subject, at, text})
	}
}

// speak gives each person the words that are said of them.
func (d *documents) speak(people []Person) {
	for i := range people {
		p := &people[i]
		f := &facts{readings: p.Readings, unit: d.res.Unit}
		for _, date := range d.born {
			if s := (saying{"born", date}); f.senseOf(s) != isFact {
				f.keep(s.text())
			}
		}
		for _, s := range d.spoken {
			switch {
			case s.subject != i:
			case s.at.ok && s.at.absolute && d.timely(s.at.secs):
				p.Events = append(p.Events, wear.Event{At: s.at.secs, Kind: wear.Note, Label: s.text})
			default:
				f.keep(s.text)
			}
		}
		p.Events = f.speak(p.Events)
	}
}

// number is a JSON number as it is written, so that "6.70" keeps its nought. A
// number in quotes is refused.
type number string

func (n *number) UnmarshalJSON(b []byte) error {
	if len(b) == 0 || b[0] != '-' && (b[0] < '0' || b[0] > '9') {
		return errJSONForm
	}
	*n = number(b)
	return nil
}

// lines reads one document a line.
func (d *documents) lines(data []byte) *wear.Refusal {
	d.note("container", "one JSON document a line", "each line is an object of its own", "values")
	for line := 1; len(data) > 0; line++ {
		text, rest, _ := bytes.Cut(data, []byte("\n"))
		data = rest
		if text = bytes.TrimSpace(text); len(text) == 0 {
			continue
		}
		if len(text) > maxLine {
			return refuseTooBig("a line is longer than 1 MiB")
		}
		s := strictJSON{b: text, seen: make(map[string]bool)}
		err := s.value(0)
		if s.space(); err == nil && s.i < len(text) {
			err = errJSONForm
		}
		if err != nil {
			return refuseJSON(err, line)
		}
		if ref := d.one(text, line, true); ref != nil {
			return ref
		}
	}
	return nil
}

// document reads a file that is one document, or a list of them.
func (d *documents) document(data []byte) *wear.Refusal {
	if data = bytes.TrimSpace(data); data[0] != '[' {
		return d.one(data, 1, false)
	}
	var list []json.RawMessage
	if json.Unmarshal(data, &list) != nil {
		return refuseJSON(errJSONForm, 0)
	}
	for i, raw := range list {
		if ref := d.one(raw, i+1, true); ref != nil {
			return ref
		}
	}
	return nil
}

// one reads one document by its standard. Among others of a known standard, one
// of an unknown kind is listed; alone it is refused.
func (d *documents) one(raw []byte, row int, among bool) *wear.Refusal {
	var head struct {
		ResourceType string          `json:"resourceType"`
		Header       json.RawMessage `json:"header"`
		Body         json.RawMessage `json:"body"`
	}
	err := json.Unmarshal(raw, &head)
	switch {
	case err == nil && head.ResourceType != "":
		d.standards["FHIR"] = true
		return d.resource(raw, head.ResourceType, row)
	case err == nil && head.Header != nil && head.Body != nil:
		d.standards["Open mHealth"] = true
		d.dataPoint(head.Header, head.Body, row)
		return nil
	case among && len(d.standards) > 0:
		d.res.Rows++
		d.skip(row, "JSON of no known kind")
		return nil
	case err != nil && !json.Valid(raw):
		return refuseJSON(errJSONForm, 0)
	}
	return refuse("json", "The file is JSON, but no health record of a kind that is read here.", exportAsText)
}

// skip lists a row that ought to have been read.
func (d *documents) skip(row int, why string) {
	d.leaveOut(row, why)
	d.cannotRead(row, why)
}

// subject gives the number of the person that a reference names.
func (d *documents) subject(reference string) int {
	if i := slices.Index(d.people, reference); i >= 0 {
		return i
	}
	if len(d.people) == maxPeople {
		return maxPeople - 1 // refused in the end
	}
	d.people = append(d.people, reference)
	return len(d.people) - 1
}

// moment reads a date with a clock. Without an offset it waits for a question.
func (d *documents) moment(text string) (rowTime, bool) {
	st, ok := parseStamp(text)
	if !ok || st.form != yearFirst || st.secs < 0 {
		return rowTime{}, false
	}
	t := st.at(orders[0])
	return t, t.ok
}

// place puts a reading on the list if its value can be one.
func (d *documents) place(row, subject int, at rowTime, r wear.Reading) bool {
	if r.Bound == wear.Exact && !plausible(r.Native(), r.Unit) {
		d.skip(row, "a value that cannot be glucose in "+r.Unit.String())
		return false
	}
	d.found = append(d.found, found{row: row, subject: subject, when: at, reading: r})
	return true
}

// finish places the times, sorts out the people and judges the whole.
func (d *documents) finish() *wear.Refusal {
	standard := strings.Join(slices.Sorted(maps.Keys(d.standards)), " and ")
	d.note("standard", standard, "the documents name their kind", "values")
	times := make([]rowTime, len(d.found))
	for i, f := range d.found {
		times[i] = f.when
	}
	d.unstatedZone(times)
	d.localise(times, d.zone)
	people := make([]Person, len(d.people))
	for i, reference := range d.people {
		people[i].Hint = d.code(reference)
	}
	units := make(map[wear.Unit]int)
	for i, f := range d.found {
		at := times[i].secs
		if !d.timely(at) {
			d.skip(f.row, untimely)
			continue
		}
		p := &people[f.subject]
		if f.event != nil {
			d.eventsOnly++
			f.event.At = at
			if f.event.Kind == wear.Fingerstick {
				f.event.Value.At = at
			}
			p.Events = append(p.Events, *f.event)
			continue
		}
		d.withReading++
		f.reading.At = at
		units[f.reading.Unit]++
		p.Readings = append(p.Readings, f.reading)
	}
	d.res.Unit = wear.MmolL
	if units[wear.MgdL] > units[wear.MmolL] {
		d.res.Unit = wear.MgdL
	}
	d.speak(people)
	people = slices.DeleteFunc(people, func(p Person) bool { return len(p.Readings) == 0 && len(p.Events) == 0 })
	if ref := d.judgeRows(); ref != nil {
		return ref
	}
	return d.share(people)
}

// unstatedZone asks about times without an offset. FHIR forbids them, and Open
// mHealth takes them for UTC, which in a clinic's file is more likely an
// omission.
func (d *documents) unstatedZone(times []rowTime) {
	i := slices.IndexFunc(times, func(t rowTime) bool { return !t.absolute })
	if i < 0 {
		return
	}
	if d.askZone("zone", "Some times do not say in which zone they are. Are they in UTC, or by the clinic's clock?", zoneHint{}, times) != "utc" {
		return
	}
	for i := range times {
		times[i].absolute = true
	}
}

// code is the code that a file gives for a subject's reference.
func (d *documents) code(reference string) string {
	if code, ok := d.codes[reference]; ok {
		return code
	}
	if i := strings.LastIndexByte(reference, '/'); i >= 0 {
		return reference[i+1:]
	}
	if strings.HasPrefix(reference, "urn:") {
		return "" // stands for nothing outside the file
	}
	return reference
}

// nothing says why a file without a reading has none.
func (d *documents) nothing() *wear.Refusal {
	ref := refuseNoReadings()
	switch {
	case d.unreadable > 0:
		return refuse("unreadable_rows", fmt.Sprintf("No value of the file can be read (%s).", strings.Join(d.samples, "; ")),
			"Ask the sender for a file that follows its standard.")
	case len(d.questions) > 0:
		return nil // an answer may give some
	case d.absent > 0:
		ref.Text = fmt.Sprintf("The file marks its %d value(s) as missing and holds no sensor reading: nothing to judge.", d.absent)
	case d.summaries > 0:
		ref.Text = fmt.Sprintf("The file holds %d summary figure(s) and no sensor reading: nothing to judge.", d.summaries)
		ref.ToDo = "Export the readings themselves and drop that file."
	case d.eventsOnly > 0:
		ref.Text = fmt.Sprintf("The file holds %d event(s) and no sensor reading: nothing to judge.", d.eventsOnly)
	}
	return ref
}
