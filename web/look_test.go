package web

import (
	"math"
	"net/http"
	"net/http/httptest"
	"regexp"
	"slices"
	"strings"
	"testing"

	"wearround/web/face"
)

var stylesheet = string(assetsByName["look.css"].body)

// Each text and each mark is far enough from all it may stand on: on the
// screen, on paper, and for those who ask for more contrast.
func TestContrast(t *testing.T) {
	if got, err := contrast("#000000", "#FFFFFF"); err != nil || math.Abs(got-21) > 1e-9 {
		t.Fatalf("black on white is %v, %v", got, err)
	}
	all := palettes(stylesheet)
	if len(all) != 3 {
		t.Fatalf("%d palettes, want those of the screen, of paper and of more contrast", len(all))
	}
	for i, palette := range all {
		pairs, err := contrasts(palette)
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range pairs {
			if c.Ratio < c.Least() {
				t.Errorf("palette %d: %s on %s is %s, wanted %v", i, c.Fore, c.Ground, c.Words(), c.Least())
			}
		}
	}
	for _, bad := range []string{"", "red", "#FFF", "#GGGGGG", "FFFFFF", "#1234567"} {
		if _, err := luminance(bad); err == nil {
			t.Errorf("%q was taken for a colour", bad)
		}
	}
}

// rules are the stylesheet's rules: selector and declarations.
func rules() (out [][2]string) {
	plain := regexp.MustCompile(`(?s)/\*.*?\*/`).ReplaceAllString(stylesheet, "")
	for _, m := range regexp.MustCompile(`([^{}]+)\{([^{}]*)\}`).FindAllStringSubmatch(plain, -1) {
		out = append(out, [2]string{strings.TrimSpace(m[1]), m[2]})
	}
	return out
}

// Every colour of every rule is one that TestContrast measures in that use.
func TestEveryColourIsMeasured(t *testing.T) {
	marks := slices.Concat(markInks, grounds, darkInks, []string{"rule"}) // lines between rows are ornament
	written := regexp.MustCompile(`(?:^|\.| )(text|label|day|small|limit)\b`)
	n := 0
	for _, r := range rules() {
		selector, text := r[0], r[1]
		ground := ""
		for _, m := range regexp.MustCompile(`(?:^|[\s;])([a-z-]+):[^;]*?var\(--([a-z-]+)\)`).FindAllStringSubmatch(text, -1) {
			if property, name := m[1], m[2]; property == "background" && !slices.Contains(grounds, name) {
				ground = name
			}
		}
		for _, m := range regexp.MustCompile(`(?:^|[\s;])([a-z-]+):([^;]*)`).FindAllStringSubmatch(text, -1) {
			for _, v := range regexp.MustCompile(`var\(--([a-z-]+)\)`).FindAllStringSubmatch(m[2], -1) {
				property, name := m[1], v[1]
				if strings.HasPrefix(name, "t-") || slices.Contains([]string{"words", "data", "mono", "running"}, name) {
					continue
				}
				n++
				ok := false
				switch {
				case property == "color" && ground != "":
					ok = slices.Contains(darkGround, ground) && slices.Contains(darkInks, name)
				case property == "color", property == "fill" && written.MatchString(selector):
					ok = slices.Contains(textInks, name) || slices.Contains(darkInks, name) && onDark(selector)
				case property == "background":
					ok = slices.Contains(slices.Concat(grounds, darkGround, markInks), name)
				default:
					ok = slices.Contains(marks, name)
				}
				if !ok {
					t.Errorf("%s { %s: %s }: no contrast is measured for it", selector, property, name)
				}
			}
		}
		for _, m := range regexp.MustCompile(`(#[0-9a-fA-F]{3,8}\b|rgba?\(|hsla?\()`).FindAllString(text, -1) {
			if selector != ":root" {
				t.Errorf("%s holds the colour %s, which is not of the palette", selector, m)
			}
		}
	}
	if n < 100 {
		t.Errorf("only %d colours were found in the stylesheet", n)
	}
}

// onDark reports whether a rule is for what lies inside a dark ground that
// another rule sets.
func onDark(selector string) bool { return strings.Contains(selector, ".idle") }

// Each class that a picture or page uses for a mark has a rule.
func TestClassesHaveRules(t *testing.T) {
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
		if !plain[class] && !regexp.MustCompile(`\.`+regexp.QuoteMeta(class)+`\b`).MatchString(stylesheet) {
			t.Errorf("class %s has no rule", class)
		}
	}
}

func TestNothingIsFetchedFromElsewhere(t *testing.T) {
	for name, a := range assetsByName {
		if strings.HasSuffix(name, ".ttf") {
			continue // its description names its makers
		}
		text := strings.ReplaceAll(string(a.body), "http://www.w3.org/2000/svg", "")
		for name := range face.Files() {
			text = strings.ReplaceAll(text, `url("`+Asset(name)+`")`, "")
		}
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

// A shape in the text is one meaning: no two differ by colour alone.
func TestShapesDifferWithoutColour(t *testing.T) {
	css := string(assetsByName["look.css"].body)
	seen := map[string]string{}
	for _, m := range regexp.MustCompile(`(?m)^\.(shape\.(?:high|peak|low)|outcome-[a-z]+) \{ (.*) \}$`).FindAllStringSubmatch(css, -1) {
		shape := regexp.MustCompile(`var\(--[a-z-]+\)`).ReplaceAllString(m[2], "colour")
		if other, ok := seen[shape]; ok {
			t.Errorf("%s and %s look alike in black and white", m[1], other)
		}
		seen[shape] = m[1]
	}
	if len(seen) < 7 {
		t.Errorf("%d shapes found", len(seen))
	}
}
