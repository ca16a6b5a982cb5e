package api_test

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"github.com/pb33f/libopenapi"
	validator "github.com/pb33f/libopenapi-validator"

	"wearround/server/api"
	"wearround/server/door"
	"wearround/server/servertest"
	"wearround/store"
	"wearround/store/storetest"
	"wearround/web/letter"
	"wearround/worker/wear"
)

// client is a client of the API made from its document alone: it knows methods
// and addresses by the operation's id, and holds every request and every answer
// against the document.
type client struct {
	*servertest.Fixture
	token string
	valid validator.Validator
	paths map[string]map[string]struct {
		ID string `json:"operationId"`
	}
	done map[string]bool
}

func newClient(f *servertest.Fixture) *client {
	f.T.Helper()
	w := f.Ask(http.MethodGet, door.OpenAPIPath, nil)
	if w.Code != http.StatusOK {
		f.T.Fatalf("the document: status %d", w.Code)
	}
	doc, err := libopenapi.NewDocument(w.Body.Bytes())
	if err != nil {
		f.T.Fatal(err)
	}
	v, errs := validator.NewValidator(doc)
	if len(errs) > 0 {
		f.T.Fatal(errs)
	}
	if ok, problems := v.ValidateDocument(); !ok {
		for _, p := range problems {
			f.T.Error(p)
		}
		f.T.FailNow()
	}
	bad := &http.Response{StatusCode: 200, Header: http.Header{"Content-Type": {"application/json"}}, Body: io.NopCloser(strings.NewReader(`{"open":"many"}`))}
	if ok, _ := v.ValidateHttpResponse(httptest.NewRequest(http.MethodGet, door.APIBase+"/daily", nil), bad); ok {
		f.T.Fatal("the validator takes an answer that is not as documented")
	}
	c := &client{Fixture: f, token: f.Token(store.RoleLead, store.ScopeRead, store.ScopeWrite, store.ScopeDrop), valid: v, done: map[string]bool{}}
	var d struct{ Paths json.RawMessage }
	if err := json.Unmarshal(w.Body.Bytes(), &d); err != nil {
		f.T.Fatal(err)
	}
	if err := json.Unmarshal(d.Paths, &c.paths); err != nil {
		f.T.Fatal(err)
	}
	return c
}

type object = map[string]any

// send calls an operation with the values of its path's places and its body,
// and gives the status and the answer.
func (c *client) send(id string, places object, body any) (int, object) {
	c.T.Helper()
	method, path := c.find(id)
	for k, v := range places {
		path = strings.ReplaceAll(path, "{"+k+"}", fmt.Sprint(v))
	}
	var sent []byte
	if body != nil {
		var err error
		if sent, err = json.Marshal(body); err != nil {
			c.T.Fatal(err)
		}
	}
	request := func() *http.Request {
		r := httptest.NewRequest(method, "http://127.0.0.1:8470"+path, bytes.NewReader(sent))
		r.RemoteAddr = "127.0.0.1:50000"
		r.Header.Set("Authorization", "Bearer "+c.token)
		if body != nil {
			r.Header.Set("Content-Type", "application/json")
		}
		return r
	}
	w := httptest.NewRecorder()
	c.ServeHTTP(w, request())
	if w.Code < 400 {
		if ok, problems := c.valid.ValidateHttpRequest(request()); !ok {
			c.T.Errorf("%s: the request was taken, but is not as documented: %v", id, problems)
		}
	}
	if w.Code != http.StatusNoContent {
		if ok, problems := c.valid.ValidateHttpResponse(request(), w.Result()); !ok {
			c.T.Errorf("%s: the answer %d is not as documented: %v\n%.600s", id, w.Code, problems, w.Body)
		}
	}
	if at := w.Header().Get("Location"); w.Code == http.StatusCreated {
		r := httptest.NewRequest(http.MethodGet, "http://127.0.0.1:8470"+at, nil)
		r.RemoteAddr = "127.0.0.1:50000"
		r.Header.Set("Authorization", "Bearer "+c.token)
		read := httptest.NewRecorder()
		if c.ServeHTTP(read, r); at == "" || read.Code != http.StatusOK {
			c.T.Errorf("%s: made something at %q, where a read gives %d", id, at, read.Code)
		}
	}
	var answer object
	if w.Body.Len() > 0 {
		if err := json.Unmarshal(w.Body.Bytes(), &answer); err != nil {
			c.T.Fatalf("%s: %v", id, err)
		}
	}
	return w.Code, answer
}

