package worker

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"wearround/store"
	"wearround/store/storetest"
	"wearround/worker/wear"
)

// act is something that somebody does. What it is about was chosen before, so
// that a twin of the practice can do the same.
type act struct {
	name  string
	ready func(*practice) error // is done first, and stays
	do    func(*practice) error
	undo  func(*practice) error // takes it back; nil where nothing does

	brief     bool // it must be taken back at once
	alone     bool // what others do about the same in between makes a difference by right
	several   bool // it is more than one transaction, each of which stands
	mayStay   bool // what others did may forbid to take it back
	refusable bool // whether a refusal left all as it was is looked at too

	wears, patients []int64 // that may come back to the round by it; both nil is all
}

// errNothing says that an act found all done already.
var errNothing = errors.New("nothing to do")

// actNames are what a year must have seen.
var actNames = []string{
	"file", "fingerstick", "symptom", "override", "result", "red flag", "words", "outcome", "merge", "context", "reopen", "letter", "send",
	"rename", "recall", "close recall", "note", "contact", "hand over", "take over", "two claim", "call", "zone", "answer", "protocol", "correct", "sheet", "out",
}

// as is somebody who acts now, in a request of their own.
func (p *practice) as(a store.Actor) store.Actor {
	a.Request = strconv.Itoa(p.request)
	return a
}

// arrival is a file that came into the folder.
func arrival(name string) act {
	return act{name: "file", do: func(p *practice) error {
		if _, err := p.w.Take(context.Background(), name); err != nil {
			return err
		}
		p.w.Reread(context.Background())
		return nil
	}}
}

// anyOf gives one of the ids that a query finds, mostly a late one.
func (p *practice) anyOf(r *rand.Rand, query string, args ...any) int64 {
	p.Helper()
	list := p.rows(query, args...)
	if len(list) == 0 {
		return 0
	}
	id, err := strconv.ParseInt(list[max(0, len(list)-1-r.IntN(min(len(list), 40)))], 10, 64)
	p.must(err)
	return id
}

const liveWears = "SELECT id FROM wears WHERE joined_into IS NULL ORDER BY received_at, id"

// fact is an act that adds something that wears are judged by, about a wear or a
// patient that is there now.
func fact(p *practice, r *rand.Rand) act {
	id := p.anyOf(r, liveWears)
	if id == 0 {
		return act{}
	}
	patient := p.number("SELECT patient_id FROM wears WHERE id = ?", id)
	in, err := p.s.WearInputs(context.Background(), id)
	p.must(err)
	at := in.Readings[r.IntN(len(in.Readings))].At
	added := func(name string, e wear.Event) act {
		var made int64
		return act{
			name: name, wears: []int64{id},
			do: func(p *practice) error {
				before := p.number("SELECT coalesce(max(id), 0) FROM added_events")
				err := p.s.AddEvents(p.ctx, p.as(p.nurse), id, []wear.Event{e})
				made = before + 1
				return err
			},
			undo: func(p *practice) error { return p.s.WithdrawEvent(p.ctx, p.as(p.other), made, "another patient's") },
		}
	}
	switch r.IntN(7) {
	case 0:
		num := []int64{19, 28, 52, 55, 61, 120, 185}[r.IntN(7)]
		return added("fingerstick", wear.Event{At: at, Kind: wear.Fingerstick, Value: wear.Reading{At: at, Num: num, Scale: 1, Unit: wear.MmolL}})
	case 1:
		return added("symptom", wear.Event{At: at, Kind: wear.Symptom, Label: []string{"shaky", "headache", "passed out", "thirsty"}[r.IntN(4)]})
	case 2:
		var made int64
		believe := r.IntN(3) == 0
		return act{
			name: "override", wears: []int64{id},
			do: func(p *practice) (err error) {
				made, err = p.s.AddOverride(p.ctx, p.as(p.clinician), store.NewOverride{
					WearID: id, From: time.Unix(at, 0), To: time.Unix(at+4*3600, 0), Believe: believe, Reason: "lay on it", Seen: storetest.Seen(p, p.s, id),
				})
				return err
			},
			undo: func(p *practice) error { return p.s.WithdrawOverride(p.ctx, p.as(p.clinician), made, "it did not") },
		}
	case 3:
		return laboratory(p, r, patient, id)
	case 4:
		code := wear.RedFlagKinds()[r.IntN(len(wear.RedFlagKinds()))].Code
		var made int64
		return act{
			name: "red flag", wears: []int64{id},
			do: func(p *practice) error {
				before := p.number("SELECT coalesce(max(id), 0) FROM red_flags")
				err := p.s.AddRedFlags(p.ctx, p.as(p.nurse), id, []string{code})
				if made = p.number("SELECT coalesce(max(id), 0) FROM red_flags"); err == nil && made == before {
					return errNothing
				}
				return err
			},
			undo: func(p *practice) error { return p.s.WithdrawRedFlag(p.ctx, p.as(p.nurse), made, "misheard") },
		}
	case 5:
		w, err := p.s.Wear(context.Background(), id)
		p.must(err)
		i := slices.IndexFunc(w.Report.Words, func(x wear.Words) bool { return x.ReadAs == wear.Unread })
		if i < 0 {
			return act{}
		}
		key, as := w.Report.Words[i].Key, []wear.ReadAs{wear.ReadNothing, wear.ReadSymptom, wear.ReadSevere}[r.IntN(3)]
		var made int64
		return act{
			name: "words", wears: []int64{id},
			do: func(p *practice) error {
				n, err := p.s.Read(p.ctx, p.as(p.nurse), id, map[string]wear.ReadChange{key: {As: as}})
				if err == nil && n == 0 {
					return errNothing
				}
				made = p.number("SELECT coalesce(max(id), 0) FROM words_read")
				return err
			},
			undo: func(p *practice) error { return p.s.WithdrawRead(p.ctx, p.as(p.nurse), made, "misread") },
		}
	}
	what := r.IntN(4)
	tick := func(to bool) func(*practice) error {
		return func(p *practice) error {
			rec, err := p.s.PatientRecord(p.ctx, patient)
			if err != nil {
				return err
			}
			box := []*bool{&rec.Context.Pregnant, &rec.Context.Insulin, &rec.Context.Steroid, &rec.Context.FamilyHistory}[what]
			if *box == to {
				return errNothing
			}
			*box = to
			return p.s.EditPatient(p.ctx, p.as(p.nurse), rec)
		}
	}
	if r.IntN(4) == 0 {
		return act{name: "context", patients: []int64{patient}, do: tick(false)}
	}
	return act{name: "context", patients: []int64{patient}, do: tick(true), undo: tick(false)}
}

