package store_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"wearround/store"
	"wearround/store/storetest"
	"wearround/worker/wear"
)

// logged makes a store with a log of some dozens of rows of every sort.
func logged(t *testing.T) (*store.Store, *storetest.Clock, store.Actor) {
	t.Helper()
	s, clock := storetest.Open(t)
	clock.Tampered() // who uses this changes the log by hand
	nurse := storetest.AddUser(t, s, "Rilo", store.RoleNurse)
	nurse.Request = "r-17"
	p := storetest.AddPatient(t, s, 1)
	for n := range 5 {
		id := storetest.File(t, s, storetest.Filing(n, p.ID, clock.Now().Add(time.Duration(n)*40*24*time.Hour), 1, wear.Routine, 1))
		must(t, s.RecordView(ctx, nurse, "wear", id))
		_, err := s.Claim(ctx, nurse, id)
		must(t, err)
		_, err = s.TakeOver(ctx, nurse, id, "back from lunch")
		must(t, err)
		must(t, s.Release(ctx, nurse, id))
		clock.Advance(time.Hour)
	}
	return s, clock, nurse
}

func check(t *testing.T, s *store.Store, anchors ...store.Anchor) store.LogCheck {
	t.Helper()
	c, err := s.VerifyLog(ctx, anchors...)
	must(t, err)
	return c
}

func TestAuditLog(t *testing.T) {
	s, clock, nurse := logged(t)
	c := check(t, s)
	if !c.OK() || c.Rows < 20 || c.Head.Seq != c.Rows {
		t.Fatalf("a sound log: %+v", c)
	}
	rows, err := s.LogRows(ctx, store.LogQuery{Action: "take a wear over", Limit: 1})
	must(t, err)
	want := store.LogRow{
		Seq: rows[0].Seq, At: clock.Now().Add(-time.Hour), Actor: store.Person{ID: nurse.UserID, Name: "Rilo"}, Role: "nurse",
		Action: "take a wear over", Object: "wear", ObjectID: 5, Ended: "done", Reason: "back from lunch", Request: "r-17",
	}
	if rows[0] != want {
		t.Errorf("got  %+v\nwant %+v", rows[0], want)
	}
	for name, q := range map[string]store.LogQuery{
		"by user":    {UserID: nurse.UserID},
		"by people":  {UserID: store.AnyPerson},
		"of a wear":  {Object: "wear", ObjectID: 3},
		"of patient": {PatientID: 1},
		"by time":    {From: storetest.Start.Add(time.Hour), To: storetest.Start.Add(2 * time.Hour)},
		"before":     {Before: 4},
	} {
		q.Limit = 200
		rows, err := s.LogRows(ctx, q)
		must(t, err)
		if len(rows) == 0 || int64(len(rows)) == c.Rows {
			t.Errorf("%s: %d rows of %d", name, len(rows), c.Rows)
		}
		for i, r := range rows {
			if i > 0 && r.Seq >= rows[i-1].Seq || q.UserID == store.AnyPerson && r.Actor.ID == 0 ||
				q.UserID > 0 && r.Actor.ID != q.UserID || q.ObjectID != 0 && r.ObjectID != q.ObjectID || q.Before != 0 && r.Seq >= q.Before ||
				!q.From.IsZero() && (r.At.Before(q.From) || !r.At.Before(q.To)) {
				t.Errorf("%s: %+v does not belong here", name, r)
			}
		}
	}
}

func TestAuditRefusesChange(t *testing.T) {
	s, _, _ := logged(t)
	writer, _ := s.Pools()
	for _, query := range []string{"UPDATE audit SET reason = ''", "DELETE FROM audit", "DELETE FROM audit WHERE seq = 3", "DELETE FROM audit_head"} {
		if _, err := writer.Exec(query); err == nil || !strings.Contains(err.Error(), "only grows") {
			t.Errorf("%s: %v", query, err)
		}
	}
	if c := check(t, s); !c.OK() {
		t.Errorf("after refused changes: %+v", c)
	}
}

