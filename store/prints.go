package store

import (
	"context"
	"database/sql"
	"errors"

	"wearround/worker/wear"
)

// A print is a hash of all measured readings of one wear in one half of a UTC
// day: instant, value and unit. Any 24 hours of the same readings hold at
// least one whole half day, and so a common print. Limits ("low", "high") are
// left out: two failed sensors would be alike.
const (
	printSeconds = daySeconds / 2
	printAtLeast = 12 // readings; fewer may be alike by chance
)

// prints gives the prints of readings in time order: FNV-1a, 64 bits, over
// instant, number, and scale and unit, each as eight bytes, the lowest first.
func prints(readings []wear.Reading) []int64 {
	var out []int64
	h := fnvOffset
	half, n := int64(0), 0
	end := func() {
		if n >= printAtLeast {
			out = append(out, int64(h))
		}
		h = fnvOffset
		n = 0
	}
	for _, r := range readings {
		if r.Bound != wear.Exact {
			continue
		}
		if at := r.At / printSeconds; at != half {
			end()
			half = at
		}
		for r.Scale > 0 && r.Num%10 == 0 { // 6.70 and 6.7 are the same value
			r.Num, r.Scale = r.Num/10, r.Scale-1
		}
		h = fnvWord(fnvWord(fnvWord(h, uint64(r.At)), uint64(r.Num)), uint64(r.Scale)<<8|uint64(r.Unit))
		n++
	}
	end()
	return out
}

const (
	fnvOffset uint64 = 14695981039346656037
	fnvPrime  uint64 = 1099511628211
)

// fnvPowers holds the powers of the prime: a byte that is zero changes the hash
// only by a factor, so the zeros at the top of a word are one multiplication.
var fnvPowers = func() (p [9]uint64) {
	p[0] = 1
	for i := range 8 {
		p[i+1] = p[i] * fnvPrime
	}
	return p
}()

// fnvWord adds the eight bytes of w, the lowest first, to the hash h.
func fnvWord(h, w uint64) uint64 {
	left := 8
	for ; w != 0; w >>= 8 {
		h = (h ^ w&0xff) * fnvPrime
		left--
	}
	return h * fnvPowers[left]
}

// Lookalike is a wear of another patient that has readings in common with a
// file.
type Lookalike struct {
	WearSummary
	Patient Patient
}

// Lookalikes gives the wears of other patients that share at least half a day
// of readings, to the instant and the digit. Any 24 hours of the same readings
// are found; what is found is to be compared.
func (s *Store) Lookalikes(ctx context.Context, patientID int64, readings []wear.Reading) ([]Lookalike, error) {
	list, err := text(prints(readings))
	if err != nil {
		return nil, fail("look for the same readings", err)
	}
	var out []Lookalike
	rows, err := s.reader.QueryContext(ctx, "SELECT "+patientColumns+", "+summaryColumns+` JOIN patients ON patients.id = patient_id
		WHERE patient_id <> ? AND wears.id IN (SELECT wear_id FROM wear_prints WHERE print IN (SELECT value FROM json_each(?))) ORDER BY wears.id`,
		patientID, list)
	err = each(rows, err, func(rows *sql.Rows) error {
		var l Lookalike
		err := l.scan(rows, l.Patient.targets()...)
		out = append(out, l)
		return err
	})
	return out, fail("look for the same readings", err)
}

// unlike gives [ErrStale] where a wear of another patient shares readings that
// nobody has compared: it was filed a moment ago.
func (t *tx) unlike(ctx context.Context, patientID int64, marks []int64, compared []int64) error {
	list, err := text(marks)
	if err != nil {
		return err
	}
	known, err := text(append([]int64{}, compared...))
	if err != nil {
		return err
	}
	var id int64
	err = t.QueryRowContext(ctx, `SELECT wears.id FROM wear_prints JOIN wears ON wears.id = wear_id
		WHERE print IN (SELECT value FROM json_each(?)) AND patient_id <> ? AND wears.id NOT IN (SELECT value FROM json_each(?)) LIMIT 1`,
		list, patientID, known).Scan(&id)
	switch {
	case errors.Is(err, sql.ErrNoRows):
		return nil
	case err == nil:
		return ErrStale
	}
	return err
}
