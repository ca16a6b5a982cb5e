package store

import (
	"context"
	"database/sql"
	"slices"
	"time"

	"wearround/store/pack"
	"wearround/worker/wear"
)

// Wear gives one wear with its whole report and the files it came from. For a
// wear that was joined into another it gives that other; the ID tells.
func (s *Store) Wear(ctx context.Context, id int64) (Wear, error) {
	var w Wear
	err := s.read(ctx, "read a wear", func(t *sql.Tx) error {
		id, err := survivor(ctx, t, id)
		if err != nil {
			return err
		}
		var received, due int64
		var report []byte
		var now aroundScan
		err = t.QueryRowContext(ctx, `SELECT wears.id, sensor_kind, wears.zone, received_at, due_at, evidence, report, `+around+`, `+patientColumns+`
			FROM wears JOIN reports ON wear_id = wears.id JOIN patients ON patients.id = patient_id WHERE wears.id = ?`, id).
			Scan(slices.Concat([]any{&w.ID, &w.SensorKind, &w.Zone, &received, &due, &w.Evidence, &report}, now.targets(), w.Patient.targets())...)
		if err != nil {
			return err
		}
		w.ReceivedAt, w.DueAt = fromUnix(received), fromUnix(due)
		w.Report = new(wear.Report)
		if err := s.sound(ctx, t, id); err != nil {
			return err
		}
		if err := inflate(report, w.Report); err != nil {
			return err
		}
		w.Waiting = now.waiting
		now.put(w.Report, s.judging.Load())
		rows, err := t.QueryContext(ctx, "SELECT "+fileColumns+`, new, same, conflicts FROM file_wears JOIN files ON files.id = file_id
			WHERE wear_id = ? ORDER BY files.received_at, files.id`, id)
		return each(rows, err, func(rows *sql.Rows) error {
			var f WearFile
			var err error
			f.File, err = scanFile(rows, &f.New, &f.Same, &f.Conflicts)
			w.Files = append(w.Files, f)
			return err
		})
	})
	return w, err
}

// survivor follows a wear to the one it was joined into, if it was.
func survivor(ctx context.Context, t *sql.Tx, id int64) (int64, error) {
	err := t.QueryRowContext(ctx, `WITH RECURSIVE chain (id, next) AS (
			SELECT id, joined_into FROM wears WHERE id = ?
			UNION SELECT wears.id, wears.joined_into FROM chain JOIN wears ON wears.id = chain.next)
		SELECT id FROM chain WHERE next IS NULL`, id).Scan(&id)
	return id, err
}

// Trace gives the readings and events of a wear in time order, exactly as they
// were recorded, with the events that people added. It follows a joined wear as
// [Store.Wear] does.
func (s *Store) Trace(ctx context.Context, id int64) (readings []wear.Reading, events []wear.Event, err error) {
	err = s.read(ctx, "read a trace", func(t *sql.Tx) error {
		if id, err = survivor(ctx, t, id); err != nil {
			return err
		}
		if err := s.sound(ctx, t, id); err != nil {
			return err
		}
		readings, events, err = trace(ctx, t, id)
		return err
	})
	if err != nil {
		return nil, nil, err
	}
	return readings, events, nil
}

// trace reads it for a wear that was not joined into another.
func trace(ctx context.Context, t *sql.Tx, id int64) (readings []wear.Reading, events []wear.Event, err error) {
	if readings, events, err = fileTrace(ctx, t, id); err != nil {
		return nil, nil, err
	}
	more, err := added(ctx, t, id)
	return readings, withAdded(events, more), err
}

// FileTrace is [Store.Trace] without what people added.
func (s *Store) FileTrace(ctx context.Context, id int64) (readings []wear.Reading, events []wear.Event, err error) {
	err = s.read(ctx, "read a trace", func(t *sql.Tx) error {
		if id, err = survivor(ctx, t, id); err != nil {
			return err
		}
		readings, events, err = fileTrace(ctx, t, id)
		return err
	})
	return readings, events, err
}

// fileTrace reads what the files brought to a wear.
func fileTrace(ctx context.Context, t *sql.Tx, id int64) (readings []wear.Reading, events []wear.Event, err error) {
	var count int
	var packed []byte
	if err := t.QueryRowContext(ctx, "SELECT readings, events FROM wears JOIN reports ON wear_id = id WHERE id = ?", id).Scan(&count, &packed); err != nil {
		return nil, nil, err
	}
	var stored []storedEvent
	if err := inflate(packed, &stored); err != nil {
		return nil, nil, err
	}
	for _, e := range stored {
		events = append(events, e.event())
	}
	readings = make([]wear.Reading, 0, count)
	rows, err := t.QueryContext(ctx, "SELECT day, readings FROM wear_days WHERE wear_id = ? ORDER BY day", id)
	err = each(rows, err, func(rows *sql.Rows) error {
		var day int64
		var blob sql.RawBytes
		if err := rows.Scan(&day, &blob); err != nil {
			return err
		}
		readings, err = pack.Unpack(readings, day, blob)
		return err
	})
	return readings, events, err
}