// laboratory is a result on record, from a recall where one waits for it.
func laboratory(p *practice, r *rand.Rand, patient, wearID int64) act {
	n := store.NewResult{PatientID: patient, Kind: store.HbA1c, Unit: "mmol/mol", Value: []string{"33", "36", "41", "44", "52", "97", ">60"}[r.IntN(7)], TakenAt: p.clock.Now().Add(-time.Duration(r.IntN(60)) * 24 * time.Hour)}
	if r.IntN(3) == 0 {
		n.Kind, n.Unit, n.Value = store.Fasting, "mmol/L", []string{"5.1", "6.4", "7.6", "2.8"}[r.IntN(4)]
	}
	if r.IntN(2) == 0 {
		n.WearID = wearID
	}
	if r.IntN(2) == 0 {
		n.RecallID = p.anyOf(r, "SELECT id FROM recalls WHERE kind = 'result' AND closed_at IS NULL AND patient_id = ?", patient)
	}
	var made int64
	return act{
		name: "result", patients: []int64{patient},
		do: func(p *practice) (err error) { made, err = p.s.AddResult(p.ctx, p.as(p.nurse), n); return err },
		undo: func(p *practice) error {
			return p.s.WithdrawResult(p.ctx, p.as(p.clinician), made, "another patient's")
		},
	}
}