// Somebody with the file can take the triggers off; the chain must tell then.
func unlock(t *testing.T, s *store.Store) func(query string, args ...any) {
	t.Helper()
	writer, _ := s.Pools()
	run := func(query string, args ...any) {
		t.Helper()
		if _, err := writer.Exec(query, args...); err != nil {
			t.Fatalf("%s: %v", query, err)
		}
	}
	run("DROP TRIGGER audit_no_update")
	run("DROP TRIGGER audit_no_delete")
	run("DROP TRIGGER audit_head_no_delete")
	return run
}

// Every byte of every column of a first, a middle and the last row is flipped
// in turn; the walk must name that row.
func TestAuditFindsAFlippedByte(t *testing.T) {
	s, _, _ := logged(t)
	run := unlock(t, s)
	_, reader := s.Pools()
	sound := check(t, s)
	flips := 0
	find := func(what string, seq int64) {
		t.Helper()
		flips++
		if c := check(t, s); c.Broken != seq {
			t.Errorf("%s: %+v, want row %d", what, c, seq)
		}
	}
	for _, seq := range []int64{1, sound.Rows / 2, sound.Rows} {
		for _, column := range []string{"at", "actor", "object_id"} {
			for bit := range 63 {
				flip := fmt.Sprintf("UPDATE audit SET %[1]s = (%[1]s | ?1) - (%[1]s & ?1) WHERE seq = ?2", column)
				run(flip, int64(1)<<bit, seq)
				find(fmt.Sprintf("%s of %d, bit %d", column, seq, bit), seq)
				run(flip, int64(1)<<bit, seq)
			}
		}
		for bit := range 63 { // where no other row has that number
			to := seq ^ int64(1)<<bit
			if to <= sound.Rows {
				continue
			}
			run("UPDATE audit SET seq = ? WHERE seq = ?", to, seq)
			find(fmt.Sprintf("seq of %d, bit %d", seq, bit), seq)
			run("UPDATE audit SET seq = ? WHERE seq = ?", seq, to)
		}
		for _, column := range []string{"role", "action", "object", "outcome", "reason", "request", "prev", "mac"} {
			var was []byte
			must(t, reader.QueryRow("SELECT CAST("+column+" AS BLOB) FROM audit WHERE seq = ?", seq).Scan(&was))
			set := func(value []byte) {
				if column == "prev" || column == "mac" {
					run("UPDATE audit SET "+column+" = ? WHERE seq = ?", value, seq)
				} else {
					run("UPDATE audit SET "+column+" = ? WHERE seq = ?", string(value), seq)
				}
			}
			for i := range was {
				now := append([]byte{}, was...)
				now[i] ^= 1
				set(now)
				find(fmt.Sprintf("%s of %d, byte %d", column, seq, i), seq)
			}
			set(append([]byte("x"), was...))
			find(fmt.Sprintf("%s of %d, longer", column, seq), seq)
			set(was)
		}
	}
	if c := check(t, s); !c.OK() || flips < 800 {
		t.Errorf("after %d flips back: %+v", flips, c)
	}
}

// Letters that move from one field to the next change the row.
func TestAuditFieldsAreApart(t *testing.T) {
	s, _, _ := logged(t)
	run := unlock(t, s)
	run("UPDATE audit SET action = 'a wear', role = role || 'claim ' WHERE seq = (SELECT min(seq) FROM audit WHERE action = 'claim a wear')")
	if c := check(t, s); c.OK() {
		t.Error("fields ran into each other")
	}
}

