package server_test

import (
	"encoding/json"
	"fmt"
	"maps"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"

	"wearround/server/door"
	"wearround/server/servertest"
	"wearround/store"
	"wearround/store/storetest"
	"wearround/worker/wear"
)

// comfort asks every route there is, page or API, in every way that a form or a
// body could, to tell the patient of one wear that all is well. A route that is
// added is asked too.
func comfort(f *servertest.Fixture, id int64, role store.Role) {
	f.T.Helper()
	evidence := fmt.Sprint(f.Evidence(id))
	words := "There is nothing to do because of this record."
	full := url.Values{
		"outcome": {"told_well"}, "told": {fmt.Sprintf("%d:%s", id, evidence)}, "kind": {"patient_unremarkable"}, "version": {evidence}, "evidence": {evidence}, "seen": {evidence},
		"text": {words}, "how": {"post"}, "read": {"yes"}, "reason": {"Talked it through."}, "told_well-reason": {"Talked it through."}, "wear": {fmt.Sprint(id)}, "list": {"unprinted"},
	}
	token := f.Token(role, store.ScopeWrite)
	bodies := apiBodies(f, map[string]any{"kind": "told_well", "evidence": f.Evidence(id), "reason": "Talked it through.", "text": words, "how": "post", "means": "post"})
	for _, r := range f.Routes() {
		if r.Method == http.MethodGet || strings.Contains(r.Path, "sign-out") || strings.Contains(r.Path, "sessions") || strings.Contains(r.Path, "undo") || strings.HasPrefix(r.Path, "/people") || strings.HasPrefix(r.Path, "/account") {
			continue // takes back, or ends who asks
		}
		if strings.HasSuffix(r.Path, "/zone") {
			continue // its files are read again, and until then nobody may be told
		}
		path := servertest.Fill(r.Path, id)
		if r.Scope == "" {
			f.SignIn(role)
			f.AskAs(role, r.Method, path, full)
			continue
		}
		for _, body := range bodies[r.Method+" "+r.Path] {
			f.AskAs(servertest.Nobody, r.Method, path, nil, servertest.Bearer(token), servertest.AsJSON(body))
		}
	}
}

// apiBodies are bodies for each operation, made from its description: what is
// known is filled in, and of a closed list each choice is tried.
func apiBodies(f *servertest.Fixture, known map[string]any) map[string][]string {
	f.T.Helper()
	var doc struct {
		Paths map[string]map[string]struct {
			RequestBody struct {
				Content map[string]struct{ Schema map[string]any }
			}
		}
		Components struct{ Schemas map[string]map[string]any }
	}
	if err := json.Unmarshal(f.Ask(http.MethodGet, door.OpenAPIPath, nil).Body.Bytes(), &doc); err != nil {
		f.T.Fatal(err)
	}
	out := map[string][]string{}
	for path, ways := range doc.Paths {
		for method, o := range ways {
			schema := o.RequestBody.Content["application/json"].Schema
			if ref, ok := schema["$ref"].(string); ok {
				schema = doc.Components.Schemas[ref[strings.LastIndex(ref, "/")+1:]]
			}
			properties, _ := schema["properties"].(map[string]any)
			body := map[string]any{}
			for name, v := range known {
				if properties[name] != nil {
					body[name] = v
				}
			}
			choices := []any{body["kind"]}
			if kind, ok := properties["kind"].(map[string]any); ok && kind["enum"] != nil {
				choices, _ = kind["enum"].([]any)
			}
			name := strings.ToUpper(method) + " " + door.APIBase + strings.NewReplacer("{", ":", "}", "").Replace(strings.TrimPrefix(path, door.APIBase))
			for _, k := range choices {
				if k != nil {
					body["kind"] = k
				}
				b, err := json.Marshal(body)
				if err != nil {
					f.T.Fatal(err)
				}
				out[name] = append(out[name], string(b))
			}
		}
	}
	return out
}

