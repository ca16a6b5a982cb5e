package wear_test

import (
	"fmt"
	"math"
	"testing"
	"time"

	"wearround/worker/wear"
)

// Nobody falls off a cliff: for every rule with a number, a wear at 90 to 99 % of
// it is not called well, whatever the practice sets, and one at half of it can
// be.
func TestJustUnderEveryRule(t *testing.T) {
	type rule struct {
		name   string
		limits []float64
		set    func(p *wear.Protocol, limit float64)
		wear   func(v float64) wear.Input // at a value of what the rule counts
		whole  bool                       // counted in whole numbers: one under the limit
		half   float64                    // the share of the limit that is far from it; 0 for a half, -1 for none
	}
	level := func(f func(s time.Duration) float64) wear.Input { return wear.Input{Readings: days(14, 5, f)} }
	// A part of each day, in so many stretches from 09:00 on, by way of slopes.
	daily := func(to float64, stretches int) func(pct float64) wear.Input {
		return func(pct float64) wear.Input {
			n := int(math.Ceil(2.88 * pct / float64(stretches)))
			return level(func(s time.Duration) float64 {
				for i := range stretches {
					k := int(math.Round((clock(s) - 9 - 3*float64(i)) * 12))
					if out := max(-k, k-n+1); out <= 4 {
						return to + (5.4-to)*float64(max(0, out))/4
					}
				}
				return usual(s)
			})
		}
	}
	// On so many days, at an hour, for so many minutes, by way of slow slopes.
	on := func(n, hour int, minutes, to float64) wear.Input {
		return level(func(s time.Duration) float64 {
			for d := 1; d <= n; d++ {
				m := (s - at(d, hour, 0)).Minutes()
				switch {
				case m >= 0 && m < minutes:
					return to
				case m > -60 && m < 0:
					return to + (5-to)*-m/60
				case m >= minutes && m < minutes+60:
					return to + (5-to)*(m-minutes)/60
				}
			}
			return usual(s)
		})
	}
	nights := func(n int, to float64) wear.Input {
		return level(func(s time.Duration) float64 {
			if clock(s) < 6 && int(s.Hours()/24) < n {
				return to
			}
			return usual(s)
		})
	}
	for _, r := range []rule{
		{name: "share above 7.8", limits: []float64{12, 17, 25}, set: func(p *wear.Protocol, l float64) { p.Flag.Above7_8Pct, p.Flag.Above7_8NotePct = l, l }, wear: daily(8.6, 1)},
		{name: "share above 10", limits: []float64{1, 2, 4}, set: func(p *wear.Protocol, l float64) { p.Flag.Above10Pct, p.Flag.Above10Days = l, 60 }, wear: func(v float64) wear.Input {
			in := level(func(s time.Duration) float64 {
				if h := clock(s); h >= 13 && h < 15 {
					return 9.5
				}
				return usual(s)
			})
			every := int(math.Round(100 / v))
			for i, n := 0, 0; i < len(in.Readings); i++ {
				if in.Readings[i].Num > 930 { // the readings of those two hours, some of them over the limit
					if n++; float64(n)*float64(every)*2/24 >= 2 {
						in.Readings[i].Num, n = 1030, 0
					}
				}
			}
			return in
		}, half: -1},
		{name: "days above 10", limits: []float64{3, 4, 9}, set: func(p *wear.Protocol, l float64) { p.Flag.Above10Days = l; p.Flag.Above10Pct = 50 }, wear: func(v float64) wear.Input { return on(int(v), 15, 30, 10.6) }, whole: true},
		{name: "days at 11.1", limits: []float64{3, 5}, set: func(p *wear.Protocol, l float64) { p.Flag.HighEpisodeDays = l }, wear: func(v float64) wear.Input { return on(int(v), 15, 30, 11.5) }, whole: true, half: -1},
		{name: "one reading very high", limits: []float64{18, 20}, set: func(p *wear.Protocol, l float64) {
			p.Flag.VeryHighReading = wear.Limit{MmolTenths: int64(l * 10), Mgdl: int64(l * wear.MgdlPerMmol)}
		}, wear: func(v float64) wear.Input { return on(1, 15, 5, v) }, half: 0.45},
		{name: "height of nights", limits: []float64{6.8, 7, 8}, set: func(p *wear.Protocol, l float64) { p.Night.HighMmol = l }, wear: func(v float64) wear.Input { return nights(14, v) }, half: 0.8},
		{name: "high nights", limits: []float64{3, 5, 7}, set: func(p *wear.Protocol, l float64) { p.Night.HighNights, p.Night.HighNightsPct = l, 10 }, wear: func(v float64) wear.Input { return nights(int(v), 7.3) }, whole: true, half: -1},
		{name: "share of high nights", limits: []float64{40, 50, 60}, set: func(p *wear.Protocol, l float64) { p.Night.HighNights, p.Night.HighNightsPct = 2, l }, wear: func(v float64) wear.Input { return nights(int(math.Round(14*v/100-0.49)), 7.3) }, half: -1},
		{name: "minutes below 3.0", limits: []float64{45, 60, 100}, set: func(p *wear.Protocol, l float64) { p.Flag.LongLowMinutes = l }, wear: func(v float64) wear.Input { return on(4, 2, v-5, 2.7) }, half: -1},
		{name: "days with long lows", limits: []float64{3, 5}, set: func(p *wear.Protocol, l float64) { p.Flag.LongLowDays = l }, wear: func(v float64) wear.Input { return on(int(v), 2, 60, 2.7) }, whole: true, half: -1},
		{name: "extended lows", limits: []float64{90, 120, 150}, set: func(p *wear.Protocol, l float64) { p.Episode.ExtendedMinutes = l }, wear: func(v float64) wear.Input { return on(4, 11, v-27, 3.5) }},
		{name: "share below 3.9", limits: []float64{6, 12, 20}, set: func(p *wear.Protocol, l float64) { p.Flag.DoubtLowPct = l }, wear: daily(3.6, 4)},
		{name: "share not believed", limits: []float64{15, 30}, set: func(p *wear.Protocol, l float64) { p.Flag.DoubtPct, p.Wear.DayUsablePct = l, 50 }, wear: func(v float64) wear.Input {
			in := level(usual)
			for i := range in.Readings {
				if math.Mod(float64(i), 100) < v {
					in.Readings[i].Mark = wear.MarkError
				}
			}
			return in
		}},
		{name: "fingersticks that differ", limits: []float64{2, 3}, set: func(p *wear.Protocol, l float64) { p.Flag.DoubtFingersticks = l }, wear: func(v float64) wear.Input {
			in := level(usual)
			for d := range int(v) {
				in.Events = append(in.Events, stick(at(d+1, 15, 0), 85, 1, wear.MmolL))
			}
			return in
		}, whole: true, half: -1},
		{name: "swings", limits: []float64{2, 3}, set: func(p *wear.Protocol, l float64) { p.Flag.SwingCount = l }, wear: func(v float64) wear.Input {
			return level(func(s time.Duration) float64 {
				g := usual(s)
				for d := range int(v) {
					g += bump(s, at(2*d+2, 16, 30), 0.7, 5.3) - bump(s, at(2*d+2, 18, 40), 0.6, 2.0)
				}
				return g
			})
		}, whole: true, half: -1},
		{name: "HOMA-IR", limits: []float64{2, 2.5, 3}, set: func(p *wear.Protocol, l float64) { p.Risk.HomaIR = l }, wear: func(v float64) wear.Input {
			in := level(usual)
			in.Labs = []wear.Lab{{At: monday.Unix(), Kind: wear.LabFastingGlucose, Value: 4.5, Unit: "mmol/L"}, {At: monday.Unix(), Kind: wear.LabFastingInsulin, Value: 5 * v, Unit: "mU/L"}}
			return in
		}},
	} {
		for _, limit := range r.limits {
			p := wear.DefaultProtocol()
			r.set(p, limit)
			if err := p.Validate(); err != nil {
				t.Fatalf("%s: %v", r.name, err)
			}
			judged := func(v float64) (*wear.Report, bool) {
				in := asked(r.wear(v))
				in.Protocol = p
				if r.name != "swings" { // a swing that was asked about is none to ask about
					in = onCall(in)
				}
				rep := wear.Analyse(in)
				ok, _ := wear.MayReassure(rep)
				return rep, ok
			}
			under := []float64{0.9 * limit, 0.95 * limit, 0.99 * limit}
			if r.whole {
				under = []float64{limit - 1}
			}
			for _, v := range under {
				if rep, ok := judged(v); ok {
					t.Errorf("%s: %.2f of a limit of %v may be called well: %s", r.name, v, limit, fmt.Sprint(rep.NotFlagged))
				}
			}
			half := r.half
			if half == 0 {
				half = 0.5
			}
			if rep, ok := judged(math.Floor(10*half*limit) / 10); half > 0 && !ok {
				_, why := wear.MayReassure(rep)
				t.Errorf("%s: %.2f of a limit of %v may not be called well: %v", r.name, half*limit, limit, why)
			}
		}
	}
}
