package web

import (
	"net/http/httptest"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"wearround/worker/wear"
)

// While the list changes under a reader's hands, what was chosen and typed and
// not yet sent stays, and so does the focus; it never passes to another
// question.
func TestAnswersStayWhileFilesChange(t *testing.T) {
	ctx := browser(t)
	files := FilesPage{Total: 1, Counts: map[string]int{"held": 1}, Rows: []FileRow{{DropID: 1, FileID: 4, Path: "a.csv", Fate: "held", Questions: []wear.Question{
		{Code: "day_order", Text: "Day first?", Choices: []wear.Choice{{Value: "dmy", Text: "Day first"}, {Value: "mdy", Text: "Month first"}}},
		{Code: "patient", Text: "Whose?"},
	}}}}
	files.User, files.System.LastLook = User{ID: 1}, clock(18, 10, 42)
	asked := files.Rows[0].Asked()
	month, code := "#"+asked[0].ChoiceID(wear.Choice{Value: "mdy"}), "#"+asked[1].ID
	s := &site{pages: map[string]Page{"/files": files}, live: files.Live()}
	server := httptest.NewServer(s)
	t.Cleanup(server.Close)
	do(t, ctx, chromedp.Navigate(server.URL+"/files#ask-4"))
	if on := get(t, ctx, chromedp.Poll[string](`document.activeElement.id`)); on != "ask-4" {
		t.Errorf("an address that names a held file puts the focus on %q", on)
	}
	do(t, ctx, chromedp.Click(css(month)), chromedp.SendKeys(css(code), "P-04"))

	change := func(rows []FileRow) {
		s.Lock()
		defer s.Unlock()
		files.Version++
		files.Rows, files.Matching = rows, len(rows)
		s.pages["/files"], s.live = files, files.Live()
	}
	change(append([]FileRow{{DropID: 2, Path: "b.csv", Fate: "filed"}}, files.Rows...))
	do(t, ctx, chromedp.WaitVisible(css("#drop-2")))
	chosen := get(t, ctx, chromedp.Evaluate[bool](`document.querySelector("`+month+`").checked`))
	typed := get(t, ctx, chromedp.Evaluate[string](`document.querySelector("`+code+`").value`))
	if on := get(t, ctx, chromedp.Evaluate[string](`document.activeElement.id`)); !chosen || typed != "P-04" || "#"+on != code {
		t.Errorf("chosen %v, typed %q, focus on %q", chosen, typed, on)
	}

	// The same place asks something else now: nothing is chosen for it.
	other := files.Rows[1]
	other.Questions = []wear.Question{{Code: "unit", Text: "Which unit?", Choices: []wear.Choice{{Value: "a", Text: "a"}, {Value: "mdy", Text: "b"}}}}
	change([]FileRow{other, {DropID: 3, Path: "c.csv", Fate: "filed"}})
	do(t, ctx, chromedp.WaitVisible(css("#drop-3")))
	if n := get(t, ctx, chromedp.Evaluate[int](`document.querySelectorAll("input:checked").length`)); n != 0 {
		t.Error("an answer passed to another question")
	}
}

// What a rule would do shows while it is typed.
func TestNamePreview(t *testing.T) {
	ctx := browser(t)
	page := NamesPage{Layout: Layout{User: User{ID: 1}}, Rule: "{code}_*", Rows: []NameRow{{Path: "a.csv"}}}
	tried := page
	tried.Tried, tried.Rows = "*_{code}", []NameRow{{Path: "a.csv", Then: FoundCode{"P-0417", true}}}
	server := httptest.NewServer(&site{pages: map[string]Page{"/files/names": page, "/files/names/try": NameRows{tried}}})
	t.Cleanup(server.Close)
	do(t, ctx, chromedp.Navigate(server.URL+"/files/names"), chromedp.SendKeys(css("#rule"), "x"))
	if text := get(t, ctx, chromedp.Poll[string](`document.querySelector("#preview strong")?.innerText`)); !strings.Contains(text, "P-0417") {
		t.Errorf("the preview says %q", text)
	}
}
