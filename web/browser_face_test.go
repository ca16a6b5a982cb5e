package web

import (
	"encoding/json"
	"testing"

	"github.com/chromedp/chromedp"

	"wearround/web/face"
)

// TestLettersTakeTheRoomForeseen measures every label of a wear's pictures in a
// real browser against the widths that the pictures were laid out by, and asks
// that the faces of the page are the program's own.
func TestLettersTakeTheRoomForeseen(t *testing.T) {
	ctx := browser(t)
	address, _ := wearSite(t, claimedWear())
	do(t, ctx, chromedp.Navigate(address))
	until(t, ctx, `document.readyState + " " + document.fonts.status`, "complete loaded")
	until(t, ctx, `[...document.fonts].filter((f) => f.family.includes("text") && f.status === "loaded").length`, "2")
	var texts []struct {
		Text       string
		Size, Wide float64
	}
	said := get(t, ctx, chromedp.Evaluate[string](`JSON.stringify([...document.querySelectorAll("svg text")].filter((e) => e.checkVisibility()).map((e) =>
  ({text: e.textContent, size: parseFloat(e.getAttribute("font-size")), wide: e.getComputedTextLength()})))`))
	if err := json.Unmarshal([]byte(said), &texts); err != nil {
		t.Fatal(err)
	}
	if len(texts) < 20 {
		t.Fatalf("only %d labels are drawn", len(texts))
	}
	for _, l := range texts {
		want := face.Width(l.Text) * l.Size
		if l.Wide > want+0.5 || l.Wide < 0.85*want {
			t.Errorf("%q is %.1f wide in the browser, %.1f by the faces", l.Text, l.Wide, want)
		}
	}
}
