package server_test

import (
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"

	"github.com/gin-gonic/gin"

	"wearround/server/door"
	"wearround/server/servertest"
	"wearround/store"
	"wearround/store/storetest"
)

// The letters of the table below: who may ask for a route.
const (
	nurse     = "n"
	clinician = "c"
	lead      = "l"
	auditor   = "a"
	signedOut = "-" // everybody, signed in or not
)

// allowed says, apart from the code that decides it, who may ask for each route
// of the server. A route that is added without a line here fails the test.
var allowed = map[string]string{
	"GET /sign-in":                          signedOut,
	"POST /sign-in":                         signedOut,
	"GET /sign-in/second":                   signedOut,
	"POST /sign-in/second":                  signedOut,
	"GET /sign-in/factor":                   signedOut,
	"POST /sign-in/factor":                  signedOut,
	"GET /set-up/:token":                    signedOut,
	"POST /set-up/:token":                   signedOut,
	"GET /welcome/:id/:secret":              signedOut,
	"POST /welcome/:id/:secret":             signedOut,
	"GET /static/*name":                     signedOut,
	"GET /healthz":                          signedOut,
	"GET /readyz":                           signedOut,
	"GET /metrics":                          signedOut,
	"POST /sign-out":                        "ncla",
	"POST /session/extend":                  "ncla",
	"GET /drafts":                           "ncla",
	"POST /drafts":                          "ncla",
	"GET /live":                             "ncla",
	"GET /about":                            "ncla",
	"GET /about/look":                       "ncla",
	"GET /protocol":                         "ncla",
	"GET /protocol.json":                    "ncla",
	"GET /protocol/draft":                   "cl",
	"POST /protocol/draft":                  "cl",
	"POST /protocol/import":                 "cl",
	"GET /protocol/versions/:id":            "ncla",
	"GET /protocol/versions/:id/file":       "ncla",
	"GET /protocol/versions/:id/what-if":    "cl",
	"POST /protocol/versions/:id/sign":      "cl", // whoever sets a practice up is its clinician too
	"GET /system":                           "cl",
	"GET /help":                             "ncla",
	"GET /help/tour":                        "ncl",
	"GET /account":                          "ncla",
	"POST /account/password":                "ncla",
	"POST /account/factor":                  "ncla",
	"POST /account/factor/confirm":          "ncla",
	"POST /account/codes":                   "ncla",
	"POST /account/sessions/revoke":         "ncla",
	"POST /account/sessions/:id/revoke":     "ncla",
	"GET /people":                           "l",
	"POST /people":                          "l",
	"POST /people/:id/roles":                "l",
	"POST /people/:id/disable":              "l",
	"POST /people/:id/enable":               "l",
	"POST /people/:id/reset-factor":         "l",
	"POST /people/:id/link":                 "l",
	"GET /log":                              "la",
	"GET /audit":                            "cla",
	"GET /audit.csv":                        "cla",
	"POST /audit/keep":                      "cla",
	"GET /audit/kept/:id":                   "cla",
	"GET /":                                 "ncl",
	"POST /":                                "ncl",
	"POST /claims/next":                     "ncl",
	"POST /filters":                         "ncl",
	"POST /filters/:id/delete":              "ncl",
	"GET /wears/:id/export/:format":         "ncl",
	"GET /wears/:id":                        "ncl",
	"POST /wears/:id/claim":                 "ncl",
	"POST /wears/:id/renew":                 "ncl",
	"POST /wears/:id/release":               "ncl",
	"POST /wears/:id/take-over":             "ncl",
	"POST /wears/:id/hand-over":             "ncl",
	"GET /wears/:id/call":                   "ncl",
	"GET /wears/:id/words":                  "ncl",
	"POST /wears/:id/call":                  "ncl",
	"POST /wears/:id/words":                 "ncl",
	"POST /wears/:id/red-flags":             "ncl",
	"POST /wears/:id/attempt":               "ncl",
	"POST /wears/:id/overrule":              "ncl",
	"POST /wears/:id/fingerstick":           "ncl",
	"POST /wears/:id/results":               "ncl",
	"POST /wears/:id/note":                  "ncl",
	"POST /wears/:id/zone":                  "ncl",
	"POST /wears/:id/take-back":             "ncl",
	"POST /wears/:id/reopen":                "ncl",
	"POST /wears/:id/move":                  "ncl",
	"GET /wears/:id/outcome":                "ncl",
	"POST /wears/:id/outcome":               "ncl",
	"POST /outcomes/:id/undo":               "ncl",
	"GET /wears/:id/letters":                "ncl",
	"POST /wears/:id/letters":               "ncl",
	"GET /wears/:id/two-weeks":              "ncl",
	"GET /round.csv":                        "ncl",
	"GET /letters":                          "ncl",
	"GET /letters/:id":                      "ncl",
	"POST /letters/:id/preview":             "ncl",
	"POST /letters/:id/send":                "ncl",
	"POST /letters/:id/discard":             "ncl",
	"GET /letters/sheets/:kind":             "ncl",
	"GET /letters/templates/:kind":          "ncl",
	"POST /letters/templates/:kind/preview": "ncl",
	"POST /letters/templates/:kind":         "l",
	"POST /letters/templates/:kind/shipped": "l",
	"GET /patients":                         "ncl",
	"POST /patients":                        "ncl",
	"POST /patients/search":                 "ncl",
	"GET /patients/new":                     "ncl",
	"GET /patients/import":                  "ncl",
	"POST /patients/import":                 "ncl",
	"POST /patients/import/confirm":         "ncl",
	"GET /patients/:id/export":              "ncl",
	"GET /patients/:id":                     "ncl",
	"POST /patients/:id":                    "ncl",
	"GET /patients/:id/edit":                "ncl",
	"POST /patients/:id/results":            "ncl",
	"POST /patients/:id/take-back":          "ncl",
	"POST /patients/:id/note":               "ncl",
	"POST /patients/:id/recalls":            "ncl",
	"GET /patients/:id/merge":               "ncl",
	"POST /patients/:id/merge/preview":      "ncl",
	"POST /patients/:id/merge":              "ncl",
	"POST /merges/:id/undo":                 "ncl",
	"GET /sheet":                            "ncl",
	"POST /sheet":                           "ncl",
	"POST /sheet/:id/undo":                  "ncl",
	"GET /outbox":                           "ncl",
	"POST /outbox/print":                    "ncl",
	"POST /outbox/posted":                   "ncl",
	"GET /outbox/run":                       "ncl",
	"GET /settings":                         "ncl",
	"POST /settings":                        "l",
	"POST /files/upload":                    "ncl",
	"POST /api/v1/files":                    "ncl",
	"GET /out":                              "ncl",
	"GET /out/new":                          "ncl",
	"GET /out/:id/sheet":                    "ncl",
	"POST /out":                             "ncl",
	"GET /recalls":                          "ncl",
	"POST /recalls/:id/attempt":             "ncl",
	"POST /recalls/:id/done":                "ncl",
	"POST /recalls/:id/move":                "ncl",
	"POST /recalls/:id/cancel":              "ncl",
	"POST /recalls/:id/results":             "ncl",
	"GET /files":                            "ncl",
	"POST /files/:id/answer":                "ncl",
	"POST /files/:id/takeback":              "ncl",
	"GET /files/names":                      "ncl",
	"POST /files/names":                     "l",
	"POST /files/names/try":                 "ncl",
	"GET /recipes":                          "ncl",
	"GET /recipes/:id":                      "ncl",
	"POST /recipes/:id/kind":                "ncl",
	"POST /recipes/:id/withdraw":            "ncl",
	"POST /recipes/:id/again":               "ncl",

	"GET /api/v1/openapi.json":                              "ncla",
	"GET /api/v1/daily":                                     "ncla",
	"GET /api/v1/round":                                     "ncl",
	"POST /api/v1/round/search":                             "ncl",
	"POST /api/v1/round/next":                               "ncl",
	"GET /api/v1/wears/:id":                                 "ncl",
	"GET /api/v1/wears/:id/trace":                           "ncl",
	"PUT /api/v1/wears/:id/claim":                           "ncl",
	"DELETE /api/v1/wears/:id/claim":                        "ncl",
	"POST /api/v1/wears/:id/take-over":                      "ncl",
	"POST /api/v1/wears/:id/hand-over":                      "ncl",
	"POST /api/v1/wears/:id/calls":                          "ncl",
	"POST /api/v1/wears/:id/calls/:call/withdrawal":         "ncl",
	"POST /api/v1/wears/:id/events":                         "ncl",
	"POST /api/v1/wears/:id/events/:event/withdrawal":       "ncl",
	"POST /api/v1/wears/:id/overrides":                      "ncl",
	"POST /api/v1/wears/:id/overrides/:override/withdrawal": "ncl",
	"POST /api/v1/wears/:id/notes":                          "ncl",
	"PUT /api/v1/wears/:id/zone":                            "ncl",
	"POST /api/v1/wears/:id/contacts":                       "ncl",
	"GET /api/v1/outcomes":                                  "ncl",
	"POST /api/v1/wears/:id/outcomes":                       "ncl",
	"POST /api/v1/outcomes/:id/undo":                        "ncl",
	"POST /api/v1/outcomes/:id/correction":                  "ncl",
	"POST /api/v1/wears/:id/reopening":                      "ncl",
	"GET /api/v1/wears":                                     "ncl",
	"GET /api/v1/patients":                                  "ncl",
	"POST /api/v1/patients":                                 "ncl",
	"POST /api/v1/patients/search":                          "ncl",
	"GET /api/v1/patients/:id":                              "ncl",
	"PUT /api/v1/patients/:id":                              "ncl",
	"POST /api/v1/patients/:id/notes":                       "ncl",
	"POST /api/v1/patients/:id/merges":                      "ncl",
	"POST /api/v1/merges/:id/undo":                          "ncl",
	"POST /api/v1/register/preview":                         "ncl",
	"POST /api/v1/register":                                 "ncl",
	"POST /api/v1/patients/:id/results":                     "ncl",
	"POST /api/v1/patients/:id/results/:result/withdrawal":  "ncl",
	"GET /api/v1/recalls":                                   "ncl",
	"POST /api/v1/patients/:id/recalls":                     "ncl",
	"POST /api/v1/recalls/:id/contacts":                     "ncl",
	"POST /api/v1/recalls/:id/done":                         "ncl",
	"POST /api/v1/recalls/:id/cancellation":                 "ncl",
	"PUT /api/v1/recalls/:id/date":                          "ncl",
	"POST /api/v1/wears/:id/letters":                        "ncl",
	"GET /api/v1/letters/:id":                               "ncl",
	"POST /api/v1/letters/:id/sending":                      "ncl",
	"POST /api/v1/letters/:id/discard":                      "ncl",
	"GET /api/v1/templates":                                 "ncl",
	"PUT /api/v1/templates/:kind":                           "l",
	"GET /api/v1/files":                                     "ncl",
	"POST /api/v1/files/:id/answers":                        "ncl",
	"GET /api/v1/name-rule":                                 "ncl",
	"PUT /api/v1/name-rule":                                 "l",
	"GET /api/v1/recipes":                                   "ncl",
	"PUT /api/v1/recipes/:id/sensor-kind":                   "ncl",
	"POST /api/v1/recipes/:id/withdrawal":                   "ncl",
	"POST /api/v1/recipes/:id/reading":                      "ncl",
	"GET /api/v1/people":                                    "l",
	"POST /api/v1/people":                                   "l",
	"PUT /api/v1/people/:id":                                "l",
	"POST /api/v1/people/:id/link":                          "l",
	"POST /api/v1/people/:id/factor-reset":                  "l",
	"GET /api/v1/audit":                                     "cla",
	"GET /api/v1/log":                                       "la",
	"POST /api/v1/log/verification":                         "la",
}

