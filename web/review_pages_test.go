package web

import (
	"bytes"
	"maps"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	"golang.org/x/net/html"

	"wearround/web/form"
	"wearround/web/letter"
	"wearround/worker/wear"
)

// TestNoLetterIsChosenBeforehand: which letter goes is the sender's choice alone.
func TestNoLetterIsChosenBeforehand(t *testing.T) {
	for _, r := range []*wear.Report{fullReport(""), {}} {
		for _, w := range (NewLetterPage{Report: r}).Ways() {
			if w.Chosen {
				t.Errorf("%s stands chosen", w.Kind)
			}
		}
	}
	chosen := 0
	for _, w := range (NewLetterPage{Report: fullReport(""), Form: form.Form{Values: url.Values{"kind": {string(letter.Clinician)}}}}).Ways() {
		if w.Chosen {
			chosen++
		}
	}
	if chosen != 1 {
		t.Errorf("of what was chosen %d are left", chosen)
	}
}

func fullUser(s string) User {
	return User{ID: 3, Name: "Oru Belvane" + s, Roles: []string{form.RoleNurse, form.RoleLead, "new" + s}, CSRF: "t0k3n" + s, IdleAt: clock(18, 10, 57)}
}

func wrong(s string, fields ...string) []form.FieldError {
	out := []form.FieldError{{Text: "it was changed meanwhile" + s}}
	for _, f := range fields {
		out = append(out, form.FieldError{Field: f, Text: "say what it is" + s})
	}
	return out
}

func fullWork(s string) *Work {
	return &Work{
		Form:    form.Form{Task: "fingerstick", Values: url.Values{"value": {"5,9" + s}, "unit": {"mg/dL"}}, Errors: wrong(s, "value", "at")},
		Version: 12, PatientID: 4, Claim: Claim{By: "Oru Belvane" + s, Mine: true, Until: clock(18, 11, 12)},
		Attempts: []form.Attempt{{At: clock(18, 9, 0), By: "Oru" + s, Means: "telephone", Note: "no answer" + s, NextTry: clock(19, 0, 0)}, {At: clock(17, 9, 0), Means: "new" + s, Reached: true}}, NextTry: clock(19, 0, 0),
		Added:     []Added{{ID: 5, Words: "meal, toast" + s, By: "Oru" + s, At: clock(18, 9, 0)}},
		Overrules: []Overrule{{ID: 6, From: clock(5, 1, 0), To: clock(5, 2, 0), Reason: "slept on it" + s, By: "Oru" + s, At: clock(18, 9, 0)}, {Believe: true}},
		Results:   results(s), Letters: letterLines(s), Before: "This month, 30.4 points" + s, Trail: trail(s),
	}
}

func results(s string) []Result {
	return []Result{
		{ID: 1, Test: "hba1c", Value: "43" + s, Unit: "mmol/mol" + s, TakenAt: clock(17, 0, 0), Class: "between usual and the diabetes range" + s, Criteria: "WHO" + s, Confirm: "repeat on another day" + s, Note: "anaemia" + s, By: "Oru" + s, At: clock(18, 9, 0)},
		{ID: 2, Test: "new" + s, Value: "5"},
	}
}

func letterLines(s string) []LetterLine {
	return []LetterLine{{ID: 8, Kind: letter.Tests, At: clock(18, 9, 0), By: "Oru" + s, How: "post"}, {ID: 9, Kind: letter.Kind("new" + s)}}
}

func trail(s string) []Entry {
	return []Entry{{At: clock(18, 9, 0), By: "Oru Belvane" + s, Text: "claimed the wear" + s}, {Text: "filed it"}}
}

func recallsOf(s string) []Recall {
	return []Recall{
		{ID: 5, WearID: 9, PatientID: 4, Patient: form.Patient{Code: "0417" + s, Name: "Velo Tarim" + s, BirthDate: "1961-04-09"}, Contact: form.Contact{Phone: "5550 0199" + s, Email: "v@example.test" + s, Prefers: "post", Note: "deaf" + s}, Kind: "result", Due: clock(10, 0, 0), State: "contacted", Outcome: "tests_ordered", Note: "HbA1c" + s, Attempts: []form.Attempt{{At: clock(17, 9, 0), Means: "mail"}}},
		{ID: 6, Kind: "new_wear", Due: clock(30, 0, 0), State: "due"},
		{ID: 7, Kind: "new" + s, State: "done", ClosedBy: "a new wear came" + s, ClosedAt: clock(17, 9, 0)}, {ID: 8, State: "cancelled"},
	}
}