// inDoubt is an expression over a row of wears.
const inDoubt = `EXISTS (SELECT * FROM file_wears JOIN files ON files.id = file_wears.file_id JOIN recipes ON recipes.id = files.recipe_id
	WHERE wear_id = wears.id AND recipes.state = 'withdrawn')`

// Brought gives the wears that hold readings of a file, and whose they are; none
// for a file that was never filed.
func (s *Store) Brought(ctx context.Context, fileID int64) (wears, patients []int64, err error) {
	if fileID == 0 {
		return nil, nil, nil
	}
	rows, err := s.reader.QueryContext(ctx, "SELECT wears.id, patient_id FROM file_wears JOIN wears ON wears.id = wear_id WHERE file_id = ? ORDER BY wears.id", fileID)
	err = each(rows, err, func(rows *sql.Rows) error {
		var id, patient int64
		err := rows.Scan(&id, &patient)
		wears, patients = append(wears, id), append(patients, patient)
		return err
	})
	return wears, patients, fail("look for what a file brought", err)
}

const summaryColumns = `wears.id, sensor_kind, first_at, last_at, readings, received_at, due_at, open, tier, ledger ->> '$.headline',
	` + inDoubt + `, wears.zone
	FROM wears JOIN reports ON wear_id = wears.id`

// summaries reads rows of summaryColumns.
func summaries(rows *sql.Rows, err error) ([]WearSummary, error) {
	var list []WearSummary
	err = each(rows, err, func(rows *sql.Rows) error {
		var w WearSummary
		err := w.scan(rows)
		list = append(list, w)
		return err
	})
	return list, err
}

// scan reads a row whose last columns are summaryColumns; what stands before
// them goes to the given targets.
func (w *WearSummary) scan(rows *sql.Rows, before ...any) error {
	var first, last, received, due int64
	err := rows.Scan(append(before, &w.ID, &w.SensorKind, &first, &last, &w.Readings, &received, &due, &w.Open, &w.Tier, &w.Headline, &w.InDoubt, &w.Zone)...)
	w.Start, w.End, w.ReceivedAt, w.DueAt = fromUnix(first), fromUnix(last), fromUnix(received), fromUnix(due)
	return err
}

// WearsAfter gives wears in the order of their ids, from the first after one.
func (s *Store) WearsAfter(ctx context.Context, id int64, limit int) ([]WearSummary, error) {
	list, err := summaries(s.reader.QueryContext(ctx, "SELECT "+summaryColumns+" WHERE wears.id > ? AND joined_into IS NULL ORDER BY wears.id LIMIT ?", id, limit))
	return list, fail("list the wears", err)
}

// WearsOf gives the wears of a patient, newest first.
func (s *Store) WearsOf(ctx context.Context, patientID int64) ([]WearSummary, error) {
	list, err := summaries(s.reader.QueryContext(ctx, "SELECT "+summaryColumns+`
		WHERE patient_id = ? AND joined_into IS NULL ORDER BY last_at DESC, wears.id DESC`, patientID))
	return list, fail("read a patient's wears", err)
}

// OverlappingWears gives the wears of a patient that have a reading between
// from and to, or readings on both sides, in time order and of every sensor
// kind. Both ends are included.
func (s *Store) OverlappingWears(ctx context.Context, patientID int64, from, to time.Time) ([]WearSummary, error) {
	list, err := summaries(s.reader.QueryContext(ctx, "SELECT "+summaryColumns+`
		WHERE patient_id = ? AND last_at >= ? AND first_at <= ? AND joined_into IS NULL
		ORDER BY first_at, wears.id`, patientID, from.Unix(), to.Unix()))
	return list, fail("look for overlapping wears", err)
}

// storedEvent is the stored form of an event. Its keys are on people's disks
// and never change.
type storedEvent struct {
	At      int64          `json:"at"`
	Minutes int            `json:"min,omitempty"`
	Kind    wear.EventKind `json:"kind"`
	Label   string         `json:"label,omitempty"`
	Carbs   float64        `json:"carbs,omitempty"`
	Num     int64          `json:"num,omitempty"`
	Scale   uint8          `json:"scale,omitempty"`
	Unit    wear.Unit      `json:"unit,omitempty"`
	Bound   wear.Bound     `json:"bound,omitempty"`
	Mark    wear.Mark      `json:"mark,omitempty"`
	ValueAt int64          `json:"value_at,omitempty"`
}

func storeEvent(e wear.Event) storedEvent {
	v := e.Value
	return storedEvent{e.At, e.Minutes, e.Kind, e.Label, e.Carbs, v.Num, v.Scale, v.Unit, v.Bound, v.Mark, v.At}
}

func (s storedEvent) event() wear.Event {
	return wear.Event{
		At: s.At, Minutes: s.Minutes, Kind: s.Kind, Label: s.Label, Carbs: s.Carbs,
		Value: wear.Reading{At: s.ValueAt, Num: s.Num, Scale: s.Scale, Unit: s.Unit, Bound: s.Bound, Mark: s.Mark},
	}
}