var letters = map[string]store.Role{nurse: store.RoleNurse, clinician: store.RoleClinician, lead: store.RoleLead, auditor: store.RoleAuditor}

// TestEveryRouteAndRole asks for every route as every role and as nobody. Who
// may not is refused before the handler runs, and who may is never refused for
// who they are.
func TestEveryRouteAndRole(t *testing.T) {
	f := servertest.New(t)
	id := f.File(1)
	routes := slices.DeleteFunc(f.Engine().Routes(), func(r gin.RouteInfo) bool { return r.Method == http.MethodHead }) // as GET: TestHead
	for _, r := range routes {
		name := r.Method + " " + r.Path
		if allowed[name] == "" {
			t.Errorf("%s is not in the table of who may ask for it: add a line", name)
		}
	}
	if len(allowed) != len(routes) {
		for name := range allowed {
			if !slices.ContainsFunc(routes, func(r gin.RouteInfo) bool { return r.Method+" "+r.Path == name }) {
				t.Errorf("the table has %s, which is no route", name)
			}
		}
	}
	for _, r := range routes {
		who := allowed[r.Method+" "+r.Path]
		for letter, role := range letters {
			f.SignIn(role) // the one before may have signed out
			w := f.AskAs(role, r.Method, servertest.Fill(r.Path, id), url.Values{})
			refused := w.Code == http.StatusForbidden || w.Code == http.StatusUnauthorized ||
				w.Code == http.StatusNotFound && strings.Contains(w.Body.String(), "There is no such page") ||
				r.Path == "/" && w.Code == http.StatusSeeOther
			switch may := who == signedOut || strings.Contains(who, letter); {
			case strings.HasPrefix(r.Path, door.APIBase+"/") && r.Path != door.OpenAPIPath:
				if w.Code != http.StatusUnauthorized { // a cookie is no token
					t.Errorf("%s %s with the cookie of %s: status %d, want 401", r.Method, r.Path, role, w.Code)
				}
			case !may && !refused:
				t.Errorf("%s %s as %s: status %d, want a refusal", r.Method, r.Path, role, w.Code)
			case may && w.Code == http.StatusForbidden:
				t.Errorf("%s %s as %s: refused: %s", r.Method, r.Path, role, servertest.SaidOn(w))
			}
		}
		w := f.AskAs(servertest.Nobody, r.Method, servertest.Fill(r.Path, id), url.Values{})
		in := w.Code == http.StatusUnauthorized || w.Code == http.StatusSeeOther && strings.HasPrefix(w.Header().Get("Location"), door.SignInPath)
		if who != signedOut && !in {
			t.Errorf("%s %s signed out: status %d to %q, want the sign-in", r.Method, r.Path, w.Code, w.Header().Get("Location"))
		}
		if strings.Contains(w.Body.String(), "Lemo Lead") {
			t.Errorf("%s %s signed out names somebody", r.Method, r.Path)
		}
	}
}