func reviewPages(s string) map[string]Page {
	l := fullLayout(s)
	signedOut := l
	signedOut.User = User{CSRF: "pre" + s}
	patient := form.Patient{Code: "0417" + s, Name: "Velo Tarim" + s, BirthDate: "1961-04-09"}
	report := fullReport(s)
	report.Episodes = append(report.Episodes,
		wear.Episode{Number: 4, Kind: wear.EpisodeAbove10, From: clock(5, 12, 0), To: clock(5, 13, 0), Minutes: 60, ExtremeMmol: wear.Of(11.4)},
		wear.Episode{Number: 5, Kind: wear.EpisodeBelow3_9, From: clock(5, 15, 0), To: clock(5, 15, 30), Minutes: 30, ExtremeMmol: wear.Of(3.4), After: "lunch" + s},
		wear.Episode{Number: 6, Kind: wear.EpisodeAbove13_9, From: clock(6, 12, 0), To: clock(6, 13, 0), Minutes: 60, ExtremeMmol: wear.Of(14.4)})
	filled := func(names ...string) form.Form {
		v := url.Values{}
		for _, n := range names {
			v.Set(n, "typed"+s)
		}
		return form.Form{Values: v, Errors: wrong(s, names...)}
	}
	task := func(t string, names ...string) form.Form {
		f := filled(names...)
		f.Task = t
		return f
	}
	choices := []form.OutcomeChoice{
		{Code: "told_well", Words: "Told all is well" + s, Follows: "Nothing." + s, Refused: "a clinician must decide" + s},
		{Code: "tests_ordered", Words: "Tests ordered", Follows: "The result.", Recall: "result", RecallBy: clock(28, 0, 0), Asks: "Which tests" + s},
		{Code: "advice", Words: "Advice given", Follows: "A look.", Recall: "review", RecallBy: clock(28, 0, 0), Optional: true, Asks: "What was advised"},
		{Code: "appointment", Words: "Appointment made", Recall: "appointment"}, {Code: "new", Recall: "new" + s, Optional: true},
	}
	kind := letter.Tests
	text := letter.Shipped(kind)
	done, _ := letter.Compose(kind, letter.Example(kind))
	importRows := []ImportRow{{Line: 2, Code: "P-1" + s, Name: "Velo" + s, Result: "new"}, {Line: 3, Result: "changed", Changes: []string{"name: a → b" + s, "sex"}}, {Line: 4, Result: "same"}, {Line: 5, Result: "problem", Problem: "no code" + s}, {Code: s, Result: "new"}}
	return map[string]Page{
		"settings": SettingsPage{
			Layout: l, Form: form.Form{Errors: []form.FieldError{{Text: "Say who the practice is." + s}}}, Fixed: map[string]string{"name": "The practice" + s}, ZoneName: "Australia/Sydney" + s, NameRule: "{code}_*" + s,
			Folder: "/srv/drop" + s, Backups: "/mnt/copies" + s, LastBackup: clock(17, 9, 0), Steps: []FirstStep{{"Let the others in" + s, "/people", true}, {"Hand out the first sensor", "/out/new", false}}, Saved: true,
		},
		"out":      OutPage{Layout: l, Rows: recallsOf(s), Open: 6, Done: "The try is written down." + s},
		"hand out": HandOutPage{Layout: l, Form: form.Form{Errors: []form.FieldError{{Text: "Say which sensor." + s}}}, PatientID: 4, Patient: patient, AskedOn: "2026-03-01", Kinds: []string{"A" + s, "B"}},
		"start":    StartPage{Layout: l, Out: Recall{ID: 6, Kind: "out", Patient: patient, Due: clock(30, 0, 0), Given: clock(16, 9, 0), SensorKind: "A" + s, Serial: "12" + s}, Text: letter.Shipped(letter.StartSheet) + s},
		"routine": SheetPage{
			Layout: l, Rows: []SheetRow{{WearID: 9, Mark: "9-1" + s, Patient: patient, SensorKind: "A" + s, Days: report.Days, Report: report, Unwritten: "The text cannot be used." + s, NoAddress: true}, {WearID: 10, Mark: "10-1", Patient: patient, Report: report}},
			Ready: 40, Against: map[string]int{wear.ReasonUnread: 3, "new" + s: 1}, Taken: 2,
			Signed: &SignedSheet{ID: 3, Lines: []SignedLine{{WearID: 9, OutcomeID: 4, Patient: patient}, {WearID: 10, Patient: patient, Refused: "It has changed." + s}, {WearID: 11, OutcomeID: 5, Undone: true}}, Until: clock(18, 10, 0), Mine: true},
		},
		"sign in":              SignInPage{Layout: signedOut, Form: filled("login", "password"), Next: "/x" + s, Notice: "you were signed out" + s},
		"second":               SecondFactorPage{Layout: signedOut, Form: filled("code"), Next: "/x" + s},
		"set up":               SetUpPage{Layout: signedOut, Form: filled("name", "login", "password", "again"), Action: "/set-up/x" + s, First: true},
		"welcome":              SetUpPage{Layout: signedOut, Form: filled("password"), Action: "/welcome/x", Name: "Velo" + s, Login: "velo" + s},
		"factor":               FactorPage{Layout: l, Form: filled("code"), Action: "/x" + s, Secret: "ABCDEFGH" + s, QR: [][]bool{{true, false, true}, {false, true, true}, {true, true, false}}},
		"codes":                CodesPage{Layout: l, Codes: []string{"abcd-efgh" + s, "x"}, Next: "/x" + s},
		"account":              AccountPage{Layout: l, Form: task("password", "current", "password"), Login: "oru" + s, PasswordChanged: clock(1, 9, 0), FactorSet: true, CodesLeft: 7, Done: "changed" + s, Sessions: []Session{{ID: 1, Current: true, Began: clock(18, 9, 0)}, {ID: 2, LastSeen: clock(18, 9, 0), From: "127.0.0.1" + s}}},
		"people":               PeoplePage{Layout: l, Form: task("add", "name", "login", "role"), People: people(s), Link: &OneTimeLink{For: "Velo" + s, Address: "http://127.0.0.1/welcome/x" + s, Until: clock(18, 11, 0)}, Done: "added" + s},
		"people opened":        PeoplePage{Layout: l, Form: task("roles", "role"), People: people(s), Open: 2},
		"people opened closed": PeoplePage{Layout: l, People: people(s), Open: 3},
		"words": WordsPage{Layout: l, Form: form.Form{Values: url.Values{"as..1-a" + s: {"severe"}}, Errors: wrong(s, "")}, WearID: 9, Patient: patient, Report: &wear.Report{Unread: 2, Words: []wear.Words{
			{Key: "1-a" + s, Kind: string(wear.Note), Text: "she collapsed at work" + s, At: "2026-03-04T14:20:00+11:00", Times: 1, GlucoseMmol: wear.Of(4.1), Suggestion: wear.ReadSevere, Why: "says “collapsed”" + s},
			{Key: "all-b", Kind: string(wear.Meal), Text: "toast" + s, Times: 13, Suggestion: wear.ReadMeal},
			{Key: "3-c", Kind: wear.WordsCall, Text: "pleased" + s, Times: 1, ReadAs: wear.ReadNothing}, {Kind: "odd" + s},
		}}, Said: []Said{{ID: 3, Text: "pleased" + s, As: "nothing of concern", By: "Velo Tarim" + s, At: l.Now}}},
		"call":    CallPage{Layout: l, Form: filled("felt-1", "what-2", "when-3", "event-1-what", "note"), WearID: 9, PatientID: 4, Patient: patient, Contact: recallsOf(s)[0].Contact, Report: report, Events: []wear.Event{{Kind: wear.Symptom, Label: "shaky" + s}, {Kind: wear.Symptom}, {Kind: wear.Meal}}, Version: 12},
		"outcome": OutcomePage{Layout: l, Form: form.Form{Values: url.Values{"outcome": {"tests_ordered"}, "tests_ordered-reason": {s}}, Errors: wrong(s, "outcome", "tests_ordered-by")}, WearID: 9, Patient: patient, Headline: "above 7.8" + s, Tier: wear.ThisWeek, Version: 12, Choices: choices, Attempts: fullWork(s).Attempts, Correcting: &Recorded{ID: 3, Words: "Advice given" + s, By: "Oru" + s, At: clock(18, 9, 0)}},
		"patient": PatientPage{Layout: l, Form: task("results", "value"), ID: 4, Patient: patient, Contact: form.Contact{Address: "1 Street\nTown" + s}, Context: wear.Context{Sex: "female", Insulin: true, ShiftWork: true},
			Wears:   []PatientWear{{WearID: 9, SensorKind: "A" + s, Start: clock(3, 9, 0), End: clock(17, 9, 0), Headline: "above 7.8" + s, Tier: wear.ThisWeek, Confidence: "high" + s, Days: report.Days, Above7_8: wear.Of(18.4), Outcome: "new" + s, OutcomeAt: clock(18, 9, 0)}, {WearID: 10, SensorKind: "B"}},
			Results: results(s), Recalls: recallsOf(s), Letters: letterLines(s), Trail: trail(s), Merges: []Merge{{ID: 1, Code: "P-9" + s, Name: "V Tarim" + s, By: "Oru" + s, At: clock(17, 9, 0), Moved: "2 wears" + s, CanUndo: true}, {Undone: true, UndoNote: "it was undone" + s}}},
		"patient form":   PatientFormPage{Layout: l, Form: filled("code", "name", "birth", "sex", "email", "address", "prefers", "context"), ID: 4},
		"register":       RegisterPage{Layout: l, Filter: RegisterFilter{Text: "tar" + s, Page: 2}, Matching: 80, Total: 260, PageSize: 50, Rows: []RegisterRow{{ID: 4, Patient: patient, Wears: 3, LastWear: clock(17, 9, 0), Open: 1, RecallAt: clock(10, 0, 0)}, {ID: 5}}},
		"import":         ImportPage{Layout: l, Form: filled("list", "text")},
		"import preview": ImportPage{Layout: l, Text: "code\nP-1" + s, Rows: importRows, Ignored: []string{"shoe size" + s, "x"}},
		"import done":    ImportPage{Layout: l, Done: "4 patients imported" + s},
		"merge":          MergePage{Layout: l, Form: filled("code"), ID: 4, Keep: patient},
		"merge preview":  MergePage{Layout: l, Form: filled("reason"), ID: 4, Keep: patient, Other: &MergeOther{ID: 5, Patient: patient, Wears: 2, Letters: 1}, Fields: []MergeField{{"Name" + s, "a" + s, "b" + s}, {"Telephone", "", ""}}},
		"recalls":        RecallsPage{Layout: l, Form: task("results", "value", "unit"), Filter: RecallsFilter{State: "overdue", Page: 2}, Open: 5, Rows: recallsOf(s), Counts: map[string]int{"": 12, "overdue": 3, "all": 300}, Matching: 120, PageSize: 50, Answered: &results(s)[0]},
		"recalls done":   RecallsPage{Layout: l, Form: task("done", "reason"), Open: 6, Rows: recallsOf(s), Matching: 4, PageSize: 50},
		"outbox": OutboxPage{Layout: l, List: "unprinted", Counts: map[string]int{"unprinted": 2}, Ready: map[string]int{"unprinted": 1}, Done: "posted" + s,
			Rows: []BoxRow{{ID: 1, WearID: 9, Kind: letter.Unremarkable, Patient: form.Patient{Name: "Velo" + s}, Held: "a flag stands" + s}, {ID: 2, Address: s}}},
		"print run": PrintRunPage{Layout: l, Practice: "P" + s, From: "1 Street" + s, Letters: []RunLetter{{BoxRow: BoxRow{WearID: 8}, NoPage: "unread" + s}, {BoxRow: BoxRow{WearID: 7, Held: "moved" + s}},
			{BoxRow: BoxRow{WearID: 9, Address: s}, Text: "Dear" + s, TwoWeeks: &TwoWeeks{WearPage: WearPage{Layout: l, WearID: 9, Report: fullReport(s)}, Words: twoWeeks(s)}}}},
		"two weeks":      TwoWeeksPage{Layout: l, Kind: letter.Unremarkable, TwoWeeks: TwoWeeks{WearPage: WearPage{Layout: l, WearID: 9, Report: fullReport(s)}, Practice: "P" + s, Words: twoWeeks(s)}},
		"letters":        LettersPage{Layout: l, Templates: []TemplateLine{{Kind: letter.Tests, Version: 2, By: "Oru" + s, At: clock(17, 9, 0)}}},
		"new letter":     NewLetterPage{Layout: l, Form: filled("kind", "patient_tests-by", "clinician-to"), WearID: 9, Patient: patient, Report: report},
		"letter":         LetterPage{Layout: l, ID: 8, WearID: 9, Patient: patient, Kind: kind, Text: done.Text},
		"letter refused": LetterPage{Layout: l, Form: filled("how", "read", "text"), ID: 8, WearID: 9, Patient: patient, Kind: kind, Text: "You have diabetes." + s},
		"letter warned":  LetterPage{Layout: l, ID: 8, Patient: patient, Kind: kind, Text: "# You have diabetes.\n- x" + s},
		"sent":           SentPage{Layout: l, ID: 8, Kind: kind, Patient: patient, WearID: 9, Text: done.Text + s, Protocol: "2026.1" + s, By: "Oru" + s, At: clock(18, 9, 0), How: "post", Template: 2, Practice: "Tarrow Street Practice" + s},
		"sheet":          SentPage{Layout: l, Kind: letter.StartSheet, Text: letter.Shipped(letter.StartSheet), At: clock(18, 9, 0)},
		"template":       TemplatePage{Layout: l, Kind: kind, Version: 2, Text: text + s, Done: "kept" + s},
		"template wrong": TemplatePage{Layout: l, Form: filled("text"), Kind: kind, Text: "Dear {nobody}" + s},
		"log": LogPage{Layout: l, Filter: LogFilter{Person: 3, Action: "view" + s, From: "2026-03-01", To: "2026-03-18", Before: 900}, People: []Choice{{Words: "Oru" + s, Value: "3", Current: true}}, Actions: []Choice{{Words: "view" + s, Value: "view" + s, Current: true}}, More: true, Total: 812,
			Rows: []LogRow{{Seq: 812, At: clock(18, 9, 0), By: "Oru" + s, Role: "nurse" + s, Action: "view" + s, Object: "patient" + s, ObjectID: 4, Ended: "done" + s, Reason: s, Request: "k3v9" + s}, {Seq: 811}}, Chain: Chain{CheckedAt: clock(18, 3, 0), Rows: 900}},
		"log broken": LogPage{Layout: l, Chain: Chain{CheckedAt: clock(18, 3, 0), Problem: "line 14 was changed" + s}},
	}
}

