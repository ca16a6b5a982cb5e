package store

import (
	"errors"
	"time"

	"wearround/worker/wear"
)

// ledger is what a row of the round shows of a report, in short.
type ledger struct {
	Start      time.Time   `json:"start"`
	End        time.Time   `json:"end"`
	Headline   string      `json:"headline"`
	Confidence string      `json:"confidence"`
	DueDays    int         `json:"due_days"`
	Unread     int         `json:"unread,omitempty"`
	Parts      []wear.Part `json:"parts"`

	Against []string `json:"against,omitempty"` // codes of what stands against telling that all is well

	// What a wear is set among its like by; see [Store.KindMeasures].
	MeanMmol  wear.Figure `json:"mean_mmol"`
	Above7_8  wear.Figure `json:"above_7_8_pct"`
	Above10   wear.Figure `json:"above_10_pct"`
	Variation wear.Figure `json:"cv_pct"`

	// The pips, as columns: a page decodes many.
	Dates    []string      `json:"dates"`
	Readings []int         `json:"readings"`
	Captured []wear.Figure `json:"captured"`
	Facts    []byte        `json:"facts"` // a set of the bits below for each day
}

const (
	dayUsable = 1 << iota
	dayMet7_8
	dayMet10
	dayDip
)

func ledgerOf(r *wear.Report) ledger {
	l := ledger{
		Start: r.Start, End: r.End, Headline: r.Headline, Confidence: r.Confidence,
		DueDays: r.Priority.DueDays, Unread: r.Unread, Parts: r.Priority.Parts,
		MeanMmol: r.Metrics.MeanMmol, Above7_8: r.Metrics.Above7_8Pct, Above10: r.Metrics.Above10Pct, Variation: r.Metrics.CVPct,
	}
	_, why := wear.MayReassure(r)
	for _, x := range why {
		l.Against = append(l.Against, x.Code)
	}
	for _, d := range r.Days {
		var facts uint8
		for i, fact := range [...]bool{d.Usable, d.Met7_8, d.Met10, d.DipWithSymptom} {
			if fact {
				facts |= 1 << i
			}
		}
		l.Dates = append(l.Dates, d.Date)
		l.Readings = append(l.Readings, d.Readings)
		l.Captured = append(l.Captured, d.CapturedPct)
		l.Facts = append(l.Facts, facts)
	}
	return l
}

// wearAt is a wear as it was from some version of the data on: whatever changes
// a report gives its wear a new one.
type wearAt struct{ id, version int64 }

// mostLedgers is how many read ledgers are kept: some 3 kB each.
const mostLedgers = 2000

// row is a read ledger with its pips. It never changes.
type row struct {
	ledger
	shown []wear.Day
}

func readRow(stored string) (*row, error) {
	r := new(row)
	err := into(&r.ledger).Scan(stored)
	if err == nil {
		r.shown, err = r.days()
	}
	return r, err
}

// days gives the pips back as days that hold no more than a pip shows.
func (l *ledger) days() ([]wear.Day, error) {
	n := len(l.Dates)
	if len(l.Readings) != n || len(l.Captured) != n || len(l.Facts) != n {
		return nil, errors.New("a stored ledger is damaged")
	}
	days := make([]wear.Day, n)
	for i := range days {
		facts := l.Facts[i]
		days[i] = wear.Day{
			Date: l.Dates[i], Readings: l.Readings[i], CapturedPct: l.Captured[i], Usable: facts&dayUsable != 0,
			Met7_8: facts&dayMet7_8 != 0, Met10: facts&dayMet10 != 0, DipWithSymptom: facts&dayDip != 0,
		}
	}
	return days, nil
}
