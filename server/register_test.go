package server

import (
	"bytes"
	"mime/multipart"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"wearround/store"
)

func TestReadList(t *testing.T) {
	type line = [4]string // code, name, birth date, telephone
	for _, tt := range []struct {
		why, text string
		want      []line
		ignored   []string
		refused   string
	}{
		{"commas", "code,name,birth,telephone\nP-1,Velo Tarim,1961-03-24,5550 1\n", []line{{"P-1", "Velo Tarim", "1961-03-24", "5550 1"}}, nil, ""},
		{"semicolons, a byte order mark and other headings", "\uFEFFName; Patient code ;Date of birth;Shoe size\r\nVelo, Tarim;P-1;24.03.1961;41\r\n", []line{{"P-1", "Velo, Tarim", "1961-03-24", ""}}, []string{"Shoe size"}, ""},
		{"tabs and an empty line", "code\tname\n\nP-1\tVelo\nP-2\t\n", []line{{"P-1", "Velo", "", ""}, {"P-2", "", "", ""}}, nil, ""},
		{"quotes over two lines", "code,name\nP-1,\"Velo\nTarim\"\n", []line{{"P-1", "Velo\nTarim", "", ""}}, nil, ""},
		{"day first, as the column says", "code,birth\nA,24/03/1961\nB,02/03/1962\n", []line{{"A", "", "1961-03-24", ""}, {"B", "", "1962-03-02", ""}}, nil, ""},
		{"month first, as the column says", "code,birth\nA,03/24/1961\nB,02/03/1962\n", []line{{"A", "", "1961-03-24", ""}, {"B", "", "1962-02-03", ""}}, nil, ""},
		{"either first: not guessed", "code,birth\nA,02/03/1962\n", []line{{"A", "", "02/03/1962", ""}}, nil, ""},
		{"a column twice", "code,name,name\nA,x,y\n", []line{{"A", "x", "", ""}}, []string{"name"}, ""},
		{"a short line", "code,name\nA\n", []line{{"A", "", "", ""}}, nil, ""},
		{"no code", "name\nVelo\n", nil, nil, "No column is called"},
		{"nothing", " \n", nil, nil, "Choose a file"},
		{"not UTF-8", "code,name\nA,Vel\xf6\n", nil, nil, "UTF-8"},
	} {
		l, err := readList(tt.text)
		if tt.refused != "" {
			if p := asProblem(err); p.fields == nil || !strings.Contains(p.fields[0].Text, tt.refused) {
				t.Errorf("%s: %v", tt.why, err)
			}
			continue
		}
		if err != nil {
			t.Errorf("%s: %v", tt.why, err)
			continue
		}
		var got []line
		for _, x := range l.lines {
			got = append(got, line{x.Code, x.Name, x.BirthDate, x.Contact.Telephone})
		}
		if d := cmp.Diff(tt.want, got) + cmp.Diff(tt.ignored, l.ignored); d != "" {
			t.Errorf("%s: %s", tt.why, d)
		}
	}
}

func FuzzReadList(f *testing.F) {
	for _, s := range []string{"code,name\nP-1,x\n", "code;birth\nA;1/2/1960\n", "code\n\"", "\uFEFFcode|note\na|b|c\n"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		l, err := readList(text)
		if err == nil && len(l.lines) != len(l.numbers) {
			t.Errorf("%d lines and %d numbers", len(l.lines), len(l.numbers))
		}
		for i := 1; i < len(l.numbers); i++ {
			if l.numbers[i] <= l.numbers[i-1] {
				t.Errorf("line %d comes after line %d", l.numbers[i], l.numbers[i-1])
			}
		}
	})
}