func people(s string) []Person {
	return []Person{{ID: 1, Name: "Oru" + s, Login: "oru" + s, Roles: []string{form.RoleLead, form.RoleNurse}, FactorSet: true, LastSeen: clock(18, 9, 0), Me: true}, {ID: 2, Name: "Velo" + s, Roles: []string{form.RoleNurse}}, {ID: 3, Name: "Sel" + s, Disabled: true}}
}

// wearPages are the states of the work on a wear.
func wearPages(s string) map[string]Page {
	base := fullPages(s)["wear"].(WearPage)
	with := func(change func(*Work)) WearPage {
		p := base
		w := fullWork(s)
		w.Form = form.Form{}
		change(w)
		p.Work = w
		return p
	}
	return map[string]Page{
		"wear mine":   with(func(w *Work) { w.Form = fullWork(s).Form }),
		"wear theirs": with(func(w *Work) { w.Claim.Mine = false; w.Form = form.Form{Task: "take-over", Errors: wrong(s, "reason")} }),
		"wear free":   with(func(w *Work) { w.Claim = Claim{} }),
		"wear ended": with(func(w *Work) {
			w.Outcome = &Recorded{ID: 3, Code: "tests_ordered", Words: "Tests ordered" + s, By: "Oru" + s, At: clock(18, 10, 42), Note: "HbA1c" + s, Follows: "the result is due" + s, UndoUntil: clock(18, 10, 43)}
			w.Next = "/wears/10"
		}),
		"wear ended long ago": with(func(w *Work) { w.Outcome = &Recorded{ID: 3} }),
	}
}