// plan chooses what somebody does next; it may be refused.
func plan(p *practice, r *rand.Rand) act {
	p.request++
	who := []store.Actor{p.nurse, p.other, p.clinician, p.lead}[r.IntN(4)]
	id := p.anyOf(r, liveWears)
	if next, err := p.s.NextWear(p.ctx, who, 0); r.IntN(3) > 0 && err == nil && next != 0 {
		id = next
	}
	if id == 0 {
		return act{}
	}
	patient := p.number("SELECT patient_id FROM wears WHERE id = ?", id)
	soon := p.clock.Now().Add(time.Duration(1+r.IntN(40)) * 24 * time.Hour)
	claim := func(p *practice) error { _, err := p.s.Claim(p.ctx, p.as(who), id); return err }
	on := func(name string, do func(*practice) error) act {
		return act{name: name, wears: []int64{id}, do: do, refusable: r.IntN(4) == 0}
	}
	switch n := r.IntN(47); {
	case n < 12:
		return fact(p, r)
	case n < 20:
		return outcome(p, r, who, id, soon)
	case n == 20:
		return merging(p, r)
	case n == 21:
		return on("reopen", func(p *practice) error { return p.s.Reopen(p.ctx, p.as(who), id, "rang back") })
	case n < 25:
		return letters(p, r, who, patient, id)
	case n == 25:
		kind := []store.RecallKind{store.RecallResult, store.RecallNewWear, store.RecallReview}[r.IntN(3)]
		return on("recall", func(p *practice) error {
			_, err := p.s.AddRecall(p.ctx, p.as(who), store.NewRecall{PatientID: patient, WearID: id, Kind: kind, DueAt: soon})
			return err
		})
	case n < 29:
		c := p.anyOf(r, "SELECT id FROM recalls WHERE closed_at IS NULL ORDER BY due_at DESC")
		how := r.IntN(4)
		return on("close recall", func(p *practice) (err error) {
			switch how {
			case 0:
				_, err = p.s.ContactRecall(p.ctx, p.as(who), c, store.NewContact{Means: store.ByMessage})
			case 1:
				err = p.s.MoveRecall(p.ctx, p.as(who), c, soon, "away", 0)
			case 2:
				err = p.s.CloseRecall(p.ctx, p.as(who), c, "seen", 0)
			default:
				err = p.s.CancelRecall(p.ctx, p.as(who), c, "moved away", 0)
			}
			return err
		})
	case n == 29:
		words := []string{"rang at noon", "he collapsed and an ambulance came", "will ring back"}[r.IntN(3)]
		if r.IntN(2) == 0 {
			return act{name: "note", patients: []int64{patient}, do: func(p *practice) error { _, err := p.s.AddPatientNote(p.ctx, p.as(who), patient, words); return err }}
		}
		return on("note", func(p *practice) error { _, err := p.s.AddNote(p.ctx, p.as(who), id, words); return err })
	case n < 32:
		reached := r.IntN(2) == 0
		a := on("contact", func(p *practice) error {
			_, err := p.s.RecordContact(p.ctx, p.as(who), id, store.NewContact{Means: store.ByTelephone, Reached: reached, NextTry: p.clock.Now().Add(24 * time.Hour)})
			return err
		})
		a.ready = claim
		return a
	case n == 32:
		return on("hand over", func(p *practice) error {
			_, err := p.s.HandOver(p.ctx, p.as(who), id, store.NewHandover{To: store.RoleClinician, Reason: "I cannot judge this"})
			return err
		})
	case n == 33:
		return on("take over", func(p *practice) error { _, err := p.s.TakeOver(p.ctx, p.as(who), id, "it was urgent"); return err })
	case n == 34:
		return on("two claim", func(p *practice) error { return p.twoClaim(id) })
	case n < 37:
		return on("call", func(p *practice) error { return p.call(who, id) })
	case n == 37:
		return zone(p, r, who, id)
	case n < 41:
		return answering(p, r, who)
	case n == 41:
		return protocol(p, r)
	case n == 42:
		last := p.anyOf(r, "SELECT id FROM outcomes o WHERE "+inForce+" ORDER BY id")
		o := random(r, soon)
		return on("correct", func(p *practice) error {
			_, err := storetest.Looking{Store: p.s, T: p}.CorrectOutcome(p.ctx, p.as(who), last, o)
			return err
		})
	case n == 43:
		return sheet(p, who)
	case n == 45:
		return renaming(p, patient)
	case n == 44:
		given := p.clock.Now()
		return act{name: "out", patients: []int64{}, do: func(p *practice) error {
			rec, err := p.s.PatientRecord(p.ctx, patient)
			if err != nil {
				return err
			}
			_, _, err = p.s.HandOut(p.ctx, p.as(who), store.NewOut{Patient: rec, GivenAt: given, DueAt: given.AddDate(0, 0, 20), SensorKind: "A"})
			return err
		}}
	}
	return misnamed(p, r, who)
}

func random(r *rand.Rand, soon time.Time) store.NewOutcome {
	rules := store.Rules()
	rule := rules[r.IntN(len(rules))]
	o := store.NewOutcome{Kind: rule.Kind, Reason: "as agreed", Attempts: 3}
	if rule.Recall != "" && r.IntN(10) > 0 {
		o.Recall = soon
	}
	return o
}