func (c *client) find(id string) (method, path string) {
	c.T.Helper()
	for path, methods := range c.paths {
		for method, o := range methods {
			if o.ID == id {
				return strings.ToUpper(method), path
			}
		}
	}
	c.T.Fatalf("the document has no operation %q", id)
	return "", ""
}

// call sends what must be done.
func (c *client) call(id string, places object, body any) object {
	c.T.Helper()
	status, answer := c.send(id, places, body)
	if status >= 300 {
		c.T.Fatalf("%s: status %d: %v", id, status, answer)
	}
	c.done[id] = true
	return answer
}

// refuse sends what must not be done.
func (c *client) refuse(status int, id string, places object, body any) object {
	c.T.Helper()
	got, answer := c.send(id, places, body)
	if got != status {
		c.T.Errorf("%s: status %d, want %d: %v", id, got, status, answer)
	}
	return answer
}

// TestEveryOperation goes through the whole API with a client made from the
// document. An operation that it does not reach fails the test.
func TestEveryOperation(t *testing.T) {
	f := servertest.New(t)
	w, dip := f.Dipper(1)
	f.Dipper(2)
	c := newClient(f)
	one := object{"id": w.ID}
	patient := object{"id": w.Patient.ID}
	soon := f.Clock.Now().AddDate(0, 0, 14).Format(time.RFC3339)

	c.call("getDaily", nil, nil)
	c.call("listOutcomes", nil, nil)
	c.call("getRound", nil, nil)
	if n := c.call("searchRound", nil, object{"text": w.Patient.Name})["matching"]; n != 1.0 {
		t.Errorf("%v wears of a patient with one", n)
	}
	next := c.call("claimNext", nil, nil)
	c.call("releaseWear", object{"id": next["wear_id"]}, nil)
	c.call("claimWear", one, nil)
	c.call("takeOver", one, object{"reason": "the patient rang me"})
	c.call("handOver", one, object{"to": "clinician", "reason": "dips that I cannot judge"})
	c.call("claimWear", one, nil)
	c.call("getWear", one, nil)
	c.call("getTrace", one, nil)

	place := c.call("recordCall", one, object{
		"answers": []object{{"asked": dip.From, "felt": "yes", "at": dip.From.Add(10 * time.Minute), "words": "shaky", "relieved": "yes"}, {"asked": dip.From.Add(24 * time.Hour), "felt": "no"}},
		"events":  []object{{"at": dip.From.Add(-time.Hour), "kind": "meal", "label": "two toasts", "carbs": 40}}, "note": "rang at noon",
	})
	if place["tier"] == string(w.Report.Priority.Tier) {
		t.Errorf("the place is still %v after a symptom in a dip", place["tier"])
	}
	c.call("addEvents", one, object{"events": []object{{"at": dip.From, "kind": "fingerstick", "value": "3.4", "unit": "mmol/L"}}})
	c.call("addOverride", one, object{"from": dip.From.Add(48 * time.Hour), "to": dip.From.Add(49 * time.Hour), "believe": false, "reason": "lay on the arm"})
	got := c.call("getWear", one, nil)
	event := got["added_events"].([]any)[0].(object)["id"]
	override := got["overrides"].([]any)[0].(object)["id"]
	said := got["calls"].([]any)[0].(object)
	c.call("withdrawAnswer", object{"id": w.ID, "call": said["id"]}, object{"asked": dip.From.Add(24 * time.Hour), "reason": "asked about another day"})
	if x := c.call("getWear", one, nil)["calls"].([]any)[0].(object)["answers"].([]any); x[0].(object)["withdrawn_at"] != nil || x[1].(object)["withdrawn_at"] == nil {
		t.Errorf("one answer of two was taken back: %v", x)
	}
	c.call("withdrawOverride", object{"id": w.ID, "override": override}, object{"reason": "it was the other arm"})
	c.call("withdrawEvent", object{"id": w.ID, "event": event}, object{"reason": "another patient's"})
	if n := c.call("setZone", one, object{"zone": "Australia/Perth"})["wears"]; n != 1.0 {
		t.Errorf("the zone of %v wears was set, want 1", n)
	}
	if zone := c.call("getWear", one, nil)["zone"]; zone != "Australia/Perth" {
		t.Errorf("zone %v", zone)
	}
	c.refuse(http.StatusUnprocessableEntity, "setZone", one, object{"zone": "Mars/Tharsis"})
	c.call("setZone", one, object{"zone": ""})
	c.call("addNote", one, object{"text": "sleeps on the left side"})
	c.call("recordContact", one, object{"means": "telephone", "reached": false, "note": "message left", "next_try": f.Clock.Now().AddDate(0, 0, 2)})

	c.call("addEvents", one, object{"events": []object{{"at": dip.From.Add(10 * time.Minute), "kind": "symptom", "label": "shaky"}}})
	l := c.call("openLetter", one, object{"kind": "patient_tests", "tests": []string{"hba1c"}, "by": soon})
	c.call("getLetter", object{"id": l["id"]}, nil)
	c.call("sendLetter", object{"id": l["id"]}, object{"text": l["text"], "how": "post"})
	l = c.call("openLetter", one, object{"kind": "patient_tests", "tests": []string{"hba1c"}, "by": soon})
	c.call("discardLetter", object{"id": l["id"]}, nil)

	f.Clock.Advance(time.Minute) // letters of the time before an outcome do not keep it from being undone
	evidence := c.call("getWear", one, nil)["evidence"]
	tests := object{"kind": "tests_ordered", "reason": "HbA1c", "recall": soon, "evidence": evidence}
	o := c.call("recordOutcome", one, tests)
	c.call("undoOutcome", object{"id": o["id"]}, nil)
	o = c.call("recordOutcome", one, tests)
	c.call("correctOutcome", object{"id": o["id"]}, object{"kind": "advice", "reason": "walk after meals", "recall": soon, "evidence": evidence})
	c.call("reopenWear", one, object{"reason": "the patient rang again"})
	c.call("claimWear", one, nil)
	c.call("recordOutcome", one, tests)

	recalls := c.call("listRecalls", nil, nil)["rows"].([]any)
	var result any
	for _, r := range recalls {
		if r.(object)["kind"] == "result" {
			result = r.(object)["id"]
		}
	}
	c.call("contactRecall", object{"id": result}, object{"means": "message", "reached": true})
	c.call("moveRecall", object{"id": result}, object{"due_at": soon, "reason": "on holiday"})
	lab := c.call("addResult", patient, object{"kind": "hba1c", "value": "6.6", "unit": "%", "taken_at": f.Clock.Now(), "wear_id": w.ID, "recall_id": result})
	if lab["class"] != string(wear.ClassDiabetes) {
		t.Errorf("HbA1c 6.6 %% is %v", lab["class"])
	}
	c.call("withdrawResult", object{"id": w.Patient.ID, "result": lab["id"]}, object{"reason": "another patient's"})
	set := func(kind string) any {
		return c.call("addRecall", patient, object{"kind": kind, "due_at": soon, "note": "set by hand"})["id"]
	}
	c.call("closeRecall", object{"id": set("review")}, object{"reason": "seen"})
	c.call("cancelRecall", object{"id": set("appointment")}, object{"reason": "moved away"})

	added := c.call("addPatient", nil, object{"code": "P-77", "name": "Velo Tarim", "context": object{"steroid": true}, "contact": object{"telephone": "5550 1"}})
	c.refuse(http.StatusConflict, "addPatient", nil, object{"code": "P-77"})
	c.call("editPatient", object{"id": added["id"]}, object{
		"code": "P-77", "name": "Velo Tarim-Remi", "birth_date": "1961-03-24", "context": object{}, "contact": object{"preferred": "post"}, "version": added["version"],
	})
	c.refuse(http.StatusConflict, "editPatient", object{"id": added["id"]}, object{
		"code": "P-77", "name": "x", "birth_date": "", "context": object{}, "contact": object{}, "version": added["version"],
	})
	c.call("listPatients", nil, nil)
	c.call("listWears", nil, nil)
	c.call("searchPatients", nil, object{"text": "tarim 1961"})
	c.call("getPatient", patient, nil)
	c.call("addPatientNote", patient, object{"text": "hard of hearing"})
	c.refuse(http.StatusConflict, "mergePatients", patient, object{"other": added["id"], "reason": "not born on one day"})
	twin := c.call("addPatient", nil, object{"code": "P-80"})
	merge := c.call("mergePatients", patient, object{"other": twin["id"], "reason": "one person"})
	c.call("undoMerge", object{"id": merge["id"]}, object{"reason": "two people"})
	lines := object{"lines": []object{{"code": "P-78", "name": "Dova Remi", "sex": "female"}, {"code": "P-79", "birth_date": "1.2.1960"}}}
	c.call("previewRegister", nil, lines)
	checks := c.call("importRegister", nil, lines)["lines"].([]any)
	if checks[0].(object)["state"] != "new" || checks[1].(object)["state"] != "problem" {
		t.Errorf("the list: %v", checks)
	}

	c.call("listTemplates", nil, nil)
	c.call("setTemplate", object{"kind": letter.StartSheet}, object{"text": letter.Shipped(letter.StartSheet)})
	c.refuse(http.StatusUnprocessableEntity, "setTemplate", object{"kind": letter.Tests}, object{"text": "You have diabetes. {no_such_field}"})

	f.TryNameRule = func(rule string, _ []string) ([]string, error) {
		if !strings.Contains(rule, "{code}") {
			return nil, errors.New("Write {code} once.")
		}
		return nil, nil
	}
	c.call("setNameRule", nil, object{"rule": "*_{code}"})
	if got := c.call("getNameRule", nil, nil)["rule"]; got != "*_{code}" {
		t.Errorf("the rule is %v", got)
	}
	c.refuse(http.StatusUnprocessableEntity, "setNameRule", nil, object{"rule": "x"})
	f.Teach(3)
	recipe := object{"id": c.call("listRecipes", nil, nil)["recipes"].([]any)[0].(object)["id"]}
	c.call("setSensorKind", recipe, object{"kind": "B2"})
	c.refuse(http.StatusConflict, "readAgain", recipe, nil)
	c.call("withdrawRecipe", recipe, object{"reason": "the wrong unit"})
	if n := c.call("readAgain", recipe, nil)["files"]; n != 1.0 {
		t.Errorf("%v files are read again", n)
	}
	question := wear.Question{Code: "unit", Text: "Which unit?", Choices: []wear.Choice{{Value: "mmol/L", Text: "mmol/L"}}}
	if _, err := f.Store.Hold(t.Context(), store.Holding{
		Drop: store.Drop{Path: "held.csv", Size: 9, ModTime: f.Clock.Now(), SeenAt: f.Clock.Now().Add(time.Second)}, SHA256: storetest.Hash(99), Questions: []wear.Question{question},
	}); err != nil {
		t.Fatal(err)
	}
	c.refuse(http.StatusUnprocessableEntity, "sendFile", nil, object{"name": "P-9.csv", "data": ""})
	if got := c.call("sendFile", nil, object{"name": "P-9.csv", "data": "dGltZQ=="})["path"]; got != "P-9.csv" {
		t.Errorf("the file sent in is called %v", got)
	}
	c.call("listFiles", nil, nil)
	_, files := c.send("listFiles", nil, nil)
	held := object{"id": files["files"].([]any)[0].(object)["file_id"]}
	c.refuse(http.StatusUnprocessableEntity, "answerFile", held, object{"answers": object{"unit": "stone"}})
	c.call("answerFile", held, object{"answers": object{"unit": "mmol/L"}})

	c.call("listPeople", nil, nil)
	person := c.call("addPerson", nil, object{"login": "dova", "name": "Dova Remi", "roles": []string{"nurse"}})["person"].(object)
	c.call("invitePerson", object{"id": person["id"]}, nil)
	c.call("editPerson", object{"id": person["id"]}, object{"name": "Dova Remi", "roles": []string{"clinician"}, "disabled": false})
	c.call("resetFactor", object{"id": person["id"]}, object{"reason": "telephone lost"})
	if n := c.call("getAudit", nil, nil)["changes"].(object)["outcomes"]; n == 0.0 {
		t.Error("the audit knows of no outcome")
	}
	c.call("getLog", nil, nil)
	if k := c.call("verifyLog", nil, nil); k["whole"] != true {
		t.Errorf("the log: %v", k)
	}

	for _, id := range api.OperationIDs() {
		if !c.done[id] {
			t.Errorf("the operation %s was not reached", id)
		}
	}
}

