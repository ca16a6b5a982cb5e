package intake

import (
	"bytes"
	"encoding/json"

	"wearround/worker/wear"
)

// The parts of an Open mHealth data point that say something of a wear. The
// header is that of IEEE 1752.1 (with uuid) or the older one (with id).
type (
	pointHeader struct {
		UUID   string `json:"uuid"`
		ID     string `json:"id"`
		UserID string `json:"user_id"`
		Schema struct {
			Namespace string `json:"namespace"`
			Name      string `json:"name"`
		} `json:"schema_id"`
	}
	pointBody struct {
		Glucose *struct {
			Value number `json:"value"`
			Unit  string `json:"unit"`
		} `json:"blood_glucose"`
		Frame struct {
			DateTime string          `json:"date_time"`
			Interval json.RawMessage `json:"time_interval"`
		} `json:"effective_time_frame"`
		Specimen  string `json:"specimen_source"`
		Statistic string `json:"descriptive_statistic"`
		Meal      string `json:"temporal_relationship_to_meal"`
	}
)

// dataPoint reads a data point, or a series of them under one header. Source:
// schema omh:blood-glucose 4.0.
func (d *documents) dataPoint(header, body []byte, row int) {
	var h pointHeader
	var bodies []json.RawMessage
	if body = bytes.TrimSpace(body); body[0] != '[' {
		bodies = []json.RawMessage{body}
	} else if json.Unmarshal(body, &bodies) != nil {
		bodies = nil
	}
	bad := ""
	switch {
	case json.Unmarshal(header, &h) != nil || h.UUID == "" && h.ID == "":
		bad = "a header that neither IEEE 1752.1 nor Open mHealth has"
	case h.Schema.Namespace != "omh" || h.Schema.Name != "blood-glucose":
		d.res.Rows++
		d.leaveOut(row, "a data point of a kind that is not used")
		return
	case len(bodies) == 0:
		bad = "a data point without a body"
	}
	if bad != "" {
		d.res.Rows++
		d.skip(row, bad)
		return
	}
	subject := d.subject(h.UserID)
	for i, raw := range bodies {
		d.res.Rows++
		line := row
		if len(bodies) > 1 {
			line = i + 1
		}
		var b pointBody
		if json.Unmarshal(raw, &b) != nil || b.Glucose == nil {
			d.skip(line, "a data point that does not follow its schema")
			continue
		}
		d.point(&b, subject, line)
	}
}

// point reads one value.
func (d *documents) point(b *pointBody, subject, row int) {
	if b.Statistic != "" {
		d.summaries++
		d.leaveOut(row, "a figure over a period, not a reading")
		return
	}
	finger := false
	switch b.Specimen {
	case "interstitial fluid":
	case "capillary blood":
		finger = true
	case "":
		if d.ask("specimen", "Some values do not say what was measured. Are they a sensor's readings or fingersticks?",
			wear.Choice{Value: "sensor", Text: "sensor readings", Effect: "they would be filed as the sensor's"},
			wear.Choice{Value: "fingerstick", Text: "fingerstick blood glucose", Effect: "they would be compared with the sensor"}) == "fingerstick" {
			finger = true
		}
	default:
		d.leaveOut(row, "glucose of another fluid than the sensor's")
		return
	}
	r := wear.Reading{Unit: wear.ParseUnit(b.Glucose.Unit)}
	var ok bool
	if r.Num, r.Scale, ok = wear.ParseValue(string(b.Glucose.Value)); !ok || r.Unit == wear.UnitUnknown {
		d.skip(row, "a value without a plain number and one of the two units")
		return
	}
	at, ok := d.moment(b.Frame.DateTime)
	if !ok {
		d.skip(row, "no moment that can be read")
		return
	}
	d.reading(row, subject, at, r, finger, b.Meal)
}
