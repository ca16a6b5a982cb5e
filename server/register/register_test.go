package register_test

import (
	"bytes"
	"fmt"
	"mime/multipart"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"wearround/server/door"
	"wearround/server/servertest"
	"wearround/store"
)

func TestImport(t *testing.T) {
	f := servertest.New(t)
	text := "code,name,birth\nP-1,Velo Tarim,1961-03-24\nP-2,Dova Remi,1970-30-30\n"
	var body bytes.Buffer
	m := multipart.NewWriter(&body)
	m.WriteField("csrf", door.FormToken(f.Sessions[store.RoleNurse]))
	part, err := m.CreateFormFile("list", "list.csv")
	if err != nil {
		t.Fatal(err)
	}
	part.Write([]byte(text))
	m.Close()
	w := f.AskAs(store.RoleNurse, http.MethodPost, "/patients/import", nil, func(r *http.Request) {
		r.Header.Set("Content-Type", m.FormDataContentType())
		r.Body, r.ContentLength = http.MaxBytesReader(nil, nopCloser{&body}, 1<<20), int64(body.Len())
	})
	if w.Code != http.StatusOK || !strings.Contains(w.Body.String(), "Velo Tarim") || !strings.Contains(w.Body.String(), "year-month-day") {
		t.Fatalf("status %d: %s", w.Code, servertest.SaidOn(w))
	}
	if list, err := f.Store.Patients(t.Context()); err != nil || len(list) != 0 {
		t.Fatalf("the preview added %v, %v", list, err)
	}
	w = f.AskAs(store.RoleNurse, http.MethodPost, "/patients/import/confirm", url.Values{"text": {text}})
	if w.Code != http.StatusOK || !strings.Contains(w.Body.String(), "added: 1") || f.Looks != 1 {
		t.Errorf("status %d, %d looks: %s", w.Code, f.Looks, servertest.SaidOn(w))
	}
	if w := f.AskAs(store.RoleNurse, http.MethodPost, "/patients/import", url.Values{"text": {"name\nx"}}); w.Code != http.StatusUnprocessableEntity {
		t.Errorf("a list without codes: status %d", w.Code)
	}
	long := url.Values{"text": {strings.Repeat("x", door.MaxListBody)}}
	if w := f.AskAs(store.RoleNurse, http.MethodPost, "/patients/import", long); w.Code != http.StatusRequestEntityTooLarge {
		t.Errorf("a list that is too long: status %d", w.Code)
	}
}

type nopCloser struct{ *bytes.Buffer }

func (nopCloser) Close() error { return nil }

// TestRegister adds a patient, edits them, joins a second entry and takes it
// out again.
func TestRegister(t *testing.T) {
	f := servertest.New(t)
	n := store.RoleNurse
	one := url.Values{"code": {"P-1"}, "name": {"Velo Tarim"}, "birth": {"1961-03-24"}, "phone": {"5550 17"}, "prefers": {"telephone"}, "sex": {"female"}, "context": {"steroid"}}
	to := f.Must(n, "/patients", one)
	f.Has(n, to, "Velo Tarim", "5550 17", "steroid")
	if w := f.AskAs(n, http.MethodPost, "/patients", one); w.Code != http.StatusUnprocessableEntity {
		t.Errorf("the same code twice: status %d", w.Code)
	}
	f.Has(n, to+"/edit", "5550 17")
	edited := url.Values{"code": {"P-1"}, "name": {"Velo Tarim-Remi"}, "birth": {"1961-03-24"}}
	f.Must(n, to, edited)
	found := f.Must(n, "/patients/search", url.Values{"q": {"remi"}})
	f.Has(n, found, "Velo Tarim-Remi", "1 of 1")
	stale := url.Values{"code": {"P-1"}, "name": {"x"}, "version": {"1"}}
	if w := f.AskAs(n, http.MethodPost, to, stale); w.Code != http.StatusUnprocessableEntity {
		t.Errorf("an edit of an older state: status %d", w.Code)
	}
	second := f.Must(n, "/patients", url.Values{"code": {"P-2"}, "name": {"V Tarim"}})
	w := f.AskAs(n, http.MethodPost, to+"/merge/preview", url.Values{"code": {"P-2"}})
	if w.Code != http.StatusOK || !strings.Contains(w.Body.String(), "V Tarim") {
		t.Fatalf("status %d: %s", w.Code, servertest.SaidOn(w))
	}
	for _, bad := range []string{"P-1", "P-9"} {
		if w := f.AskAs(n, http.MethodPost, to+"/merge/preview", url.Values{"code": {bad}}); w.Code != http.StatusUnprocessableEntity {
			t.Errorf("merged with %s: status %d", bad, w.Code)
		}
	}
	f.Must(n, to+"/merge", url.Values{"other": {strings.TrimPrefix(second, "/patients/")}, "reason": {"same birth date and street"}})
	f.Has(n, second, "Velo Tarim-Remi") // leads to the entry that was kept
	merges, err := f.Store.Merges(t.Context(), servertest.Atoi(t, strings.TrimPrefix(to, "/patients/")))
	if err != nil || len(merges) != 1 {
		t.Fatal(merges, err)
	}
	f.Must(n, "/merges/"+door.IDText(merges[0].ID)+"/undo", nil)
	f.Has(n, second, "V Tarim")
	// Only names of what changed stand in the log.
	log, err := f.Store.LogRows(t.Context(), store.LogQuery{Limit: 200})
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range log {
		if strings.Contains(r.Reason, "Tarim") || strings.Contains(r.Reason, "5550") {
			t.Errorf("the log holds what an entry says: %+v", r)
		}
	}
}

