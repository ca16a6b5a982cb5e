package store

import (
	"cmp"
	"context"
	"database/sql"
	"errors"
	"slices"
	"strings"
	"time"

	"wearround/worker/wear"
)

// ReadWords is what a person said that words are, as it is on record.
type ReadWords struct {
	ID        int64
	WearID    int64
	Key       string // of the [wear.Words]
	As        wear.ReadAs
	By        Person
	At        time.Time
	Withdrawn time.Time // zero unless taken back
}

// RedFlag is a box ticked on a call, as it is on record.
type RedFlag struct {
	ID        int64
	WearID    int64
	Code      string // of [wear.RedFlagKinds]
	By        Person
	At        time.Time
	Withdrawn time.Time // zero unless taken back
}

// Read saves what a person says that words of a wear are, by the keys of its
// report, and judges the wear anew. What says the same as before is not saved
// twice. Words that somebody read otherwise since they were seen are a
// [Conflict], which tells how, and nothing is saved. It gives how many were.
func (s *Store) Read(ctx context.Context, a Actor, wearID int64, said map[string]wear.ReadChange) (saved int, err error) {
	if len(said) == 0 {
		return 0, invalid("Say of at least one text what it is.")
	}
	for _, c := range said {
		if c.As == wear.Unread || !c.As.Known() {
			return 0, invalid("Choose from the list what the words are.")
		}
	}
	err = s.act(ctx, a, staff, "read words", onWear(wearID), func(t *tx) error {
		id, err := t.touching(ctx, wearID)
		if err != nil {
			return err
		}
		r, err := t.report(ctx, id)
		if err != nil {
			return err
		}
		keys := make([]string, 0, len(said))
		for key, c := range said {
			i := slices.IndexFunc(r.Words, func(w wear.Words) bool { return w.Key == key })
			if i < 0 {
				return conflict("These words are not on the wear any more. Look again.")
			}
			switch now := r.Words[i].ReadAs; now {
			case c.As:
			case c.Seen:
				keys = append(keys, key)
			default:
				return t.readMeanwhile(ctx, id, r.Words[i])
			}
		}
		if saved = len(keys); saved == 0 {
			return nil
		}
		slices.Sort(keys)
		err = insert(ctx, t, "INSERT INTO words_read (wear_id, key, said, made_by, made_at) VALUES (?, ?, ?, ?, ?)", keys, func(_ int, key string) []any {
			return []any{id, key, said[key].As, a.UserID, t.now}
		})
		if err != nil {
			return err
		}
		if err := t.judge(ctx, id, nil); err != nil {
			return err
		}
		return t.log(ctx, onWear(id), "")
	})
	return saved, err
}

// readMeanwhile refuses an answer to words that no longer stand as they were
// seen, and says what was said of them.
func (t *tx) readMeanwhile(ctx context.Context, wearID int64, w wear.Words) error {
	if w.ReadAs == wear.Unread {
		return conflict("What was said of “%s” was taken back meanwhile, and nothing was saved. Look again.", w.Text)
	}
	var by string
	err := t.QueryRowContext(ctx, `SELECT name FROM words_read JOIN users ON users.id = made_by WHERE wear_id = ? AND key = ? AND withdrawn_at IS NULL
		ORDER BY words_read.id DESC LIMIT 1`, wearID, w.Key).Scan(&by)
	if err != nil && !errors.Is(err, sql.ErrNoRows) {
		return err
	}
	return conflict("%s read “%s” as “%s” meanwhile, and nothing was saved. Look again.", cmp.Or(by, "Somebody"), w.Text, w.ReadAs.Words())
}

// AddRedFlags saves the boxes that were ticked on a call, by the codes of
// [wear.RedFlagKinds], and judges the wear anew. One that stands already is not
// saved twice.
func (s *Store) AddRedFlags(ctx context.Context, a Actor, wearID int64, codes []string) error {
	if len(codes) == 0 {
		return invalid("Tick what happened first.")
	}
	for _, c := range codes {
		if wear.RedFlagWords(c) == "" {
			return invalid("There is no such box on the call sheet. Look again.")
		}
	}
	return s.act(ctx, a, staff, "record red flags", onWear(wearID), func(t *tx) error {
		id, err := t.touching(ctx, wearID)
		if err != nil {
			return err
		}
		for _, c := range codes {
			if _, err := t.ExecContext(ctx, `INSERT INTO red_flags (wear_id, code, made_by, made_at)
				SELECT ?1, ?2, ?3, ?4 WHERE NOT EXISTS (SELECT * FROM red_flags WHERE wear_id = ?1 AND code = ?2 AND withdrawn_at IS NULL)`, id, c, a.UserID, t.now); err != nil {
				return err
			}
		}
		if err := t.judge(ctx, id, nil); err != nil {
			return err
		}
		return t.log(ctx, onWear(id), "")
	})
}

