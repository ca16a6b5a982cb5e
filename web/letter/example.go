package letter

import (
	"time"

	"wearround/worker/wear"
)

// Example are facts of an invented patient and practice under which a letter of
// a kind can be written, so that a template can be looked at.
func Example(kind Kind) Facts {
	zone := time.UTC
	r := &wear.Report{
		Protocol: "2026.1", Start: time.Date(2026, 3, 3, 9, 15, 0, 0, zone), End: time.Date(2026, 3, 16, 9, 10, 0, 0, zone),
		Readings: 4000, Believed: 3900, Confidence: "high", AskedOn: "2026-03-03", Age: 64, NotFlagged: []wear.Remark{{Code: "rise_under_10", Reassures: true}},
	}
	for i := range 14 {
		r.Days = append(r.Days, wear.Day{Usable: i < 13})
	}
	flag := func(code string) { r.Flags = append(r.Flags, wear.Flag{Code: code}) }
	switch kind {
	case Near:
		r.Near = []wear.Remark{{Code: "above_7_8", Text: "Above 7.8 for 16.4 % of the time, near the limit of 17 %."}}
	case Tests, Clinician:
		flag(wear.FlagAbove7_8)
		for i := range 11 {
			r.Days[i].Met7_8 = true
		}
	case WearAgain, SensorFailed:
		flag(wear.FlagSensorDoubt)
		r.Confidence = "low"
	}
	return Facts{
		Practice: Practice{Name: "Tarrow Street Practice", Phone: "5550 0142", Emergency: "000"},
		Patient:  Patient{Name: "Velo Tarim", BirthDate: "1961-04-09"}, Sender: "Oru Belvane, practice nurse", To: "Dr Maruun",
		Today: time.Date(2026, 3, 18, 0, 0, 0, 0, zone), By: time.Date(2026, 4, 10, 0, 0, 0, 0, zone),
		Tests: []string{"hba1c", "fasting_glucose"}, Serial: "7F3-0291", Fault: "stopped on the sixth day", Report: r, Zone: zone,
	}
}
