package intake_test

import (
	"testing"
	"time"

	"wearround/worker/intake"
	"wearround/worker/wear"
)

// FuzzRead checks on any bytes that reading ends without a panic, that exactly
// one outcome is given, that the counts add up, and that reading again gives
// the same.
func FuzzRead(f *testing.F) {
	plain := "time,glucose,event\n" + lines(8, march, func(i int, at time.Time) string { return iso(i, at) + ",meal" })
	for _, s := range []string{
		"", plain, "\xff\xfe" + utf16le(plain), utf16le(plain), gz(plain), zipped("a.csv", plain), "\xef\xbb\xbf" + plain,
		"Datum;Uhrzeit;Glukose\n01.03.2026;09:00;5,6\n;09:15;<2,2\n;09:30;HOCH\n",
		"1772355600,101\n1772355900,102\n1772356200,104\n",
		"time|kind|value\n3/4/26 12:15 AM|sensor|140\n3/4/26 12:30 AM|scan|141\n",
		"2026-04-05T02:30:00+11:00\t5.5\n2026-04-05T02:45:00Z\t5.6\n",
		"a,b\n\"x\ny\",\"z\"\"z\"\n", "\"", "time,glucose\n2026-03-01 09:00,\"5,6\"\n", "1 Mar 2026 9 pm,7.8\nMarch 1, 2026 21:15,7.9\n",
		"subject,time,glucose\nA,2026-03-01 09:00,5.5\nB,2026-03-01 09:00,5.5\n",
	} {
		f.Add([]byte(s), int8(0))
	}
	zones := make([]*time.Location, 0, 3)
	for _, name := range []string{"UTC", "Australia/Sydney", "Europe/Berlin"} {
		zone, err := time.LoadLocation(name)
		if err != nil {
			f.Fatal(err)
		}
		zones = append(zones, zone)
	}
	f.Fuzz(func(t *testing.T, data []byte, zone int8) {
		o := intake.Options{Zone: zones[int(uint8(zone))%len(zones)], Now: now}
		res := intake.Read(data, o)
		switch {
		case res.Refusal != nil:
			if res.Refusal.Code == "" || res.Refusal.Text == "" || res.Refusal.ToDo == "" || len(res.Questions) > 0 || len(res.Readings) > 0 {
				t.Fatalf("refusal is not complete: %+v", res)
			}
		case len(res.Questions) > 0:
			if len(res.Readings) > 0 {
				t.Fatal("a held file gives readings")
			}
			o.Answers = make(map[string]string)
			for _, q := range res.Questions {
				if q.Code == "" || q.Text == "" || len(q.Choices) < 2 {
					t.Fatalf("question is not complete: %+v", q)
				}
				o.Answers[q.Code] = q.Choices[0].Value
			}
			for _, q := range intake.Read(data, o).Questions {
				if _, asked := o.Answers[q.Code]; asked {
					t.Fatalf("asked again after an answer: %+v", q)
				}
			}
		default:
			if len(res.Readings) == 0 || res.Skipped > res.Rows {
				t.Fatalf("filed with %d readings of %d rows", len(res.Readings), res.Rows)
			}
			for _, r := range res.Readings {
				if r.At > now.Unix()+86400 || r.At < 946684800-86400 || r.Unit == wear.UnitUnknown {
					t.Fatalf("filed reading %+v", r)
				}
			}
		}
	})
}