// TestProblems sends what the document does not allow: each is refused with a
// problem that is as documented and says which member is wrong.
func TestProblems(t *testing.T) {
	f := servertest.New(t)
	w, _ := f.Dipper(1)
	c := newClient(f)
	one := object{"id": w.ID}
	for _, tt := range []struct {
		why    string
		status int
		id     string
		places object
		body   any
		field  string
	}{
		{"no such wear", 404, "getWear", object{"id": 77}, nil, ""},
		{"not a number", 404, "getWear", object{"id": "x"}, nil, ""},
		{"a member is missing", 422, "takeOver", one, object{}, "reason"},
		{"a member is null", 422, "takeOver", one, object{"reason": nil}, "reason"},
		{"a member has the wrong type", 422, "takeOver", one, object{"reason": 7}, "reason"},
		{"an unknown member", 422, "takeOver", one, object{"reason": "x", "force": true}, ""},
		{"a value that is not listed", 422, "recordContact", one, object{"means": "pigeon", "reached": true}, "means"},
		{"no object", 422, "takeOver", one, []int{1}, ""},
		{"the store refuses", 409, "recordOutcome", one, object{"kind": "off_pathway", "reason": "elsewhere", "evidence": w.Evidence}, ""},
		{"old evidence", 409, "recordOutcome", one, object{"kind": "off_pathway", "reason": "elsewhere", "evidence": 7}, ""},
		{"an event of another wear", 404, "withdrawEvent", object{"id": w.ID, "event": 99}, object{"reason": "x"}, ""},
		{"an answer of another call", 404, "withdrawAnswer", object{"id": w.ID, "call": 99}, object{"asked": w.Report.Start, "reason": "another wear"}, ""},
		{"a fingerstick without a value", 422, "addEvents", one, object{"events": []object{{"at": w.Report.Start, "kind": "fingerstick"}}}, "value"},
	} {
		p := c.refuse(tt.status, tt.id, tt.places, tt.body)
		fields, _ := p["fields"].([]any)
		if tt.field != "" && (len(fields) != 1 || fields[0].(object)["field"] != tt.field) {
			t.Errorf("%s: the problem names %v, want %q", tt.why, fields, tt.field)
		}
		if p["type"] != "urn:wearround:problem:"+fmt.Sprint(p["code"]) || p["title"] == "" || p["detail"] == "" {
			t.Errorf("%s: %v", tt.why, p)
		}
	}
	// Outside the table: no token, a token that has ended, an address that is not there.
	for path, want := range map[string]int{"/api/v1/round": 401, "/api/v1/nothing": 404} {
		w := f.AskAs(servertest.Nobody, http.MethodGet, path, nil, servertest.Bearer("made up"))
		if w.Code != want || w.Header().Get("Content-Type") != "application/problem+json" {
			t.Errorf("%s: status %d as %s", path, w.Code, w.Header().Get("Content-Type"))
		}
	}
	f.Clock.Advance(25 * time.Hour)
	if status, _ := c.send("getRound", nil, nil); status != 401 {
		t.Errorf("a token that has ended: status %d", status)
	}
}

