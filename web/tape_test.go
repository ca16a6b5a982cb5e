package web

import (
	"testing"

	"wearround/web/chart"
	"wearround/worker/wear"
)

// A sensor that reports every quarter hour a little late leaves no quarter
// torn; what is not believed does.
func TestStrips(t *testing.T) {
	p := WearPage{Layout: Layout{Zone: zone}, Report: &wear.Report{IntervalS: 900, Start: clock(3, 0, 14), End: clock(3, 23, 50),
		Days:    []wear.Day{{Date: "2026-03-03", Above7_8Min: wear.Of(75)}},
		Suspect: []wear.Stretch{{From: clock(3, 12, 0), To: clock(3, 13, 59)}}}}
	for i := range int64(95) {
		r := wear.Reading{At: clock(3, 0, 14).Unix() + 900*i + 7*i, Num: 61, Scale: 1, Unit: wear.MmolL}
		switch i {
		case 20:
			r.Num = 79
		case 30:
			r.Num = 101
		case 40:
			r.Num = 38
		}
		p.Readings = append(p.Readings, r)
	}
	strips := p.strips()
	if len(strips) != 1 || strips[0].Name != "Tue 3 Mar" || strips[0].Total != "1 h 15" {
		t.Fatalf("%d strips, %+v", len(strips), strips[0])
	}
	var got [4]int
	for k, q := range strips[0].Quarters {
		got[0] += bit(q&chart.QuarterAbove78 != 0)
		got[1] += bit(q&chart.QuarterAbove10 != 0)
		got[2] += bit(q&chart.QuarterBelow39 != 0)
		torn := q&chart.QuarterNoData != 0
		got[3] += bit(torn)
		if torn && (k < 48 || k > 56) {
			t.Errorf("quarter %d is torn", k)
		}
	}
	if got[0] < 2 || got[1] < 1 || got[2] < 1 || got[3] < 7 {
		t.Errorf("above 7.8, above 10, below 3.9, torn: %v", got)
	}
}