// A list told line by line: what is new, changed, as it was and left out, in the
// preview and after it; and the second page of the register.
func TestImportSaysWhatBecameOfEachLine(t *testing.T) {
	f := servertest.New(t)
	n := store.RoleNurse
	head := "code,name,birth\nP-1,Velo Tarim,1961-03-24\n"
	f.AskAs(n, http.MethodPost, "/patients/import/confirm", url.Values{"text": {head + "P-2,Dova Remi,1970-03-03\n"}})
	text := url.Values{"text": {head + "P-2,Dova Remi-Tarim,1970-03-03\nP-3,Oru Belvane,1980-01-01\nP-4,Lumo,1970-30-30\n"}}
	w := f.AskAs(n, http.MethodPost, "/patients/import/confirm", text)
	if want := "Patients added: 1. Changed: 1. As they were: 1. Left out because of a problem: 1."; w.Code != http.StatusOK || !strings.Contains(w.Body.String(), want) {
		t.Errorf("status %d, want %q: %s", w.Code, want, servertest.SaidOn(w))
	}
	if looks := f.Looks; looks != 2 {
		t.Errorf("%d looks for files that waited, want one a list", looks)
	}
	var many strings.Builder
	many.WriteString("code,name\n")
	for i := range 60 {
		fmt.Fprintf(&many, "Q-%02d,Person %02d\n", i, i)
	}
	f.AskAs(n, http.MethodPost, "/patients/import/confirm", url.Values{"text": {many.String()}})
	first, second := f.AskAs(n, http.MethodGet, "/patients", nil).Body.String(), f.AskAs(n, http.MethodGet, "/patients?page=2", nil).Body.String()
	for code, page := range map[string]string{"P-1": first, "Q-46": first, "Q-47": second, "Q-59": second} {
		other := first
		if page == first {
			other = second
		}
		if !strings.Contains(page, code+"<") || strings.Contains(other, code+"<") {
			t.Errorf("%s does not stand on its page alone", code)
		}
	}
	one, err := f.Store.PatientByCode(t.Context(), "P-1")
	if err != nil {
		t.Fatal(err)
	}
	at := "/patients/" + door.IDText(one.ID)
	f.Must(n, at+"/note", url.Values{"note": {"rings back after six"}})
	f.Has(n, at, "rings back after six")
	w = f.AskAs(n, http.MethodPost, at+"/merge/preview", url.Values{"code": {"P-2"}})
	for _, want := range []string{"Velo Tarim", "Dova Remi-Tarim", "1961", "1970"} {
		if !strings.Contains(w.Body.String(), want) {
			t.Errorf("the preview of joining does not say %q", want)
		}
	}
	if strings.Contains(w.Body.String(), "medicines and circumstances") {
		t.Error("circumstances that are alike are told as different")
	}
}
