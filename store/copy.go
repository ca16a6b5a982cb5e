package store

import (
	"context"
	"crypto/hmac"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"errors"
	"fmt"
	"os"
	"strings"
)

// Copy writes the database, as it is at one moment, to a new file for the owner
// alone. It is on the disk when Copy returns. Other work goes on meanwhile.
func (s *Store) Copy(ctx context.Context, path string) error {
	return fail("copy the database", copyDatabase(ctx, s.reader, path))
}

// copyDatabase makes the copy: the file must not be there yet, or be empty.
func copyDatabase(ctx context.Context, db *sql.DB, path string) error {
	if err := createPrivate(path); err != nil {
		return err
	}
	if _, err := db.ExecContext(ctx, "VACUUM INTO ?", path); err != nil {
		return err
	}
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}

// OpenCopy opens a copy made by [Store.Copy] for reading alone: nothing is
// migrated, and nothing is written beside it.
func OpenCopy(path string, s *Store) (*Store, error) {
	db, err := sql.Open("sqlite", dsn(path, "mode=ro&immutable=1&_dqs=0&_pragma=foreign_keys(1)"))
	if err != nil {
		return nil, fail("open a copy of the database", err)
	}
	db.SetMaxOpenConns(1)
	c := remembering(path, s.now)
	c.reader, c.schema, c.sqlite, c.logKey, c.tables = db, s.schema, s.sqlite, s.logKey, s.tables
	c.judging.Store(s.judging.Load())
	return c, nil
}

// Whole reads every page of the database and gives an error that says in plain
// words what of it is damaged.
func (s *Store) Whole(ctx context.Context) error {
	var faults []string
	rows, err := s.reader.QueryContext(ctx, "PRAGMA integrity_check(5)")
	err = each(rows, err, func(rows *sql.Rows) error {
		var line string
		err := rows.Scan(&line)
		if line != "ok" {
			faults = append(faults, line)
		}
		return err
	})
	if err == nil && len(faults) > 0 {
		err = &Error{Code: Broken, Public: damagedWords, cause: errors.New(strings.Join(faults, "; "))}
	}
	return s.doubt(fail("check the database", err))
}

const damagedWords = "The stored data are damaged. Stop the program and restore the newest backup (wearround restore)."

// The two entries of the log by which a practice goes on from a backup.
const (
	actRestore = "restore from a backup"
	actNewKey  = "begin the log under a new key"
)

// Restored logs that this database was put back from a backup, which ends
// before whatever was done after it, and signs everybody out: a session that
// was ended since must not come back to life.
func (s *Store) Restored(ctx context.Context, backup string) error {
	return s.write(ctx, actRestore, func(t *tx) error {
		for _, q := range []string{
			"UPDATE sessions SET ended_at = ?1 WHERE ended_at IS NULL",
			"DELETE FROM setup_token WHERE ?1 = ?1",
		} {
			if _, err := t.ExecContext(ctx, q, t.now); err != nil {
				return err
			}
		}
		return t.log(ctx, onData, backup)
	})
}

// NewKey goes on with a log whose key is lost, under the key that was set last.
// What was written before can no longer be told from a forgery by its marks; its
// hash is logged, so that from here on nobody can change it unseen. Second
// factors are kept under the same key: everybody sets theirs up anew.
func (s *Store) NewKey(ctx context.Context) error {
	err := s.write(ctx, actNewKey, func(t *tx) error {
		var seq int64
		var mac []byte
		err := t.QueryRowContext(ctx, "SELECT seq, mac FROM audit ORDER BY seq DESC LIMIT 1").Scan(&seq, &mac)
		if errors.Is(err, sql.ErrNoRows) {
			return nil
		}
		if err != nil {
			return err
		}
		sum, err := hashLog(ctx, t.Tx, seq)
		if err != nil {
			return err
		}
		// The log goes on from its last row, whatever its sealed end says.
		t.chain.seq, t.chain.mac, t.chain.read = seq, mac, true
		for _, q := range []string{"UPDATE users SET totp_secret = '', totp_step = 0", "DELETE FROM recovery_codes"} {
			if _, err := t.ExecContext(ctx, q); err != nil {
				return err
			}
		}
		return t.log(ctx, onData, sum)
	})
	if err != nil {
		return err
	}
	return s.sealAnew(ctx, nil)
}