func TestAuditFindsWhatIsGone(t *testing.T) {
	tests := []struct {
		name   string
		change func(run func(string, ...any), rows int64)
		want   func(rows int64) int64 // Broken
	}{
		{"a row taken out", func(run func(string, ...any), _ int64) { run("DELETE FROM audit WHERE seq = 4") }, func(int64) int64 { return 4 }},
		{"a row taken out and the rest moved up", func(run func(string, ...any), _ int64) {
			run("DELETE FROM audit WHERE seq = 4")
			run("UPDATE audit SET seq = seq - 1 WHERE seq > 4")
		}, func(int64) int64 { return 4 }},
		{"two rows changed places", func(run func(string, ...any), _ int64) {
			run("UPDATE audit SET seq = CASE seq WHEN 4 THEN -5 ELSE -4 END WHERE seq IN (4, 5)")
			run("UPDATE audit SET seq = -seq WHERE seq < 0")
		}, func(int64) int64 { return 4 }},
		{"the end cut off", func(run func(string, ...any), rows int64) { run("DELETE FROM audit WHERE seq > ?", rows-3) }, func(rows int64) int64 { return rows - 2 }},
		{"the end cut off with its note moved", func(run func(string, ...any), rows int64) {
			run("DELETE FROM audit WHERE seq > ?", rows-3)
			run("UPDATE audit_head SET seq = ?1, mac = (SELECT mac FROM audit WHERE seq = ?1)", rows-3)
		}, func(rows int64) int64 { return rows - 3 }},
		{"everything", func(run func(string, ...any), _ int64) { run("DELETE FROM audit"); run("DELETE FROM audit_head") }, func(int64) int64 { return 1 }},
		{"the note of the newest", func(run func(string, ...any), _ int64) { run("DELETE FROM audit_head") }, func(rows int64) int64 { return rows }},
		{"a row put in at the end", func(run func(string, ...any), rows int64) {
			run("INSERT INTO audit SELECT seq + 1, at, actor, role, action, object, object_id, outcome, reason, request, mac, mac FROM audit WHERE seq = ?", rows)
		}, func(rows int64) int64 { return rows + 1 }},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			s, _, _ := logged(t)
			rows := check(t, s).Rows
			test.change(unlock(t, s), rows)
			if c := check(t, s); c.Broken != test.want(rows) || c.Why == "" {
				t.Errorf("%+v, want row %d", c, test.want(rows))
			}
		})
	}
}

// Somebody who kept an older sealed head can put it back with the rows of its
// time; only an anchor in a second place tells.
func TestAuditAnchor(t *testing.T) {
	s, _, nurse := logged(t)
	writer, reader := s.Pools()
	var seq int64
	var mac, seal []byte
	must(t, reader.QueryRow("SELECT seq, mac, seal FROM audit_head").Scan(&seq, &mac, &seal))
	must(t, s.RecordView(ctx, nurse, "wear", 1))
	anchor, err := s.LogHead(ctx)
	must(t, err)
	must(t, s.RecordView(ctx, nurse, "wear", 2))
	if c := check(t, s, anchor); !c.OK() {
		t.Errorf("a sound log against its anchor: %+v", c)
	}
	if c := check(t, s, store.Anchor{Seq: anchor.Seq}); c.Broken != anchor.Seq {
		t.Errorf("against another log's anchor: %+v", c)
	}
	unlock(t, s)
	if _, err := writer.Exec("DELETE FROM audit WHERE seq > ?", seq); err != nil {
		t.Fatal(err)
	}
	if _, err := writer.Exec("UPDATE audit_head SET seq = ?, mac = ?, seal = ?", seq, mac, seal); err != nil {
		t.Fatal(err)
	}
	if c := check(t, s); !c.OK() {
		t.Errorf("without an anchor nothing can tell: %+v", c)
	}
	if c := check(t, s, anchor); c.Broken != seq+1 {
		t.Errorf("against the anchor: %+v, want row %d", c, seq+1)
	}
}

func TestAuditKey(t *testing.T) {
	s, _, _ := logged(t)
	other := storetest.AuditKey()
	other[0]++
	must(t, s.SetLogKey(other))
	if c := check(t, s); c.Broken != 1 {
		t.Errorf("with another key: %+v", c)
	}
	if err := s.SetLogKey(nil); store.CodeOf(err) != store.Invalid {
		t.Errorf("an empty key: %v", err)
	}
}

