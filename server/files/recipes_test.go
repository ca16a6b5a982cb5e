package files_test

import (
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"wearround/server/servertest"
	"wearround/store"
	"wearround/store/storetest"
	"wearround/worker/wear"
)

func TestRecipePages(t *testing.T) {
	f := servertest.New(t)
	f.Says("GET", "/recipes", nil, 200, "nothing is remembered")
	f.Teach(1)
	who := storetest.Patient(1)
	f.Says("GET", "/recipes", nil, 200, "Recipe 1", "Unit. A person answered: mmol/L.", "1 file, 1 wear")
	f.Says("GET", "/recipes/1", nil, 200, "in force", who.Code, "ward/export-00001.csv", "Withdraw this recipe")
	f.Says("GET", "/recipes/7", nil, 404)

	f.Says("POST", "/recipes/1/kind", url.Values{"kind": {"two words"}}, 200, "up to 12 letters and digits")
	f.Says("POST", "/recipes/1/kind", url.Values{"kind": {" K7 "}}, 303)
	f.Says("GET", "/", nil, 200, "kind K7")
	f.Says("POST", "/recipes/1/again", nil, 200, "Withdraw it first")
	f.Says("POST", "/recipes/1/withdraw", url.Values{"reason": {""}}, 200, "Say in a few words")
	f.Says("POST", "/recipes/1/withdraw", url.Values{"reason": {"read as <b>mg/dL</b>"}}, 303)
	f.Says("GET", "/recipes/1", nil, 200, "withdrawn on", "&lt;b&gt;mg/dL", who.Code, "Read by a withdrawn recipe", "Read it again")
	f.Says("GET", "/", nil, 200, "read by a withdrawn recipe")
	f.Says("GET", "/wears/1", nil, 200, "Read by a recipe that was withdrawn", `href="/recipes/1"`, "4\u202f032 new readings")
	f.Says("GET", "/files", nil, 200, "in doubt until the file is read again")
	looks := f.Looks
	f.Says("POST", "/recipes/1/again", nil, 303)
	if f.Looks != looks+1 {
		t.Error("the worker was not asked to look")
	}
	f.Says("GET", "/files?outcome=held", nil, 200, "the file is being read again")
}

func TestNamePages(t *testing.T) {
	f := servertest.New(t)
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
	f.Says("GET", "/files/names", nil, 200, "No file has come yet", "Save it")
	if body := f.AskAs(store.RoleNurse, "GET", "/files/names", nil).Body.String(); strings.Contains(body, "Save it") || !strings.Contains(body, "A lead of the practice can save another rule.") {
		t.Error("a nurse is offered to save a rule")
	}
	f.Teach(1)
	f.Says("GET", "/files/names", nil, 200, "ward/export-00001.csv", "{code}_*", "finds a patient in 0", "nothing")
	f.Says("POST", "/files/names/try", url.Values{"rule": {"{code}"}}, 200, "the rule tried here would find one in 1", storetest.Patient(1).Code)
	f.Says("POST", "/files/names/try", url.Values{"rule": {"code"}}, 200, "The rule must hold {code}.")
	if _, set, err := f.Store.Setting(t.Context(), store.NameRule); set || err != nil {
		t.Errorf("trying a rule set it: %t, %v", set, err)
	}
	rows := f.Ask(http.MethodPost, "/files/names/try", url.Values{"rule": {"{code}"}}, func(r *http.Request) { r.Header.Set("X-Fragment", "rows") })
	if body := rows.Body.String(); strings.Contains(body, "<html") || !strings.Contains(body, "tried here") {
		t.Errorf("the fragment is not the preview alone: %s", body)
	}
	f.Says("POST", "/files/names", url.Values{"rule": {"code"}}, 200, "The rule must hold {code}.")
	f.Says("POST", "/files/names", url.Values{"rule": {"{code}"}}, 303)
	f.Says("GET", "/files/names?saved=1", nil, 200, "The rule is saved", "finds a patient in 1")
}

// TestSeveralAnswersAtOnce answers two questions of one file in one form and is
// led on to the next held file, round the end of the list.
func TestSeveralAnswersAtOnce(t *testing.T) {
	f := servertest.New(t)
	p := storetest.AddPatient(t, f.Store, 1)
	var ids []int64
	for n := range 3 {
		id, err := f.Store.Hold(t.Context(), store.Holding{
			Drop:   store.Drop{Path: fmt.Sprint(n, ".csv"), Size: 4, ModTime: f.Clock.Now(), SeenAt: f.Clock.Now().Add(time.Duration(n) * time.Minute)},
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
	f.Says("GET", "/files?outcome=held", nil, 200, "row as read", "Give these answers", "Or the code of another patient")
	path := fmt.Sprintf("/files/%d/answer", ids[2])
	both := url.Values{"code": {"unit", "patient"}, "value.0": {"mmol/L"}}
	f.Says("POST", path, url.Values{"code": {"unit", "patient"}}, 200, "No answer was given")
	for key, bad := range map[string]string{"value.0": "mol", "other.1": "nobody"} {
		form := url.Values{"code": {"unit", "patient"}, "value.0": {"mg/dL"}, key: {bad}}
		f.Says("POST", path, form, 200, `role="alert"`)
	}
	f.Says("POST", path, url.Values{"code": {"unit", "patient"}, "value.1": {"P-2"}, "other.1": {p.Code}}, 200, "One patient is chosen and another is typed.")
	if list, err := f.Store.AnsweredFiles(t.Context()); err != nil || len(list) != 0 {
		t.Fatalf("refused answers were kept: %+v, %v", list, err)
	}
	both.Set("other.1", p.Code)
	f.Says("POST", path, both, 200, p.Code+" is ", "Is that the person?")
	both.Set("sure.1", p.Code)
	w := f.Ask("POST", path, both)
	if to := w.Header().Get("Location"); w.Code != 303 || to != fmt.Sprintf("/files?outcome=held#ask-%d", ids[0]) {
		t.Errorf("status %d, led to %s", w.Code, to)
	}
	list, err := f.Store.AnsweredFiles(t.Context())
	if err != nil || len(list) != 1 || list[0].Answers["unit"] != "mmol/L" || list[0].Answers["patient"] != p.Code {
		t.Errorf("answered: %+v, %v", list, err)
	}
	w = f.Ask("POST", fmt.Sprintf("/files/%d/answer", ids[0]), both)
	if to := w.Header().Get("Location"); !strings.HasSuffix(to, fmt.Sprintf("#ask-%d", ids[1])) {
		t.Errorf("then led to %s", to)
	}
	w = f.Ask("POST", fmt.Sprintf("/files/%d/answer", ids[1]), both)
	if to := w.Header().Get("Location"); !strings.HasSuffix(to, "#main") {
		t.Errorf("with nothing left, led to %s", to)
	}
	rows := f.Ask("GET", "/files?outcome=held", nil, func(r *http.Request) { r.Header.Set("X-Fragment", "rows") }).Body.String()
	if strings.Contains(rows, "<html") || strings.Count(rows, "the file is being read again") != 3 || strings.Contains(rows, "<form") {
		t.Errorf("what is being read asks no more: %s", rows)
	}
}
