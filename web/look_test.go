package web

import (
	"math"
	"net/http"
	"net/http/httptest"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// colours reads the custom properties of the stylesheet's first :root block.
func colours(t *testing.T) map[string]string {
	t.Helper()
	css := string(assetsByName["look.css"].body)
	root, _, _ := strings.Cut(css[strings.Index(css, ":root"):], "}")
	out := map[string]string{}
	for _, m := range regexp.MustCompile(`--([a-z-]+): (#[0-9A-F]{6});`).FindAllStringSubmatch(root, -1) {
		out[m[1]] = m[2]
	}
	return out
}

// luminance and contrast as WCAG 2.2 defines them, success criterion 1.4.3.
func luminance(t *testing.T, hex string) float64 {
	t.Helper()
	v, err := strconv.ParseUint(strings.TrimPrefix(hex, "#"), 16, 32)
	if err != nil || len(hex) != 7 {
		t.Fatalf("%q is not a colour", hex)
	}
	part := func(shift uint) float64 {
		c := float64(v>>shift&0xFF) / 255
		if c <= 0.04045 {
			return c / 12.92
		}
		return math.Pow((c+0.055)/1.055, 2.4)
	}
	return 0.2126*part(16) + 0.7152*part(8) + 0.0722*part(0)
}

func contrast(t *testing.T, a, b string) float64 {
	t.Helper()
	x, y := luminance(t, a), luminance(t, b)
	return (max(x, y) + 0.05) / (min(x, y) + 0.05)
}

func TestContrast(t *testing.T) {
	if got := contrast(t, "#000000", "#FFFFFF"); math.Abs(got-21) > 1e-9 {
		t.Fatalf("black on white is %v", got)
	}
	c := colours(t)
	for _, ground := range []string{"paper", "sheet", "band"} {
		for _, text := range []string{"ink", "ink-soft", "stone-text", "ochre-text", "petrol-text"} {
			if got := contrast(t, c[text], c[ground]); got < 4.5 {
				t.Errorf("text %s on %s: %.2f", text, ground, got)
			}
		}
		for _, mark := range []string{"aubergine", "ochre", "petrol", "stone"} {
			if got := contrast(t, c[mark], c[ground]); got < 3 {
				t.Errorf("mark %s on %s: %.2f", mark, ground, got)
			}
		}
	}
	if got := contrast(t, c["paper"], c["ink"]); got < 4.5 {
		t.Errorf("banner: %.2f", got)
	}
}

// Text is written in the text colours only, so that the table above is whole.
func TestTextColours(t *testing.T) {
	css := string(assetsByName["look.css"].body)
	for _, m := range regexp.MustCompile(`[^-]color: var\(--([a-z-]+)\)`).FindAllStringSubmatch(css, -1) {
		switch m[1] {
		case "ink", "ink-soft", "stone-text", "ochre-text", "petrol-text", "paper":
		default:
			t.Errorf("text in %s", m[1])
		}
	}
	for _, m := range regexp.MustCompile(`(?m)^.*(#[0-9a-fA-F]{3,8}|rgba?\(|hsla?\().*$`).FindAllString(css, -1) {
		if !strings.Contains(m, "--") {
			t.Errorf("a colour outside the palette: %s", m)
		}
	}
}

// Each class that a picture or page uses for a mark has a rule.
func TestClassesHaveRules(t *testing.T) {
	css := string(assetsByName["look.css"].body)
	used := map[string]bool{}
	for _, page := range allPages("") {
		var b strings.Builder
		if err := Render(&b, page); err != nil {
			t.Fatal(err)
		}
		for _, m := range regexp.MustCompile(`<(?:path|rect|circle|text|span)[^>]* ?class="([^"]+)"`).FindAllStringSubmatch(b.String(), -1) {
			for _, class := range strings.Fields(m[1]) {
				used[class] = true
			}
		}
	}
	plain := map[string]bool{"label": true, "limit": true, "hatch": true, "due": true} // drawn as their surroundings are
	for class := range used {
		if !plain[class] && !regexp.MustCompile(`\.`+regexp.QuoteMeta(class)+`\b`).MatchString(css) {
			t.Errorf("class %s has no rule", class)
		}
	}
}

func TestNothingIsFetchedFromElsewhere(t *testing.T) {
	for name, a := range assetsByName {
		text := strings.ReplaceAll(string(a.body), "http://www.w3.org/2000/svg", "")
		for _, bad := range []string{"http:", "https:", "@import", "url("} {
			if strings.Contains(text, bad) {
				t.Errorf("%s holds %q", name, bad)
			}
		}
	}
}

func TestAssets(t *testing.T) {
	for name := range assetsByName {
		w := httptest.NewRecorder()
		Assets().ServeHTTP(w, httptest.NewRequest(http.MethodGet, Asset(name), nil))
		if w.Code != http.StatusOK || w.Body.Len() == 0 || !strings.Contains(w.Header().Get("Cache-Control"), "immutable") {
			t.Errorf("%s: %d, %d bytes, %v", name, w.Code, w.Body.Len(), w.Header())
		}
	}
	for _, address := range []string{"/static/look.css", "/static/", "/static/../pages.go", "/static/look.000000000000.css"} {
		r := httptest.NewRequest(http.MethodGet, "/", nil)
		r.URL.Path = address
		w := httptest.NewRecorder()
		Assets().ServeHTTP(w, r)
		if w.Code != http.StatusNotFound {
			t.Errorf("%s: %d", address, w.Code)
		}
	}
}
