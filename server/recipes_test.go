package server

import (
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"wearround/store"
	"wearround/store/storetest"
	"wearround/worker/wear"
)

// teach files a wear of the nth invented patient and makes the first recipe of it.
func (f *fixture) teach(n int) {
	f.t.Helper()
	p := storetest.AddPatient(f.t, f.store, n)
	filing := storetest.Filing(n, p.ID, f.clock.Now(), 14, wear.ThisMonth, float64(n))
	filing.Learned = &store.Learned{Body: json.RawMessage("{}"), Answers: []wear.Decision{{Code: "unit", Answer: "mmol/L", Evidence: "a person answered: mmol/L", By: "person"}}}
	if _, _, err := f.store.File(f.t.Context(), filing); err != nil {
		f.t.Fatal(err)
	}
}

// says fails the test unless the answer is a page with this status and these words.
func (f *fixture) says(method, path string, form url.Values, status int, words ...string) {
	f.t.Helper()
	w := f.ask(method, path, form)
	if w.Code != status {
		f.t.Errorf("%s %s: status %d, want %d", method, path, w.Code, status)
	}
	for _, want := range words {
		if !strings.Contains(w.Body.String(), want) {
			f.t.Errorf("%s %s does not say %q", method, path, want)
		}
	}
}

func TestRecipePages(t *testing.T) {
	f := newFixture(t)
	f.says("GET", "/recipes", nil, 200, "nothing is remembered")
	f.teach(1)
	who := storetest.Patient(1)
	f.says("GET", "/recipes", nil, 200, "Recipe 1", "Unit. A person answered: mmol/L.", "1 file, 1 wear")
	f.says("GET", "/recipes/1", nil, 200, "in force", who.Code, "ward/export-00001.csv", "Withdraw this recipe")
	f.says("GET", "/recipes/7", nil, 404)

	f.says("POST", "/recipes/1/kind", url.Values{"kind": {"two words"}}, 200, "up to 12 letters and digits")
	f.says("POST", "/recipes/1/kind", url.Values{"kind": {" K7 "}}, 303)
	f.says("GET", "/", nil, 200, "kind K7")
	f.says("POST", "/recipes/1/again", nil, 200, "Withdraw it first")
	f.says("POST", "/recipes/1/withdraw", url.Values{"reason": {""}}, 200, "Say in a few words")
	f.says("POST", "/recipes/1/withdraw", url.Values{"reason": {"read as <b>mg/dL</b>"}}, 303)
	f.says("GET", "/recipes/1", nil, 200, "withdrawn on", "&lt;b&gt;mg/dL", who.Code, "Read by a withdrawn recipe", "Read it again")
	f.says("GET", "/", nil, 200, "read by a withdrawn recipe")
	f.says("GET", "/wears/1", nil, 200, "Read by a recipe that was withdrawn", `href="/recipes/1"`, "4\u202f032 new readings")
	f.says("GET", "/files", nil, 200, "in doubt until the file is read again")
	looks := f.looks
	f.says("POST", "/recipes/1/again", nil, 303)
	if f.looks != looks+1 {
		t.Error("the worker was not asked to look")
	}
	f.says("GET", "/files?outcome=held", nil, 200, "the file is being read again")
}

func TestNamePages(t *testing.T) {
	f := newFixture(t)
	f.NameRule = "{code}_*"
	f.TryNameRule = func(rule string, names []string) ([]string, error) {
		if !strings.Contains(rule, "{code}") {
			return nil, errors.New("the rule must hold {code}")
		}
		codes := make([]string, len(names))
		for i := range names {
			codes[i] = map[bool]string{true: storetest.Patient(1).Code}[rule == "{code}"]
		}
		return codes, nil
	}
	f.says("GET", "/files/names", nil, 200, "No file has come yet", "Save it")
	if body := f.askAs(store.RoleNurse, "GET", "/files/names", nil).Body.String(); strings.Contains(body, "Save it") || !strings.Contains(body, "A lead of the practice can save another rule.") {
		t.Error("a nurse is offered to save a rule")
	}
	f.teach(1)
	f.says("GET", "/files/names", nil, 200, "ward/export-00001.csv", "{code}_*", "finds a patient in 0", "nothing")
	f.says("POST", "/files/names/try", url.Values{"rule": {"{code}"}}, 200, "the rule tried here would find one in 1", storetest.Patient(1).Code)
	f.says("POST", "/files/names/try", url.Values{"rule": {"code"}}, 200, "The rule must hold {code}.")
	if _, set, err := f.store.Setting(t.Context(), store.NameRule); set || err != nil {
		t.Errorf("trying a rule set it: %t, %v", set, err)
	}
	rows := f.ask(http.MethodPost, "/files/names/try", url.Values{"rule": {"{code}"}}, func(r *http.Request) { r.Header.Set("X-Fragment", "rows") })
	if body := rows.Body.String(); strings.Contains(body, "<html") || !strings.Contains(body, "tried here") {
		t.Errorf("the fragment is not the preview alone: %s", body)
	}
	f.says("POST", "/files/names", url.Values{"rule": {"code"}}, 200, "The rule must hold {code}.")
	f.says("POST", "/files/names", url.Values{"rule": {"{code}"}}, 303)
	f.says("GET", "/files/names?saved=1", nil, 200, "The rule is saved", "finds a patient in 1")
}