func zeroReviewPages() map[string]Page {
	return map[string]Page{
		"settings": SettingsPage{}, "out": OutPage{}, "hand out": HandOutPage{Layout: Layout{Now: clock(18, 9, 0)}}, "start": StartPage{}, "routine": SheetPage{},
		"sign in": SignInPage{}, "second": SecondFactorPage{}, "set up": SetUpPage{Action: "/x"}, "factor": FactorPage{Action: "/x"}, "codes": CodesPage{}, "account": AccountPage{},
		"people": PeoplePage{}, "people zero": PeoplePage{People: []Person{{}}}, "words": WordsPage{}, "words zero": WordsPage{Report: &wear.Report{Words: []wear.Words{{}}}, Said: []Said{{}}}, "call": CallPage{}, "call empty report": CallPage{Report: &wear.Report{Episodes: []wear.Episode{{Kind: wear.EpisodeBelow3_9}}}},
		"outcome": OutcomePage{}, "outcome zero": OutcomePage{Choices: []form.OutcomeChoice{{}}, Attempts: []form.Attempt{{}}, Correcting: &Recorded{}},
		"patient": PatientPage{}, "patient zero": PatientPage{Wears: []PatientWear{{}}, Results: []Result{{}}, Recalls: []Recall{{}}, Letters: []LetterLine{{}}, Merges: []Merge{{}}, Trail: []Entry{{}}},
		"patient form": PatientFormPage{}, "register": RegisterPage{}, "register filtered": RegisterPage{Total: 3}, "register zero": RegisterPage{Total: 1, Rows: []RegisterRow{{}}},
		"import": ImportPage{}, "import zero": ImportPage{Rows: []ImportRow{{}}}, "merge": MergePage{}, "merge zero": MergePage{Other: &MergeOther{}},
		"recalls": RecallsPage{}, "recalls filtered": RecallsPage{Filter: RecallsFilter{State: "overdue"}}, "recalls zero": RecallsPage{Rows: []Recall{{}}, Answered: &Result{}},
		"outbox": OutboxPage{}, "print run": PrintRunPage{}, "two weeks": TwoWeeksPage{TwoWeeks: TwoWeeks{WearPage: WearPage{Report: &wear.Report{}}}}, "letters": LettersPage{}, "new letter": NewLetterPage{}, "letter": LetterPage{}, "sent": SentPage{}, "template": TemplatePage{}, "log": LogPage{}, "log zero": LogPage{Rows: []LogRow{{}}},
		"wear with work": WearPage{Work: &Work{}}, "wear with report and work": WearPage{Report: &wear.Report{}, Work: &Work{Outcome: &Recorded{}}},
	}
}

