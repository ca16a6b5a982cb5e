package intake_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"wearround/worker/intake"
)

// twoWeeks is a plain file of 14 days at 5 minutes: 4,032 rows.
func twoWeeks() []byte {
	var b strings.Builder
	b.WriteString("time,glucose,event\n")
	at := time.Date(2026, 3, 1, 0, 0, 0, 0, time.UTC)
	for i := range 14 * 288 {
		event := ""
		if i%96 == 40 {
			event = "meal"
		}
		fmt.Fprintf(&b, "%s,%d.%d,%s\n", at.Add(time.Duration(i)*5*time.Minute).Format("2006-01-02T15:04:05"), 5+i%4, i%10, event)
	}
	return []byte(b.String())
}

func BenchmarkRead14Days5Min(b *testing.B) {
	data := twoWeeks()
	o := intake.Options{Zone: time.UTC, Now: now}
	if res := intake.Read(data, o); res.Refusal != nil || len(res.Questions) > 0 || len(res.Readings) != 14*288 {
		b.Fatalf("%+v", res)
	}
	b.SetBytes(int64(len(data)))
	b.ReportAllocs()
	for b.Loop() {
		intake.Read(data, o)
	}
}
