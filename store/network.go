package store

import (
	"context"
	"database/sql"
	"time"
)

// The rows that a network of practices audits by: no name, no code, no date but
// the month, no age but the band, and nothing of the trace. Wears and people are
// numbered anew.

// NetworkWear is one wear.
type NetworkWear struct {
	Wear     int64  `parquet:"wear"`
	Person   int64  `parquet:"person"`
	Month    string `parquet:"month,dict"` // in which it was read, as 2026-03
	AgeBand  string `parquet:"age_band,dict"`
	Sex      string `parquet:"sex,dict"`
	Kind     string `parquet:"kind,dict"` // the practice's own code of the sensor
	Tier     string `parquet:"tier,dict"` // when first read
	Open     bool   `parquet:"open"`
	InTime   bool   `parquet:"in_time"`
	Readings int64  `parquet:"readings"`
	Found    string `parquet:"found,dict"` // confirmed, in_range, other or unknown: what results say
}

// NetworkFlag is one flag of a wear.
type NetworkFlag struct {
	Wear int64  `parquet:"wear"`
	Code string `parquet:"code,dict"`
}

// NetworkOutcome is one outcome that was not taken back.
type NetworkOutcome struct {
	Wear    int64  `parquet:"wear"`
	Kind    string `parquet:"kind,dict"`
	Days    int64  `parquet:"days"` // after the wear was read
	InForce bool   `parquet:"in_force"`
}

// NetworkResult is one result that says what a wear was.
type NetworkResult struct {
	Wear  int64  `parquet:"wear"`
	Kind  string `parquet:"kind,dict"`
	Class string `parquet:"class,dict"`
	Days  int64  `parquet:"days"` // from the day on which the wear was read to the sample
}

// NetworkYear is all of one calendar year.
type NetworkYear struct {
	Year     int
	Wears    []NetworkWear
	Flags    []NetworkFlag
	Outcomes []NetworkOutcome
	Results  []NetworkResult
}

// Network gives the rows of every year, the first year first.
func (s *Store) Network(ctx context.Context, zone *time.Location) (years []NetworkYear, err error) {
	err = s.read(ctx, "read the rows for a network", func(t *sql.Tx) error {
		y := yearAudit{zone: zone, end: 1 << 40, now: s.now().Unix(), by: s.judging.Load().Protocol}
		for _, step := range []func(context.Context, *sql.Tx) error{y.wears, y.outcomes, y.flags, y.results} {
			if err := step(ctx, t); err != nil {
				return err
			}
		}
		people := map[int64]int64{}
		byYear := map[int]*NetworkYear{}
		for i, w := range y.list {
			if people[w.patient] == 0 {
				people[w.patient] = int64(len(people) + 1)
			}
			year := time.Unix(w.received, 0).In(zone).Year()
			if byYear[year] == nil {
				byYear[year] = &NetworkYear{Year: year}
			}
			y.network(byYear[year], int64(i+1), people[w.patient], w)
		}
		for year := range 10_000 {
			if byYear[year] != nil {
				years = append(years, *byYear[year])
			}
		}
		return nil
	})
	return years, err
}

// network adds the rows of one wear.
func (y *yearAudit) network(n *NetworkYear, number, person int64, w *audited) {
	read := time.Unix(w.received, 0).In(y.zone)
	f := y.found(w)
	row := NetworkWear{
		Wear: number, Person: person, Month: read.Format(monthLayout), AgeBand: w.context.AgeBand(read), Sex: w.context.Sex, Kind: w.kind,
		Tier: string(w.first), Open: w.open, Readings: int64(w.readings), Found: "unknown",
		InTime: !w.open && len(w.outcomes) > 0 && y.day(w.outcomes[0].at) <= y.day(w.due),
	}
	switch {
	case f.confirmed:
		row.Found = "confirmed"
	case f.inRange:
		row.Found = "in_range"
	case f.known:
		row.Found = "other"
	}
	n.Wears = append(n.Wears, row)
	for _, code := range w.flags {
		n.Flags = append(n.Flags, NetworkFlag{number, code})
	}
	force := w.outcome()
	for i := range w.outcomes {
		o := &w.outcomes[i]
		n.Outcomes = append(n.Outcomes, NetworkOutcome{number, string(o.kind), int64(y.day(o.at) - y.day(w.received)), force == o})
	}
	for i := range w.results {
		if r := &w.results[i]; r.Kind != Insulin && y.answers(r, w, w.received) {
			n.Results = append(n.Results, NetworkResult{number, string(r.Kind), r.Class, int64(y.day(r.TakenAt.Unix()) - y.day(w.received))})
		}
	}
}