// outcome ends the work on a wear that is claimed first.
func outcome(p *practice, r *rand.Rand, who store.Actor, id int64, soon time.Time) act {
	o := random(r, soon)
	o.WearID = id
	var made int64
	return act{
		name: "outcome", wears: []int64{id}, brief: true, alone: true, refusable: r.IntN(4) == 0, mayStay: true,
		ready: func(p *practice) error { _, err := p.s.Claim(p.ctx, p.as(who), id); return err },
		do: func(p *practice) error {
			o := o
			o.Seen = storetest.Seen(p, p.s, id)
			x, err := p.s.RecordOutcome(p.ctx, p.as(who), o)
			if made = x.ID; err == nil && p.number("SELECT evidence FROM outcomes WHERE id = ?", made) != o.Seen {
				p.Errorf("outcome %d is on other evidence than was seen", made)
			}
			return err
		},
		undo: func(p *practice) error { return p.s.UndoOutcome(p.ctx, p.as(who), made) },
	}
}

func merging(p *practice, r *rand.Rand) act {
	const live = "SELECT id FROM patients WHERE merged_into IS NULL ORDER BY id"
	a, b := p.anyOf(r, live), p.anyOf(r, live)
	if a == b {
		return act{}
	}
	var made int64
	return act{
		name: "merge", patients: []int64{a, b}, mayStay: true,
		do: func(p *practice) (err error) {
			made, err = p.s.Merge(p.ctx, p.as(p.lead), a, b, "entered twice")
			return err
		},
		undo: func(p *practice) error { return p.s.UndoMerge(p.ctx, p.as(p.lead), made, "two people after all") },
	}
}

func letters(p *practice, r *rand.Rand, who store.Actor, patient, id int64) act {
	var made int64
	open := func(p *practice) (err error) {
		made, err = storetest.Looking{Store: p.s, T: p}.OpenLetter(p.ctx, p.as(who), store.NewLetter{PatientID: patient, WearID: id, Kind: "tests", Text: "Dear"})
		return err
	}
	if r.IntN(2) == 0 {
		return act{name: "letter", patients: []int64{}, do: open, undo: func(p *practice) error { return p.s.DiscardLetter(p.ctx, p.as(who), made) }}
	}
	waits := p.anyOf(r, "SELECT id FROM letters WHERE sent_at IS NULL AND discarded_at IS NULL ORDER BY id")
	if waits == 0 {
		return act{name: "letter", patients: []int64{}, do: open}
	}
	return act{name: "send", patients: []int64{}, refusable: true, do: func(p *practice) error {
		l, err := p.s.Letter(p.ctx, waits)
		if err != nil {
			return err
		}
		w, err := p.s.Wear(p.ctx, l.WearID)
		if err != nil {
			return err
		}
		err = p.s.SendLetter(p.ctx, p.as(who), waits, "Dear patient", store.ByPost)
		if err == nil && (w.Patient.ID != l.PatientID || w.Evidence != l.Seen && l.Seen != 0 || w.Patient.Named() != l.Named) {
			p.Errorf("letter %d went although its wear or patient is not what it was written from", waits)
		}
		return err
	}}
}

// renaming gives a patient another name.
func renaming(p *practice, patient int64) act {
	was, err := p.s.PatientRecord(p.ctx, patient)
	p.must(err)
	to := func(name string) func(*practice) error {
		return func(p *practice) error {
			rec, err := p.s.PatientRecord(p.ctx, patient)
			if err != nil {
				return err
			}
			rec.Name = name
			return p.s.EditPatient(p.ctx, p.as(p.nurse), rec)
		}
	}
	return act{name: "rename", patients: []int64{patient}, alone: true, mayStay: true, do: to(was.Name + " New"), undo: to(was.Name)}
}

// twoClaim has two people claim a wear at once: one of them gets it, or neither
// where a third has it.
func (p *practice) twoClaim(id int64) error {
	var both sync.WaitGroup
	var errs [2]error
	for i, a := range []store.Actor{p.as(p.nurse), p.as(p.clinician)} {
		both.Go(func() { _, errs[i] = p.s.Claim(p.ctx, a, id) })
	}
	both.Wait()
	if errs[0] == nil && errs[1] == nil {
		p.Errorf("two people have wear %d", id)
	}
	if errs[0] != nil {
		return errs[1]
	}
	return nil
}

func (p *practice) call(who store.Actor, id int64) error {
	w, err := p.s.Wear(p.ctx, id)
	if err != nil {
		return err
	}
	sheet := store.CallSheet{Seen: w.Evidence, Note: "rang"}
	for i, e := range w.Report.Episodes {
		x := store.CallAnswer{Asked: e.From.Unix(), Felt: store.FeltNo}
		if i%2 == 1 {
			x.Felt, x.At, x.Words, x.Relieved = store.FeltYes, x.Asked, "shaky", store.FeltYes
		}
		if i < 3 {
			sheet.Answers = append(sheet.Answers, x)
		}
	}
	_, err = p.s.RecordCall(p.ctx, p.as(who), id, sheet)
	return err
}