// TestQueryOfTheAPI refuses a parameter that the document does not allow.
func TestQueryOfTheAPI(t *testing.T) {
	f := servertest.New(t)
	f.File(1)
	token := servertest.Bearer(f.Token(store.RoleNurse, store.ScopeRead))
	for query, want := range map[string]int{"?tier=this_month": 200, "?tier=soon": 422, "?offset=-1": 422, "?offset=x": 422, "?q=P00001": 422} {
		w := f.AskAs(servertest.Nobody, http.MethodGet, door.APIBase+"/round"+query, nil, token)
		if w.Code != want || want == 200 && !strings.Contains(w.Body.String(), "P00001") {
			t.Errorf("%s: status %d, want %d: %s", query, w.Code, want, w.Body)
		}
	}
}

// A key is of one request: the same request again is answered as the first one
// was and done once; another with that key is refused, and nothing is lost.
func TestAKeyIsOfOneRequest(t *testing.T) {
	f := servertest.New(t)
	c := newClient(f)
	one, _ := f.Dipper(1)
	two, _ := f.Dipper(2)
	post := func(wear int64, text string) int {
		r := httptest.NewRequest(http.MethodPost, fmt.Sprintf("http://127.0.0.1:8470%s/wears/%d/notes", door.APIBase, wear), strings.NewReader(fmt.Sprintf(`{"text":%q}`, text)))
		r.RemoteAddr = "127.0.0.1:50000"
		r.Header.Set("Authorization", "Bearer "+c.token)
		r.Header.Set("Content-Type", "application/json")
		r.Header.Set("Idempotency-Key", "k1")
		w := httptest.NewRecorder()
		c.ServeHTTP(w, r)
		return w.Code
	}
	for i, want := range []int{post(one.ID, "rang back"), post(one.ID, "rang back")} {
		if want != http.StatusCreated {
			t.Errorf("request %d: status %d", i, want)
		}
	}
	if got := post(two.ID, "rang back"); got != http.StatusConflict {
		t.Errorf("of another wear: status %d", got)
	}
	if got := post(one.ID, "rang again"); got != http.StatusConflict {
		t.Errorf("with another text: status %d", got)
	}
	for id, want := range map[int64]int{one.ID: 1, two.ID: 0} {
		if v, err := f.Store.Review(t.Context(), id); err != nil || len(v.Notes) != want {
			t.Errorf("%d notes, %v; want %d", len(v.Notes), err, want)
		}
	}
}

// TestWithoutATokenItIsAskedFor: whatever the method, and from wherever.
func TestWithoutATokenItIsAskedFor(t *testing.T) {
	f := servertest.New(t)
	c := newClient(f)
	for path, methods := range c.paths {
		for method, op := range methods {
			if op.ID == "" {
				continue
			}
			path := strings.NewReplacer("{id}", "1", "{event}", "1", "{override}", "1", "{result}", "1", "{token}", "1").Replace(path)
			for _, from := range []string{"", "cross-site"} {
				w := f.AskAs(servertest.Nobody, strings.ToUpper(method), path, nil, func(r *http.Request) { r.Header.Set("Sec-Fetch-Site", from) })
				if w.Code != http.StatusUnauthorized || !strings.HasPrefix(w.Header().Get("WWW-Authenticate"), "Bearer ") {
					t.Errorf("%s %s without a token, from %q: %d, %q", method, path, from, w.Code, w.Header().Get("WWW-Authenticate"))
				}
			}
		}
	}
}
