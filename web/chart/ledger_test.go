package chart

import (
	"testing"

	"pgregory.net/rapid"
)

// fortnight is a wear with every kind of day.
func fortnight() []Pip {
	days := make([]Pip, 14)
	for i := range days {
		days[i] = Pip{Usable: true, Above78: i%3 != 0, Above10: i%5 == 1}
	}
	days[6] = Pip{}
	days[8].Dip = true
	days[11] = Pip{Usable: true, Above10: true, Dip: true}
	days[13] = Pip{Dip: true}
	return days
}

func TestLedgerRowGolden(t *testing.T) {
	month := append(fortnight(), fortnight()...)
	for name, days := range map[string][]Pip{
		"ledger_fortnight": fortnight(),
		"ledger_30_days":   append(month, fortnight()[:2]...),
		"ledger_no_day":    nil,
	} {
		golden(t, name, LedgerRow("row", days, 256))
	}
}

func TestLedgerSentence(t *testing.T) {
	for _, c := range []struct {
		days []Pip
		want string
	}{
		{nil, "No day has any data."},
		{[]Pip{{Usable: true, Above78: true}}, "Above 7.8 on 1 of 1 usable day."},
		{[]Pip{{}, {}}, "Above 7.8 on 0 of 0 usable days; 2 days without enough data."},
		{fortnight(), "Above 7.8 on 7 of 12 usable days; above 10 on 2 days; a dip with a symptom on 3 days; 2 days without enough data."},
	} {
		if got := LedgerSentence(c.days); got != c.want {
			t.Errorf("%v:\n got %s\nwant %s", c.days, got, c.want)
		}
	}
}

// A dip with a symptom must be seen on whatever day it falls.
func TestLedgerShowsEveryDip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		days := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) Pip {
			return Pip{Usable: rapid.Bool().Draw(t, "usable"), Above78: rapid.Bool().Draw(t, "high"), Above10: rapid.Bool().Draw(t, "peak"), Dip: rapid.Bool().Draw(t, "dip")}
		}), 0, 70).Draw(t, "days")
		dips, peaks := 0, 0
		for _, d := range days {
			dips += one(d.Dip)
			peaks += one(d.Above10)
		}
		for _, width := range append([]int{256}, widths...) {
			root := sound(t, LedgerRow("x", days, width))
			if got := shapes(root.path("fill-low")); got != dips {
				t.Fatalf("%d triangles for %d dips", got, dips)
			}
			if got := shapes(root.path("fill-peak")); got != peaks {
				t.Fatalf("%d squares for %d days above 10", got, peaks)
			}
			if root.width > float64(width)+0.5 {
				t.Fatalf("%v pixels wide", root.width)
			}
		}
	})
}