// TestSeveralAnswersAtOnce answers two questions of one file in one form and is
// led on to the next held file, round the end of the list.
func TestSeveralAnswersAtOnce(t *testing.T) {
	f := newFixture(t)
	p := storetest.AddPatient(t, f.store, 1)
	var ids []int64
	for n := range 3 {
		id, err := f.store.Hold(t.Context(), store.Holding{
			Drop:   store.Drop{Path: fmt.Sprint(n, ".csv"), Size: 4, ModTime: f.clock.Now(), SeenAt: f.clock.Now().Add(time.Duration(n) * time.Minute)},
			SHA256: storetest.Hash(n),
			Questions: []wear.Question{
				{Code: "unit", Text: "Which unit?", Choices: []wear.Choice{{Value: "mmol/L", Text: "mmol/L", Rows: []string{"row as read"}}, {Value: "mg/dL", Text: "mg/dL"}}},
				{Code: "patient", Text: "Whose?", Choices: []wear.Choice{{Value: "P-2", Text: "P-2"}}},
			},
		})
		if err != nil {
			t.Fatal(err)
		}
		ids = append(ids, id)
	}
	f.says("GET", "/files?outcome=held", nil, 200, "row as read", "Give these answers", "Or the code of another patient")
	path := fmt.Sprintf("/files/%d/answer", ids[2])
	both := url.Values{"code": {"unit", "patient"}, "value.0": {"mmol/L"}}
	f.says("POST", path, url.Values{"code": {"unit", "patient"}}, 200, "No answer was given")
	for key, bad := range map[string]string{"value.0": "mol", "other.1": "nobody"} {
		form := url.Values{"code": {"unit", "patient"}, "value.0": {"mg/dL"}, key: {bad}}
		f.says("POST", path, form, 200, `role="alert"`)
	}
	f.says("POST", path, url.Values{"code": {"unit", "patient"}, "value.1": {"P-2"}, "other.1": {p.Code}}, 200, "One patient is chosen and another is typed.")
	if list, err := f.store.AnsweredFiles(t.Context()); err != nil || len(list) != 0 {
		t.Fatalf("refused answers were kept: %+v, %v", list, err)
	}
	both.Set("other.1", p.Code)
	w := f.ask("POST", path, both)
	if to := w.Header().Get("Location"); w.Code != 303 || to != fmt.Sprintf("/files?outcome=held#ask-%d", ids[0]) {
		t.Errorf("status %d, led to %s", w.Code, to)
	}
	list, err := f.store.AnsweredFiles(t.Context())
	if err != nil || len(list) != 1 || list[0].Answers["unit"] != "mmol/L" || list[0].Answers["patient"] != p.Code {
		t.Errorf("answered: %+v, %v", list, err)
	}
	w = f.ask("POST", fmt.Sprintf("/files/%d/answer", ids[0]), both)
	if to := w.Header().Get("Location"); !strings.HasSuffix(to, fmt.Sprintf("#ask-%d", ids[1])) {
		t.Errorf("then led to %s", to)
	}
	w = f.ask("POST", fmt.Sprintf("/files/%d/answer", ids[1]), both)
	if to := w.Header().Get("Location"); !strings.HasSuffix(to, "#main") {
		t.Errorf("with nothing left, led to %s", to)
	}
	rows := f.ask("GET", "/files?outcome=held", nil, func(r *http.Request) { r.Header.Set("X-Fragment", "rows") }).Body.String()
	if strings.Contains(rows, "<html") || strings.Count(rows, "the file is being read again") != 3 || strings.Contains(rows, "<form") {
		t.Errorf("what is being read asks no more: %s", rows)
	}
}
