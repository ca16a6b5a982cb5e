package main

import (
	"bytes"
	"context"
	"encoding/xml"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"
	"unicode"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"golang.org/x/text/unicode/norm"

	"wearround/worker/wear"
)

// sheet is one printed page: its size and its words, in points.
type sheet struct {
	Width  float64 `xml:"width,attr"`
	Height float64 `xml:"height,attr"`
	Words  []struct {
		Left   float64 `xml:"xMin,attr"`
		Top    float64 `xml:"yMin,attr"`
		Right  float64 `xml:"xMax,attr"`
		Bottom float64 `xml:"yMax,attr"`
		Text   string  `xml:",chardata"`
	} `xml:"word"`
}

// text is the sheet's words with a space between them.
func (s sheet) text() string {
	var words []string
	for _, w := range s.Words {
		words = append(words, w.Text)
	}
	return strings.Join(words, " ")
}

// A4 in points, and the margins that the stylesheet sets, which hold nothing
// but the page's number.
const (
	paperWidth, paperHeight = 595.0, 842.0
	point                   = 72 / 25.4 // a millimetre
	sideMargin              = 14 * point
)

// printed prints the page that the browser shows, and reads the sheets back.
func printed(t *testing.T, ctx context.Context) []sheet {
	t.Helper()
	pdf, err := chromedp.Run(ctx, chromedp.PrintToPDF(chromedp.PDFPaper(chromedp.PaperA4), func(p *page.PrintToPDFParams) {
		yes := true
		p.PreferCSSPageSize = &yes
	}))
	if err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(t.TempDir(), "print.pdf")
	if err := os.WriteFile(file, pdf, 0o600); err != nil {
		t.Fatal(err)
	}
	out, err := exec.CommandContext(ctx, "pdftotext", "-bbox", file, "-").Output()
	if err != nil {
		t.Fatal(err)
	}
	var document struct {
		Sheets []sheet `xml:"body>doc>page"`
	}
	d := xml.NewDecoder(bytes.NewReader(out))
	d.Strict, d.Entity = false, xml.HTMLEntity
	if err := d.Decode(&document); err != nil {
		t.Fatal(err)
	}
	return document.Sheets
}

// unprinted are words of the page, as laid out for print, that are on no sheet.
// Of what only screen readers see and of lists to choose from nothing is asked.
func unprinted(t *testing.T, ctx context.Context, sheets []sheet) []string {
	t.Helper()
	on := map[string]bool{}
	for _, s := range sheets {
		for _, w := range s.Words {
			on[norm.NFKC.String(w.Text)] = true
		}
	}
	text := evaluate[string](t, ctx, `(() => {
  const left = [...document.querySelectorAll("*")].filter((e) => !e.hidden && (e.matches("select") || getComputedStyle(e).clipPath === "inset(50%)"));
  for (const e of left) e.hidden = true;
  const text = document.body.innerText;
  for (const e of left) e.hidden = false;
  return text;
})()`)
	var out []string
	for _, word := range strings.Fields(norm.NFKC.String(text)) {
		if strings.ContainsFunc(word, func(r rune) bool { return unicode.Is(unicode.Han, r) }) {
			continue // words that are looked for, in a script that no face of the program holds
		}
		if !inPieces(word, on, 3) {
			out = append(out, word)
		}
	}
	return out
}

// inPieces reports whether a word is made of so many printed ones at most: a
// narrow column breaks a long word over several lines.
func inPieces(word string, on map[string]bool, most int) bool {
	if on[word] {
		return true
	}
	for i := len(word) - 1; i > 0 && most > 1; i-- {
		if on[word[:i]] && inPieces(word[i:], on, most-1) {
			return true
		}
	}
	return false
}

// TestEveryKindOfPage goes through every kind of page of a small practice, which
// takes longer to make than to look at: with the keyboard alone, and on paper.
func TestEveryKindOfPage(t *testing.T) {
	_, err := exec.LookPath("pdftotext")
	if err != nil && os.Getenv("WEARROUND_REQUIRE_POPPLER") != "" {
		t.Fatal("poppler's pdftotext is required here and is not found")
	}
	ctx := chromiumFor(t, 15*time.Minute)
	p := openPractice(t, 20)
	signIn(t, ctx, p)
	p.arriveAll(ctx)
	patients := 0
	for _, address := range crawl(t, ctx, append(p.inHand(ctx), p.url())...) {
		t.Run(digits.ReplaceAllString(pathOf(address), "0"), func(t *testing.T) {
			t.Run("keyboard", func(t *testing.T) { tabThrough(t, ctx, address) })
			t.Run("paper", func(t *testing.T) {
				if err != nil {
					t.Skip("poppler's pdftotext is not found: the prints are not read back")
				}
				if prints(t, ctx, address) {
					patients++
				}
			})
		})
	}
	if err == nil && patients == 0 {
		t.Error("no page of a patient was printed")
	}
}

// prints prints a page to A4: each sheet has its number, the sheets of a
// patient's page say whose they are, and nothing is cut. It tells whether the
// page is a patient's.
func prints(t *testing.T, ctx context.Context, address string) bool {
	t.Helper()
	visit(t, ctx, address)
	sheets := printed(t, ctx)
	media(t, ctx, "print")
	running := evaluate[string](t, ctx, `document.documentElement.dataset.running.trim()`)
	missing := unprinted(t, ctx, sheets)
	media(t, ctx, "")
	if len(missing) > 0 {
		t.Errorf("%d words are cut, or broken over more than three lines, the first of them %q", len(missing), missing[:min(8, len(missing))])
	}
	if most := mostSheets(evaluate[string](t, ctx, `document.querySelector(".wearhead .standing strong")?.textContent ?? ""`)); most > 0 && len(sheets) > most {
		t.Errorf("a wear prints on %d sheets, want %d at most", len(sheets), most)
	}
	for i, s := range sheets {
		text := strings.Join(strings.Fields(s.text()), " ")
		if s.Width < paperWidth-1 || s.Width > paperWidth+1 || s.Height < paperHeight-1 || s.Height > paperHeight+1 {
			t.Errorf("sheet %d is %v by %v points, not A4", i+1, s.Width, s.Height)
		}
		if want := fmt.Sprintf("page %d of %d", i+1, len(sheets)); !strings.Contains(text, want) {
			t.Errorf("sheet %d does not say %q", i+1, want)
		}
		if !strings.Contains(text, strings.Join(strings.Fields(running), " ")) {
			t.Errorf("sheet %d does not say whose it is: %q", i+1, running)
		}
		for _, w := range s.Words {
			if w.Left < sideMargin-2 || w.Right > s.Width-sideMargin+2 || w.Top < 0 || w.Bottom > s.Height {
				t.Errorf("sheet %d: %q runs off the paper: %s", i+1, w.Text, strconv.FormatFloat(w.Right, 'f', 1, 64))
				break
			}
		}
	}
	return running != ""
}

// mostSheets is how many sheets a wear of a tier may take, as its page opens:
// nobody files twelve sheets about a trace that needs nothing. 0: no wear.
func mostSheets(tier string) int {
	switch tier {
	case "":
		return 0
	case wear.Routine.Words():
		return 2
	}
	return 6
}

// media makes the browser lay pages out for "screen" or "print", or, with "",
// for whichever it is at.
func media(t *testing.T, ctx context.Context, name string) {
	t.Helper()
	if _, err := chromedp.Call(ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: name}); err != nil {
		t.Fatal(err)
	}
}
