package main

import (
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
)

// TestFiveNotesInTheBrowser reads five notes with the keyboard, one of them of a
// collapse: they are counted on the row, the wear is for today before anybody has
// read a word and after, with what to do now, and nobody is told that all is well.
func TestFiveNotesInTheBrowser(t *testing.T) {
	ctx := chromium(t)
	p := openPractice(t, 2)
	p.plain(1, "coffee with the neighbours", "walked home", "she collapsed at work", "new shoes", "slept badly")
	signIn(t, ctx, p)
	d := &desktop{Context: ctx, t: t, folder: t.ArtifactDir()}
	has := func(selector string, parts ...string) {
		t.Helper()
		text := strings.ToLower(d.reads(selector))
		for _, part := range parts {
			if !strings.Contains(text, strings.ToLower(part)) {
				t.Errorf("%s does not say %q: %s", selector, part, text)
			}
		}
	}
	js[bool](t, ctx, `document.querySelectorAll("tr.wear").length === 1`)
	has("tr.wear", "5 texts not read", "may say something severe")
	d.picture("round")

	d.enter(`tr.wear a[href$="/words"]`)
	words := evaluate[string](t, ctx, `location.pathname`)
	on := strings.TrimSuffix(words, "/words")
	if n := evaluate[int](t, ctx, `document.querySelectorAll(".text[data-open]").length`); n != 5 {
		t.Fatalf("%d texts to read", n)
	}
	has("main", "she collapsed at work")
	d.picture("words")
	for range 2 {
		press(t, ctx, "1")
	}
	press(t, ctx, "3")
	press(t, ctx, "1")
	// Four of five: nothing is kept yet, and the bar stands.
	visit(t, ctx, strings.TrimSuffix(p.url(), "/")+on+"/outcome")
	has("main", "nobody can be told that all is well")
	if !evaluate[bool](t, ctx, `document.querySelector("input[name=outcome][value=told_well]").disabled`) {
		t.Error("a wear with unread words can be called well")
	}

	visit(t, ctx, strings.TrimSuffix(p.url(), "/")+words)
	for _, key := range []string{"1", "1", "3", "1"} {
		press(t, ctx, key)
	}
	if _, err := chromedp.RunResponse(ctx, chromedp.KeyEvent("1")); err != nil {
		t.Fatal(err)
	}
	if at := evaluate[string](t, ctx, `location.pathname`); at != on {
		t.Errorf("after the last answer the page is %s", at)
	}
	has(".standing", "today")
	has(".pressing", "a severe symptom is written down", "she collapsed at work", "speak with the person now", "emergency")
	d.picture("wear")
}