// WithdrawRead takes back what somebody said that words are: what was said
// before holds again, or they are unread.
func (s *Store) WithdrawRead(ctx context.Context, a Actor, id int64, reason string) error {
	return s.withdraw(ctx, a, "words_read", "withdraw what words are", id, reason, nil)
}

// WithdrawRedFlag takes back a box that was ticked on a call.
func (s *Store) WithdrawRedFlag(ctx context.Context, a Actor, id int64, reason string) error {
	return s.withdraw(ctx, a, "red_flags", "withdraw a red flag", id, reason, nil)
}

// report reads the report of a wear.
func (t *tx) report(ctx context.Context, wearID int64) (*wear.Report, error) {
	return readReport(ctx, t.Tx, wearID)
}

func readReport(ctx context.Context, t *sql.Tx, wearID int64) (*wear.Report, error) {
	var packed []byte
	if err := t.QueryRowContext(ctx, "SELECT report FROM reports WHERE wear_id = ?", wearID).Scan(&packed); err != nil {
		return nil, err
	}
	r := new(wear.Report)
	return r, inflate(packed, r)
}

// readWords reads what people wrote of a wear and what they said of its words.
// A note about the patient belongs to the wear that had begun last when it was
// written.
func (in *WearInputs) readWords(ctx context.Context, t *sql.Tx) (err error) {
	rows, err := t.QueryContext(ctx, "SELECT key, said, made_at FROM words_read WHERE wear_id = ? AND withdrawn_at IS NULL ORDER BY id", in.WearID)
	in.Read, err = collect(rows, err, func(rows *sql.Rows) (r wear.WordsRead, err error) { return r, rows.Scan(&r.Key, &r.As, &r.On) })
	if err != nil {
		return err
	}
	rows, err = t.QueryContext(ctx, "SELECT code, made_at FROM red_flags WHERE wear_id = ? AND withdrawn_at IS NULL ORDER BY id", in.WearID)
	in.RedFlags, err = collect(rows, err, func(rows *sql.Rows) (f wear.RedFlag, err error) { return f, rows.Scan(&f.Code, &f.At) })
	if err != nil {
		return err
	}
	rows, err = t.QueryContext(ctx, `SELECT made_at, text, ?3 FROM notes n WHERE wear_id = ?1 AND NOT EXISTS (SELECT * FROM notes WHERE patient_id = n.patient_id AND corrects = n.id)
		UNION ALL SELECT made_at, text, ?3 FROM notes n WHERE patient_id = ?2 AND wear_id IS NULL AND NOT EXISTS (SELECT * FROM notes WHERE patient_id = n.patient_id AND corrects = n.id)
			AND ?1 = (SELECT id FROM wears WHERE patient_id = ?2 AND joined_into IS NULL AND first_at <= n.made_at ORDER BY first_at DESC, id DESC LIMIT 1)
		UNION ALL SELECT at, note, ?4 FROM contacts WHERE wear_id = ?1 AND note <> '' ORDER BY 1, 2`,
		in.WearID, in.Patient.ID, wear.WordsStaff, wear.WordsCall)
	in.Notes, err = collect(rows, err, func(rows *sql.Rows) (n wear.NoteText, err error) {
		err = rows.Scan(&n.At, &n.Text, &n.Kind)
		n.Text = strings.TrimSpace(n.Text)
		return n, err
	})
	return err
}

const (
	readColumns    = "words_read.id, wear_id, key, said, users.id, users.name, made_at, coalesce(withdrawn_at, 0) FROM words_read JOIN users ON users.id = made_by"
	redFlagColumns = "red_flags.id, wear_id, code, users.id, users.name, made_at, coalesce(withdrawn_at, 0) FROM red_flags JOIN users ON users.id = made_by"
)

func scanRead(rows *sql.Rows) (ReadWords, error) {
	var r ReadWords
	var at, withdrawn int64
	err := rows.Scan(&r.ID, &r.WearID, &r.Key, &r.As, &r.By.ID, &r.By.Name, &at, &withdrawn)
	r.At, r.Withdrawn = fromUnix(at), when(withdrawn)
	return r, err
}

func scanRedFlag(rows *sql.Rows) (RedFlag, error) {
	var f RedFlag
	var at, withdrawn int64
	err := rows.Scan(&f.ID, &f.WearID, &f.Code, &f.By.ID, &f.By.Name, &at, &withdrawn)
	f.At, f.Withdrawn = fromUnix(at), when(withdrawn)
	return f, err
}