// told says how the patient of a wear was told that all is well, or nothing.
func told(f *servertest.Fixture, id int64) (how []string) {
	f.T.Helper()
	v, err := f.Store.Review(f.T.Context(), id)
	if err != nil {
		f.T.Fatal(err)
	}
	for _, o := range v.Outcomes {
		if o.Kind == store.ToldWell {
			how = append(how, "an outcome")
		}
	}
	for _, l := range v.Letters {
		if l.Kind == "patient_unremarkable" || l.Kind == "patient_near" {
			how = append(how, "a letter")
		}
	}
	for _, page := range []string{"/wears/%d/two-weeks", "/outbox/run?at=%d"} {
		w := f.AskAs(store.RoleNurse, http.MethodGet, fmt.Sprintf(page, id), nil)
		if strings.Contains(w.Body.String(), "leave alone") || strings.Contains(w.Body.String(), "nothing more that we would like") {
			how = append(how, page)
		}
	}
	return how
}

// waits are files that are held and may change the wear of a patient.
var waits = map[string]func(h *store.Holding, p store.Patient){
	"second export": func(h *store.Holding, p store.Patient) {
		h.PatientID, h.Questions = p.ID, []wear.Question{{Code: "overlap", Text: "Is it the same sensor?", Choices: []wear.Choice{{Value: "one_sensor"}}}}
	},
	"whose is open": func(h *store.Holding, p store.Patient) {
		h.Questions = []wear.Question{{Code: "patient", Text: "Whose wear is this?", Choices: []wear.Choice{{Value: p.Code}}}}
	},
}

// hold holds such a file; nil is none.
func hold(f *servertest.Fixture, change func(h *store.Holding, p store.Patient), p store.Patient) {
	f.T.Helper()
	if change == nil {
		return
	}
	h := store.Holding{Drop: store.Drop{Path: "held.csv", Size: 1, ModTime: f.Clock.Now(), SeenAt: f.Clock.Now()}, SHA256: storetest.Hash(900)}
	change(&h, p)
	if _, err := f.Store.Hold(f.T.Context(), h); err != nil {
		f.T.Fatal(err)
	}
}

// TestNoRouteTellsUnearned: whatever route is asked, by whomever, nobody is told
// that all is well about a wear of which nobody may be told so; and one of which
// it may be told, is. With the race detector each is asked by one role, in turn.
func TestNoRouteTellsUnearned(t *testing.T) {
	all := []store.Role{store.RoleNurse, store.RoleClinician, store.RoleLead}
	changes := map[string]func(*wear.Report){
		"words unread":   func(r *wear.Report) { r.Unread = 1 },
		"nobody asked":   func(r *wear.Report) { r.AskedOn = "" },
		"nothing usable": func(r *wear.Report) { r.Believed = 0 },
		"second export":  func(*wear.Report) {},
		"whose is open":  func(*wear.Report) {},
		"":               func(*wear.Report) {},
	}
	for i, name := range slices.Sorted(maps.Keys(changes)) {
		change, roles := changes[name], all
		if storetest.RaceDetector {
			roles = all[i%3 : i%3+1]
		}
		t.Run(name, func(t *testing.T) {
			for _, role := range roles {
				f := servertest.New(t)
				p := storetest.AddPatient(t, f.Store, 1)
				filing := storetest.Filing(1, p.ID, f.Clock.Now(), 14, wear.Routine, 0)
				storetest.Change(&filing.Wears[0], change)
				id := storetest.File(t, f.Store, filing)
				hold(f, waits[name], p)
				f.Must(role, fmt.Sprintf("/wears/%d/claim", id), nil)
				comfort(f, id, role)
				how := told(f, id)
				switch {
				case name == "" && !slices.Contains(how, "an outcome"):
					t.Errorf("%s: the ways do not even tell what may be told: %v", role, how)
				case name != "" && len(how) > 0:
					t.Errorf("%s: told by %v", role, how)
				}
			}
		})
	}
}