// zone says that the wearer's clock was another.
func zone(p *practice, r *rand.Rand, who store.Actor, id int64) act {
	was := p.rows("SELECT zone FROM wears WHERE id = ?", id)[0]
	to := []string{"Europe/London", "Asia/Tokyo"}[r.IntN(2)]
	set := func(name string) func(*practice) error {
		return func(p *practice) error {
			if _, err := p.s.SetZone(p.ctx, p.as(who), id, name); err != nil {
				return err
			}
			p.w.Reread(context.Background())
			return nil
		}
	}
	return act{name: "zone", wears: []int64{id}, mayStay: true, alone: true, do: set(to), undo: set(was)}
}

// answering answers what a held file asks.
func answering(p *practice, r *rand.Rand, who store.Actor) act {
	file := p.anyOf(r, "SELECT id FROM files WHERE state = 'held' ORDER BY id")
	if file == 0 {
		return act{}
	}
	f, err := p.s.FileByID(p.ctx, file)
	p.must(err)
	answers := map[string]string{}
	for _, q := range f.Questions {
		if len(q.Choices) == 0 {
			return act{}
		}
		answers[q.Code] = q.Choices[r.IntN(len(q.Choices))].Value
	}
	return act{
		name: "answer", mayStay: true, several: true,
		do: func(p *practice) error {
			if err := p.s.Answer(store.As(p.ctx, p.as(who)), file, answers); err != nil {
				return err
			}
			p.w.Reread(context.Background())
			return nil
		},
	}
}

// misnamed is a copy of a filed file under another patient's name.
func misnamed(p *practice, r *rand.Rand, who store.Actor) act {
	file := p.anyOf(r, "SELECT id FROM files WHERE state = 'filed' AND patient_id IS NOT NULL ORDER BY id")
	other := p.anyOf(r, "SELECT id FROM patients WHERE merged_into IS NULL ORDER BY id")
	if file == 0 {
		return act{}
	}
	path := p.rows("SELECT path FROM drops WHERE file_id = ? ORDER BY id LIMIT 1", file)[0]
	code := p.rows("SELECT code FROM patients WHERE id = ?", other)[0]
	if strings.HasPrefix(path, code) {
		return act{}
	}
	name := code + "_copy_" + strings.ReplaceAll(path, "_", "-")
	return act{name: "misnamed", several: true, do: func(p *practice) error {
		data, err := p.w.Archive.Get(p.rows("SELECT sha256 FROM files WHERE id = ?", file)[0])
		p.must(err)
		p.must(os.WriteFile(filepath.Join(p.drop, name), data, 0o600))
		return arrival(name).do(p)
	}}
}

// protocol has the practice judge by other limits.
func protocol(p *practice, r *rand.Rand) act {
	y := *wear.DefaultProtocol()
	if r.IntN(2) == 0 {
		y.Version += "-strict"
		y.Flag.Above7_8Pct -= 2
	}
	return act{name: "protocol", do: func(p *practice) error {
		p.by.Protocol = &y
		p.judgeBy()
		for last := int64(0); ; {
			next, failed, err := p.s.JudgeAnew(context.Background(), last)
			if err != nil || len(failed) > 0 {
				return fmt.Errorf("%v: %w", failed, err)
			}
			if last = next; last == 0 {
				return nil
			}
		}
	}}
}

// sheet signs what the routine sheet shows.
func sheet(p *practice, who store.Actor) act {
	list, err := p.s.RoutineSheet(p.ctx, p.as(who), p.clock.Now(), 3)
	p.must(err)
	var lines []store.SheetLine
	var ids []int64
	for _, w := range list.Rows {
		lines = append(lines, store.SheetLine{WearID: w.ID, Evidence: w.Evidence, Letter: store.NewLetter{Kind: "unremarkable", Text: "Dear", Named: w.Patient.Named()}})
		ids = append(ids, w.ID)
	}
	if len(lines) == 0 {
		return act{}
	}
	var made int64
	return act{
		name: "sheet", wears: ids, mayStay: true, brief: true, alone: true,
		do:   func(p *practice) (err error) { made, _, err = p.s.SignSheet(p.ctx, p.as(who), lines); return err },
		undo: func(p *practice) error { _, err := p.s.UndoSheet(p.ctx, p.as(who), made); return err },
	}
}