func TestReviewPagesAreSound(t *testing.T) {
	for set, pages := range map[string]map[string]Page{
		"zero": zeroReviewPages(), "full": reviewPages(""), "hostile": reviewPages(hostile), "full wears": wearPages(""), "hostile wears": wearPages(hostile),
	} {
		for name, page := range pages {
			t.Run(set+" "+name, func(t *testing.T) {
				text := rendered(t, page)
				check(t, text, true)
				checkForms(t, text)
			})
		}
	}
}

func allPages(s string) map[string]Page {
	all := fullPages(s)
	maps.Copy(all, reviewPages(s))
	maps.Copy(all, wearPages(s))
	maps.Copy(all, auditPages(s))
	return all
}

// checkForms fails on a form that changes something without the session's
// token, on two primary actions, and on an error that leads to no field.
func checkForms(t *testing.T, text string) {
	t.Helper()
	root, err := html.Parse(strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	ids, primary := map[string]bool{}, 0
	var links []string
	for n := range root.Descendants() {
		if n.Type != html.ElementNode {
			continue
		}
		ids[attr(n, "id")] = true
		if slices.Contains(strings.Fields(attr(n, "class")), "primary") {
			primary++
		}
		if a := attr(n, "href"); strings.HasPrefix(a, "#") {
			links = append(links, a[1:])
		}
		if n.Data == "form" {
			token, button := false, false
			for d := range n.Descendants() {
				token = token || attr(d, "name") == "csrf" && strings.HasPrefix(attr(d, "value"), "t0k3n") || strings.HasPrefix(attr(d, "value"), "pre")
				button = button || d.Data == "button"
			}
			if !button {
				t.Errorf("the form %q cannot be sent", attr(n, "action"))
			}
			if strings.Contains(text, "t0k3n") && attr(n, "method") == "post" && !token {
				t.Errorf("the form %q has no token", attr(n, "action"))
			}
		}
	}
	if primary > 1 {
		t.Errorf("%d primary actions", primary)
	}
	for _, id := range links {
		if !ids[id] {
			t.Errorf("#%s leads nowhere", id)
		}
	}
}

// A page before sign-in has no script: there is nothing to keep true yet, and
// nobody to warn.
func TestScriptsFollowTheSession(t *testing.T) {
	for name, page := range allPages("") {
		_, block := page.view()
		if block != "page" {
			continue
		}
		var b bytes.Buffer
		if err := Render(&b, page); err != nil {
			t.Fatal(err)
		}
		scripts := strings.Count(b.String(), "<script")
		switch name {
		case "sign in", "second", "set up", "welcome":
			if scripts != 0 {
				t.Errorf("%s has %d scripts", name, scripts)
			}
		default:
			want := 2
			switch page.(type) {
			case WearPage, WordsPage, SheetPage:
				want = 3 // that of the tracks, those of the keys
			}
			if scripts != want || !strings.Contains(b.String(), `data-idle="900"`) {
				t.Errorf("%s has %d scripts, or does not say when the session ends", name, scripts)
			}
		}
	}
}

func TestReviewPagesSay(t *testing.T) {
	pages, zero := allPages(""), zeroReviewPages()
	noted := time.Date(2026, time.March, 18, 9, 0, 0, 0, time.UTC)
	auditor := Layout{User: User{ID: 1, Roles: []string{form.RoleAuditor}}}
	for _, c := range []struct {
		name string
		page Page
		want []string
		not  []string
	}{
		{"sign in", pages["sign in"], []string{"does not diagnose", "You were signed out.", "3 things are to be put right"}, []string{"Sign out", "The round Recalls"}},
		{"factor", pages["factor"], []string{"ABCD EFGH"}, nil},
		{"account", pages["account"], []string{"7 recovery codes left", "nurse, lead", "Sign out everywhere else"}, nil},
		{"people", pages["people"], []string{"One-time link for Velo", "until Wed 18 Mar 2026 11:00", "may not sign in", "works through the round"}, nil},
		{"round", pages["round"], []string{"Claim the next", "2 wears overdue with nobody working on it; 1 file held for more than a day; 3 recalls overdue that nobody has tried.", "with V. Tarim, 12 min left", "not claimed", "Tried twice, next try Thu 19 Mar", "Late starters", "tier “This week”", "shared by Sel"}, nil},
		{"round of nobody", RoundPage{}, []string{"could not be counted"}, []string{"Claim the next", "Saved filters", "Nothing is lost"}},
		{"round with nothing overdue", RoundPage{Layout: Layout{Now: noted, System: System{LastLook: noted}, Daily: Daily{CountedAt: noted}}}, []string{"No overdue wear without a person, no file held"}, []string{"is lost", "As far as"}},
		{"round under a banner", RoundPage{Layout: Layout{Daily: Daily{CountedAt: noted, ChainProblem: "line 14 was changed"}}}, []string{"As far as it can be counted: no overdue wear"}, nil},
		{"round with a broken log", RoundPage{Layout: Layout{Daily: Daily{ChainProblem: "line 14 was changed"}}}, []string{"The log of who did what does not hold together: Line 14 was changed."}, nil},
		{"wear mine", pages["wear mine"], []string{"Yours until 11:12.", "Record the outcome", "Ring and ask", "Before: This month, 30.4 points. Now: This week, 30.4 points.", "Tried twice, next try Thu 19 Mar 2026.", "Claimed the wear.", "next try Thu 19 Mar"}, nil},
		{"wear theirs", pages["wear theirs"], []string{"With Oru Belvane until 11:12.", "Why you take it over"}, []string{"Record the outcome", "Ring and ask"}},
		{"wear free", pages["wear free"], []string{"Nobody is working on this wear.", "Claim this wear"}, []string{"Record the outcome"}},
		{"wear ended", pages["wear ended"], []string{"Tests ordered.", "The result is due.", "Undo", "until 10:43:00", "Claim the next"}, []string{"Claim this wear", "overdue", "due in", "due today"}},
		{"wear ended long ago", pages["wear ended long ago"], []string{"Correct the outcome"}, []string{"Undo"}},
		{"wear of an onlooker", pages["wear"], nil, []string{"Claim this wear", "What was done"}},
		{"words", pages["words"], []string{"she collapsed at work", "4.1 mmol/L", "Looks like: severe (says “collapsed”)", "1 plain label of meals", "× 13", "Read already", "told on a call", "Take it back"}, nil},
		{"call", pages["call"], []string{"Telephone 5550 0199", "prefers post", "Wed 4 Mar, 14:00: did you feel anything?", "Below 3.9 for 30 min, lowest 3.4, after lunch, after a rise to 11.4.", "Above 13.9 for 1 h, highest 14.4.", "very thirsty", "shaky", "Better after food", "Written down already", "Could not be woken", "Keep this now", "Send for emergency care"}, nil},
		{"outcome", pages["outcome"], []string{"Correct the outcome", "A clinician must decide.", "Result to be back by", "May be left out; 28 March 2026 is usual", "Follows: The result."}, nil},
		{"outcome empty", zero["outcome"], []string{"No outcome can be recorded now."}, nil},
		{"patient", pages["patient"], []string{"More than one sensor kind", "Uses insulin.", "1 Street", "Take it out again", "Everything ever decided", "On the round", "8 days overdue"}, nil},
		{"patient unknown", zero["patient"], []string{"Nobody has asked yet", "No wear has come yet."}, nil},
		{"register", pages["register"], []string{"2 of 260 patients shown: name or code containing “tar”.", "Page 2 of 2"}, nil},
		{"import preview", pages["import preview"], []string{"5 lines: 2 new, 1 changed, 1 already so, 1 left out. Nothing is kept yet.", "Import 3 patients", "“shoe size”", "Left out: no code"}, nil},
		{"merge preview", pages["merge preview"], []string{"These move to the record kept: 2 wears, 1 letter.", "not recorded"}, nil},
		{"recalls", pages["recalls"], []string{"4 of 300 recalls shown: of the 120 overdue.", "8 days overdue", "A laboratory result.", "The result is here", "This is a range, not a diagnosis.", "Between usual and the diabetes range."}, []string{"diagnosed"}},
		{"recalls empty", zero["recalls"], []string{"No recall is open."}, nil},
		{"new letter", pages["new letter"], []string{"The patient cannot be told that nothing needs follow-up", "What is wanted", "About a sensor that failed"}, nil},
		{"letter", pages["letter"], []string{"Read it before it goes", "I have read it, and it is for Velo Tarim", "Reads at school grade"}, []string{"may not go as it stands"}},
		{"letter warned", pages["letter warned"], []string{"This may not go as it stands", "a sensor does not diagnose"}, []string{"Send, and keep it on record"}},
		{"sent", pages["sent"], []string{"Velo Tarim · 0417 · born 9 Apr 1961", "Protocol 2026.1.", "18 March 2026", "text version 2", "by post"}, nil},
		{"sheet", pages["sheet"], []string{"Your two weeks with a sensor"}, []string{"Velo Tarim", "text as shipped"}},
		{"template", pages["template"], []string{"Dear Velo Tarim,", "{wear_dates}", "first and last day of the wear", "Go back to the text that ships"}, nil},
		{"template of a nurse", TemplatePage{Kind: letter.Tests, Text: letter.Shipped(letter.Tests)}, []string{"The lead may change it."}, []string{"Keep this text"}},
		{"log", pages["log"], []string{"all 900 lines checked", "2 of 812 lines shown, newest first: by Oru, “view”, from 1 Mar 2026, to 18 Mar 2026, before line 900.", "Older", "the program"}, nil},
		{"log broken", pages["log broken"], []string{"The log does not hold together: Line 14 was changed."}, nil},
		{"log unchecked", zero["log"], []string{"has not been checked yet"}, []string{"holds together: all"}},
		{"round of an auditor", RoundPage{Layout: auditor}, nil, []string{"Claim the next", "Recalls", "People"}},
	} {
		text := shown(t, c.page)
		for _, want := range c.want {
			if !strings.Contains(text, want) {
				t.Errorf("%s does not say %q:\n%s", c.name, want, text)
			}
		}
		for _, not := range c.not {
			if strings.Contains(text, not) {
				t.Errorf("%s says %q:\n%s", c.name, not, text)
			}
		}
	}
}

func twoWeeks(s string) letter.TwoWeeks {
	return letter.TwoWeeks{
		Days: "days" + s, Meals: "meals" + s, Like: []letter.LikeMeals{{Name: "rice" + s, Times: 2, Before: 5, Rise: 2}}, Compared: []string{s}, Nights: []string{s}, Exercise: []string{s},
		Alone: []string{s}, Next: s, Unwell: []string{s},
	}
}
