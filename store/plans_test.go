package store_test

import (
	"regexp"
	"strings"
	"testing"
	"time"

	"wearround/store"
	"wearround/store/storetest"
	"wearround/worker/wear"
)

// wholes are the queries that ask for the whole of a table that grows, by how
// they begin, and why they may.
var wholes = map[string]string{
	`SELECT "`:                               "the rows of a table, when its seals are verified",
	"SELECT id, code, name, birth_date":      "the register whole, for its page and its search",
	"SELECT DISTINCT action FROM audit":      "by an index, once a page of the log",
	"SELECT outcome, count(*) FROM drops":    "counts by an index, once a change",
	"SELECT fate, count(*) FROM drops":       "counts by an index, once a change",
	"SELECT value,":                          "the list it scans is the page's",
	"SELECT count(*), coalesce(sum(state":    "the files of a period, counted",
	"SELECT sha256":                          "every original, for the backup and the check",
	"SELECT id, sha256":                      "every original, for the backup and the check",
	"SELECT seq, at, actor":                  "the log whole, when it is verified",
	"SELECT id, login, name":                 "the people who work here are few",
	"SELECT code, name, birth_date FROM pat": "the register whole, to find twins in a list",
}

// growing are the tables that grow with every wear or every act.
var growing = regexp.MustCompile(`^SCAN (patients|files|drops|wears|wear_flags|wear_days|wear_prints|reports|file_wears|answers|audit|outcomes|contacts|results|recalls|letters|notes|added_events|seals|past|judgements|words_read|statements|handovers|moves|reopenings|calls|overrides|red_flags)\b`)

// bounded are the ways of going through an index that do not grow: of what is on
// the round or not taken over alone, and in the order of a page with a limit.
var bounded = regexp.MustCompile(`INDEX (wears_open|drops_newest|handovers_open)\b`)

// TestNoQueryScansWhatGrows files, shows, works and audits, then has SQLite
// explain every statement that was run: none goes through the whole of a table
// that grows, but where the whole is asked for.
func TestNoQueryScansWhatGrows(t *testing.T) {
	w := newWard(t, wear.FlagAbove7_8)
	second := w.file(t)
	now := w.clock.Now()
	one, err := w.Wear(ctx, w.wear)
	must(t, err)
	w.claim(t, w.nurse, w.wear)
	must(t, w.AddEvents(ctx, w.nurse, w.wear, []wear.Event{{At: one.Report.Start.Unix() + 3600, Kind: wear.Meal, Label: "meal"}}))
	_, err = w.RecordContact(ctx, w.nurse, w.wear, store.NewContact{Means: store.ByTelephone, NextTry: now.Add(24 * time.Hour)})
	must(t, err)
	must(t, w.RecordDrop(ctx, store.Drop{Path: "a.csv", Size: 1, ModTime: now, Fate: store.Refused, Code: "empty"}))
	for range 5 { // on every connection that reads
		for _, q := range []store.RoundQuery{{Limit: 50, Now: now}, {Limit: 50, Now: now, Text: "ba"}, {Limit: 50, Now: now, Tiers: []wear.Tier{wear.Today}}, {Limit: 50, Now: now, View: store.Handed, Roles: []store.Role{store.RoleNurse}}} {
			_, err := w.Round(ctx, q)
			must(t, err)
		}
		for _, f := range []store.Fate{"", store.Held, store.Filed} {
			_, err := w.Drops(ctx, store.DropQuery{Limit: 50, Fate: f})
			must(t, err)
		}
		_, err := w.Wear(ctx, second)
		must(t, err)
		readings, _, err := w.Trace(ctx, second)
		must(t, err)
		_, err = w.Lookalikes(ctx, w.patient.ID, readings)
		must(t, err)
		_, err = w.OverlappingWears(ctx, w.patient.ID, now, now)
		must(t, err)
		_, err = w.Review(ctx, w.wear)
		must(t, err)
		_, err = w.RegisterSummaries(ctx, []int64{w.patient.ID})
		must(t, err)
		_, err = w.WearsOf(ctx, w.patient.ID)
		must(t, err)
		_, err = w.Recalls(ctx, store.RecallQuery{PatientID: w.patient.ID, Limit: 10})
		must(t, err)
		_, err = w.Recalls(ctx, store.RecallQuery{DueBefore: now, Limit: 10})
		must(t, err)
		_, err = w.LogRows(ctx, store.LogQuery{PatientID: w.patient.ID, Limit: 10})
		must(t, err)
		_, err = w.NextWear(ctx, w.nurse, 0)
		must(t, err)
		_, _, err = w.KnownFile(ctx, storetest.Hash(1))
		must(t, err)
		_, err = w.SeenDrops(ctx, []store.Drop{{Path: "a.csv", Size: 1, ModTime: now}})
		must(t, err)
		_, err = w.AnsweredFiles(ctx)
		must(t, err)
		_, err = w.Daily(ctx, now)
		must(t, err)
		_, err = w.RecipeBook(ctx)
		must(t, err)
		_, err = w.DataVersion(ctx)
		must(t, err)
		_, _, err = w.JudgeAnew(ctx, 0)
		must(t, err)
	}
	texts := store.KeptTexts(t, w.Store)
	if len(texts) < 60 {
		t.Errorf("only %d statements were run", len(texts))
	}
	_, reader := w.Pools()
	for _, text := range texts {
		// What a foreign key would have to look for after an insert stands in its
		// plan, and is passed over when it runs.
		if strings.HasPrefix(text, "PRAGMA") || strings.HasPrefix(text, "INSERT") || whole(text) {
			continue
		}
		rows, err := reader.Query("EXPLAIN QUERY PLAN "+text, make([]any, strings.Count(text, "?"))...)
		must(t, err)
		for rows.Next() {
			var id, parent, unused int
			var step string
			must(t, rows.Scan(&id, &parent, &unused, &step))
			if strings.HasPrefix(text, "SELECT wear_id FROM (SELECT wear_id FROM reports") && strings.HasPrefix(step, "SEARCH") && !strings.Contains(step, "reports_basis") {
				t.Errorf("the look for reports by another protocol goes through all: %s", step)
			}
			if growing.MatchString(step) && !bounded.MatchString(step) {
				t.Errorf("%s:\n\t%s", step, strings.Join(strings.Fields(text), " "))
			}
		}
		must(t, rows.Close())
		must(t, rows.Err())
	}
}

func whole(text string) bool {
	for begins := range wholes {
		if strings.HasPrefix(text, begins) && (begins != `SELECT "` || !strings.Contains(text, " WHERE ")) {
			return true
		}
	}
	return false
}