func TestImport(t *testing.T) {
	f := newFixture(t)
	text := "code,name,birth\nP-1,Velo Tarim,1961-03-24\nP-2,Dova Remi,1970-30-30\n"
	var body bytes.Buffer
	m := multipart.NewWriter(&body)
	m.WriteField("csrf", formToken(f.sessions[store.RoleNurse]))
	part, err := m.CreateFormFile("list", "list.csv")
	if err != nil {
		t.Fatal(err)
	}
	part.Write([]byte(text))
	m.Close()
	w := f.askAs(store.RoleNurse, http.MethodPost, "/patients/import", nil, func(r *http.Request) {
		r.Header.Set("Content-Type", m.FormDataContentType())
		r.Body, r.ContentLength = http.MaxBytesReader(nil, nopCloser{&body}, 1<<20), int64(body.Len())
	})
	if w.Code != http.StatusOK || !strings.Contains(w.Body.String(), "Velo Tarim") || !strings.Contains(w.Body.String(), "year-month-day") {
		t.Fatalf("status %d: %s", w.Code, said1(w))
	}
	if list, err := f.store.Patients(t.Context()); err != nil || len(list) != 0 {
		t.Fatalf("the preview added %v, %v", list, err)
	}
	w = f.askAs(store.RoleNurse, http.MethodPost, "/patients/import/confirm", url.Values{"text": {text}})
	if w.Code != http.StatusOK || !strings.Contains(w.Body.String(), "added: 1") || f.looks != 1 {
		t.Errorf("status %d, %d looks: %s", w.Code, f.looks, said1(w))
	}
	if w := f.askAs(store.RoleNurse, http.MethodPost, "/patients/import", url.Values{"text": {"name\nx"}}); w.Code != http.StatusUnprocessableEntity {
		t.Errorf("a list without codes: status %d", w.Code)
	}
	long := url.Values{"text": {strings.Repeat("x", maxListBody)}}
	if w := f.askAs(store.RoleNurse, http.MethodPost, "/patients/import", long); w.Code != http.StatusRequestEntityTooLarge {
		t.Errorf("a list that is too long: status %d", w.Code)
	}
}

type nopCloser struct{ *bytes.Buffer }

func (nopCloser) Close() error { return nil }

// TestRegister adds a patient, edits them, joins a second entry and takes it
// out again.
func TestRegister(t *testing.T) {
	f := newFixture(t)
	n := store.RoleNurse
	one := url.Values{"code": {"P-1"}, "name": {"Velo Tarim"}, "birth": {"1961-03-24"}, "phone": {"5550 17"}, "prefers": {"telephone"}, "sex": {"female"}, "context": {"steroid"}}
	to := f.must(n, "/patients", one)
	f.has(n, to, "Velo Tarim", "5550 17", "steroid")
	if w := f.askAs(n, http.MethodPost, "/patients", one); w.Code != http.StatusUnprocessableEntity {
		t.Errorf("the same code twice: status %d", w.Code)
	}
	f.has(n, to+"/edit", "5550 17")
	edited := url.Values{"code": {"P-1"}, "name": {"Velo Tarim-Remi"}, "birth": {"1961-03-24"}}
	f.must(n, to, edited)
	found := f.must(n, "/patients/search", url.Values{"q": {"remi"}})
	f.has(n, found, "Velo Tarim-Remi", "1 of 1")
	stale := url.Values{"code": {"P-1"}, "name": {"x"}, "version": {"1"}}
	if w := f.askAs(n, http.MethodPost, to, stale); w.Code != http.StatusUnprocessableEntity {
		t.Errorf("an edit of an older state: status %d", w.Code)
	}
	second := f.must(n, "/patients", url.Values{"code": {"P-2"}, "name": {"V Tarim"}})
	w := f.askAs(n, http.MethodPost, to+"/merge/preview", url.Values{"code": {"P-2"}})
	if w.Code != http.StatusOK || !strings.Contains(w.Body.String(), "V Tarim") {
		t.Fatalf("status %d: %s", w.Code, said1(w))
	}
	for _, bad := range []string{"P-1", "P-9"} {
		if w := f.askAs(n, http.MethodPost, to+"/merge/preview", url.Values{"code": {bad}}); w.Code != http.StatusUnprocessableEntity {
			t.Errorf("merged with %s: status %d", bad, w.Code)
		}
	}
	f.must(n, to+"/merge", url.Values{"other": {strings.TrimPrefix(second, "/patients/")}, "reason": {"same birth date and street"}})
	f.has(n, second, "Velo Tarim-Remi") // leads to the entry that was kept
	merges, err := f.store.Merges(t.Context(), atoi(t, strings.TrimPrefix(to, "/patients/")))
	if err != nil || len(merges) != 1 {
		t.Fatal(merges, err)
	}
	f.must(n, "/merges/"+idText(merges[0].ID)+"/undo", nil)
	f.has(n, second, "V Tarim")
	// Only names of what changed stand in the log.
	log, err := f.store.AuditLog(t.Context(), store.AuditQuery{Limit: 200})
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range log {
		if strings.Contains(r.Reason, "Tarim") || strings.Contains(r.Reason, "5550") {
			t.Errorf("the log holds what an entry says: %+v", r)
		}
	}
}