// Nothing that fails leaves a row, and nothing that changes the data goes
// without one, whether or not its method names what it did.
func TestEveryChangeIsLogged(t *testing.T) {
	s, clock := storetest.Open(t)
	rows := func() int64 { return check(t, s).Rows }
	p := storetest.AddPatient(t, s, 1)
	before := rows()
	if _, _, err := s.File(ctx, storetest.Filing(1, 99, clock.Now(), 1, wear.Routine, 1)); err == nil {
		t.Fatal("filed for nobody")
	}
	if got := rows(); got != before {
		t.Errorf("what failed left %d rows", got-before)
	}
	for name, change := range map[string]func() error{
		"add patients": func() error { return s.AddPatients(ctx, []store.Patient{storetest.Patient(2)}) },
		"file": func() error {
			_, _, err := s.File(ctx, storetest.Filing(1, p.ID, clock.Now(), 1, wear.Routine, 1))
			return err
		},
		"hold": func() error { _, err := s.Hold(ctx, holding(2, clock.Now(), unitQuestion())); return err },
		"drop": func() error {
			return s.RecordDrop(ctx, store.Drop{Path: "x", Size: 1, ModTime: clock.Now(), Fate: store.Refused})
		},
		"name rule": func() error { return s.SetNameRule(ctx, "x") },
	} {
		before, version0 := rows(), version(t, s)
		must(t, change())
		if rows() == before || version(t, s) == version0 {
			t.Errorf("%s: %d rows, version %d", name, rows()-before, version(t, s))
		}
	}
}

// A change by a method that takes no actor is put down to whom the context
// names, and to the program where it names nobody.
func TestAs(t *testing.T) {
	s, _, nurse := logged(t)
	for i, c := range []struct {
		who  store.Actor
		name string
	}{{nurse, "Rilo"}, {store.Actor{}, ""}} {
		must(t, s.AddPatients(store.As(ctx, c.who), []store.Patient{storetest.Patient(50 + i)}))
		rows, err := s.LogRows(ctx, store.LogQuery{Limit: 1})
		must(t, err)
		if r := rows[0]; r.Action != "add patients" || r.Actor.Name != c.name || r.Request != c.who.Request {
			t.Errorf("%+v", r)
		}
	}
}

// A method that takes no actor asks for the role of whom the context names.
func TestAsNeedsTheRole(t *testing.T) {
	s, clock, nurse := logged(t)
	auditor := storetest.AddUser(t, s, "Sefa", store.RoleAuditor)
	file, err := s.Hold(ctx, holding(90, clock.Now(), unitQuestion()))
	must(t, err)
	for name, change := range map[string]func(store.Actor) error{
		"answer": func(a store.Actor) error {
			return s.Answer(store.As(ctx, a), file, map[string]string{"unit": "mmol/L"})
		},
		"add a patient": func(a store.Actor) error {
			return s.AddPatients(store.As(ctx, a), []store.Patient{storetest.Patient(60)})
		},
		"withdraw":       func(a store.Actor) error { return s.Withdraw(store.As(ctx, a), 1, "wrong") },
		"read again":     func(a store.Actor) error { _, err := s.ReadAgain(store.As(ctx, a), 1); return err },
		"sensor kind":    func(a store.Actor) error { return s.SetSensorKind(store.As(ctx, a), 1, "B") },
		"file-name rule": func(a store.Actor) error { return s.SetNameRule(store.As(ctx, a), "{code}") },
	} {
		wants(t, change(auditor), store.Forbidden, "role")
		rows, err := s.LogRows(ctx, store.LogQuery{UserID: auditor.UserID, Limit: 1})
		must(t, err)
		if len(rows) != 1 || rows[0].Ended != "refused" {
			t.Errorf("%s: the refusal is not in the log: %+v", name, rows)
		}
		if err, want := change(nurse), name == "file-name rule"; (store.CodeOf(err) == store.Forbidden) != want {
			t.Errorf("%s by a nurse: %v, want refused %v", name, err, want)
		}
	}
}