// hashLog is the hash of all rows of the log up to one, marks and all.
func hashLog(ctx context.Context, t *sql.Tx, upTo int64) (string, error) {
	h := sha256.New()
	rows, err := t.QueryContext(ctx, `SELECT seq, at, actor, role, action, object, object_id, outcome, reason, request, prev, mac
		FROM audit WHERE seq <= ? ORDER BY seq`, upTo)
	err = each(rows, err, func(rows *sql.Rows) error {
		var n [4]int64
		var text [6]string
		var prev, mac []byte
		if err := rows.Scan(&n[0], &n[1], &n[2], &text[0], &text[1], &text[2], &n[3], &text[3], &text[4], &text[5], &prev, &mac); err != nil {
			return err
		}
		for _, v := range n {
			writeNumber(h, v)
		}
		for _, v := range append(text[:], string(prev), string(mac)) {
			writeField(h, v)
		}
		return nil
	})
	if err != nil {
		return "", fmt.Errorf("hash the log: %w", err)
	}
	return hex.EncodeToString(h.Sum(nil)), nil
}

// LogAfter gives the entries of the log after one, oldest first, at most limit.
func (s *Store) LogAfter(ctx context.Context, seq int64, limit int) ([]LogRow, error) {
	var list []LogRow
	rows, err := s.reader.QueryContext(ctx, "SELECT seq, at, actor, role, action, object, object_id, outcome FROM audit WHERE seq > ? ORDER BY seq LIMIT ?", seq, limit)
	err = each(rows, err, func(rows *sql.Rows) error {
		var r LogRow
		var at int64
		err := rows.Scan(&r.Seq, &at, &r.Actor.ID, &r.Role, &r.Action, &r.Object, &r.ObjectID, &r.Ended)
		r.At = fromUnix(at)
		list = append(list, r)
		return err
	})
	return list, fail("read the log", err)
}

// LogMark gives the mark of one entry of the log.
func (s *Store) LogMark(ctx context.Context, seq int64) (Digest, error) {
	var mac []byte
	err := s.reader.QueryRowContext(ctx, "SELECT mac FROM audit WHERE seq = ?", seq).Scan(&mac)
	if err == nil && len(mac) != sha256.Size {
		err = errors.New("an entry of the log has no mark")
	}
	if err != nil {
		return Digest{}, fail("read the log", err)
	}
	return Digest(mac), nil
}

// Lost gives what the log in another database file holds after an entry: of a
// practice that was replaced by a backup. Nothing is written there.
func Lost(ctx context.Context, path string, seq int64) (list []LogRow, err error) {
	db, err := sql.Open("sqlite", readerDSN(path))
	if err != nil {
		return nil, fail("read a lost log", err)
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	return (&Store{reader: db}).LogAfter(ctx, seq, 100_000)
}

// KeyFits refuses a key that is not the one the log was kept with: no row that
// there is, the first, the newest or the note of it, bears its mark. A log in
// which one of them was changed is another matter, for [Store.VerifyLog].
func (s *Store) KeyFits(ctx context.Context) error {
	if len(s.logKey) == 0 {
		return fail("try the key of the log", errNoKey)
	}
	tried, fits := false, false
	err := s.read(ctx, "try the key of the log", func(t *sql.Tx) error {
		var seq int64
		var mac, seal []byte
		err := t.QueryRowContext(ctx, "SELECT seq, mac, seal FROM audit_head").Scan(&seq, &mac, &seal)
		if err == nil {
			tried, fits = true, hmac.Equal(seal, headSeal(s.logKey, seq, mac))
		}
		if err != nil && !errors.Is(err, sql.ErrNoRows) {
			return err
		}
		rows, err := t.QueryContext(ctx, `SELECT seq, at, actor, role, action, object, object_id, outcome, reason, request, prev, mac FROM audit
			WHERE seq IN ((SELECT min(seq) FROM audit), (SELECT max(seq) FROM audit))`)
		return each(rows, err, func(rows *sql.Rows) error {
			var r LogRow
			var at int64
			var prev, mac []byte
			err := rows.Scan(&r.Seq, &at, &r.Actor.ID, &r.Role, &r.Action, &r.Object, &r.ObjectID, &r.Ended, &r.Reason, &r.Request, &prev, &mac)
			r.At = fromUnix(at)
			tried, fits = true, fits || hmac.Equal(mac, rowMAC(s.logKey, &r, prev))
			return err
		})
	})
	if err == nil && tried && !fits {
		return invalid("This is not the key that the log of this practice is kept with. Put its own key back in its place.")
	}
	return err
}
