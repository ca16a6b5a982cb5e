package form

import "net/url"

// How the dates of a list are written, where its sender says so.
const (
	DayFirst   = "day"
	MonthFirst = "month"
)

// Practice is what the practice says of itself, as typed.
type Practice struct {
	Name, Address, Telephone, Emergency, AlarmLow, AlarmHigh string
}

// ParsePractice reads name, address, telephone, emergency, alarm_low and
// alarm_high.
func ParsePractice(v url.Values) (Practice, []FieldError) {
	f := &fields{Values: v}
	p := Practice{
		Name: f.needed("name", "Write the practice’s name, as its letters give it.", MostLine), Address: f.text("address", 400),
		Telephone: f.needed("telephone", "Write the number that patients ring.", 80), Emergency: f.needed("emergency", "Write the number for emergency care.", 40),
		AlarmLow: f.one("alarm_low", "", "the lowest that it allows", "3.0 mmol/L"), AlarmHigh: f.one("alarm_high", "", "7.8 mmol/L", "10.0 mmol/L", "13.9 mmol/L"),
	}
	return p, f.errors
}

// PracticeValues fill the form.
func PracticeValues(p Practice) url.Values {
	return url.Values{
		"name": {p.Name}, "address": {p.Address}, "telephone": {p.Telephone}, "emergency": {p.Emergency}, "alarm_low": {p.AlarmLow}, "alarm_high": {p.AlarmHigh},
	}
}