// TestTokensAndRoles does the same for the API with a token of each scope.
func TestTokensAndRoles(t *testing.T) {
	f := servertest.New(t)
	id := f.File(1)
	tokens := map[store.Role]map[string]string{}
	for _, role := range letters {
		tokens[role] = map[string]string{}
		for _, sc := range store.Scopes() {
			tokens[role][sc] = f.Token(role, sc)
		}
	}
	for _, o := range f.Routes() {
		if o.Scope == "" {
			continue
		}
		who := allowed[o.Method+" "+o.Path]
		for letter, role := range letters {
			for _, sc := range store.Scopes() {
				w := f.AskAs(servertest.Nobody, o.Method, servertest.Fill(o.Path, id), nil, servertest.Bearer(tokens[role][sc]), servertest.AsJSON(`{}`))
				may := strings.Contains(who, letter) && string(o.Scope) == sc
				refused := w.Code == http.StatusForbidden || w.Code == http.StatusNotFound && strings.Contains(w.Body.String(), "no such page")
				if may && w.Code == http.StatusForbidden || !may && !refused {
					t.Errorf("%s %s with the scope %s of %s: status %d, may ask: %v", o.Method, o.Path, sc, role, w.Code, may)
				}
			}
		}
	}
}

// TestOthersThings holds one person's own things from another.
func TestOthersThings(t *testing.T) {
	f := servertest.New(t)
	nurses, err := f.Store.Sessions(t.Context(), f.People[store.RoleNurse].ID)
	if err != nil {
		t.Fatal(err)
	}
	path := "/account/sessions/" + door.IDText(nurses[0].ID) + "/revoke"
	if w := f.AskAs(store.RoleClinician, http.MethodPost, path, nil); w.Code != http.StatusNotFound {
		t.Errorf("another's session was ended: status %d", w.Code)
	}
	if err := f.Store.SaveFilter(t.Context(), f.Actor(store.RoleNurse), "mine", "tier=today", false); err != nil {
		t.Fatal(err)
	}
	saved, err := f.Store.SavedFilters(t.Context(), f.People[store.RoleNurse].ID)
	if err != nil || len(saved) != 1 {
		t.Fatal(saved, err)
	}
	if w := f.AskAs(store.RoleClinician, http.MethodPost, "/filters/"+door.IDText(saved[0].ID)+"/delete", nil); w.Code != http.StatusNotFound {
		t.Errorf("another's filter was forgotten: status %d", w.Code)
	}
	if body := f.AskAs(store.RoleClinician, http.MethodGet, "/", nil).Body.String(); strings.Contains(body, ">mine<") {
		t.Error("a filter that is not shared is shown to another")
	}
	// Only the person who recorded an outcome takes it back.
	id := f.File(1)
	ctx := t.Context()
	if _, err := f.Store.Claim(ctx, f.Actor(store.RoleNurse), id); err != nil {
		t.Fatal(err)
	}
	o, err := f.Store.RecordOutcome(ctx, f.Actor(store.RoleNurse), store.NewOutcome{WearID: id, Kind: store.OffPathway, Reason: "looked after elsewhere", Seen: storetest.Seen(t, f.Store, id)})
	if err != nil {
		t.Fatal(err)
	}
	if w := f.AskAs(store.RoleClinician, http.MethodPost, "/outcomes/"+door.IDText(o.ID)+"/undo", nil); w.Code != http.StatusForbidden {
		t.Errorf("another's outcome was taken back: status %d", w.Code)
	}
}

// TestAuditorSeesNoPerson looks for a patient in everything an auditor may see.
func TestAuditorSeesNoPerson(t *testing.T) {
	f := servertest.New(t)
	id := f.File(1)
	f.Ask(http.MethodGet, "/wears/"+door.IDText(id), nil)
	for _, path := range []string{"/", "/log", "/audit", "/audit.csv", "/about", "/about/look", "/protocol", "/system", "/help", "/account", "/live", "/wears/" + door.IDText(id), "/patients/1", "/patients", "/recalls", "/files"} {
		w := f.AskAs(store.RoleAuditor, http.MethodGet, path, nil)
		for _, secret := range []string{"P00001", "Balen"} {
			if strings.Contains(w.Body.String(), secret) {
				t.Errorf("%s shows an auditor %q", path, secret)
			}
		}
	}
}
