package face

import (
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func TestWidth(t *testing.T) {
	for text, want := range map[string]float64{
		"":   0,
		"0":  0.556, // as long as any other figure, so that columns of them stand in line
		"7":  0.556,
		"mm": 2 * 1821. / 2048, // the bold one, the wider
		"数":  1.3,              // not in the faces
	} {
		if got := Width(text); math.Abs(got-want) > 0.01 {
			t.Errorf("%q is %v wide, want %v", text, got, want)
		}
	}
}

func TestLetters(t *testing.T) {
	for _, r := range "AZaz09 ’“”×−·÷…–²Σ√≥±₂₁³≤→Δµéßłőжλ" {
		if _, ok := advances()[r]; !ok {
			t.Errorf("the faces lack %q", r)
		}
	}
	if _, ok := advances()['数']; ok {
		t.Error("the faces hold a letter of a script that they do not")
	}
}

// TestLettersAreOurOwn asks that every letter the program writes of itself is in
// its own faces: another would come from a font that the next machine lacks.
func TestLettersAreOurOwn(t *testing.T) {
	var sources []string
	for _, pattern := range []string{"templates/*.html", "*.go", "chart/*.go", "letter/*.go", "letter/templates/*", "../worker/wear/*.go", "../server/*.go", "../server/*/*.go"} {
		found, err := filepath.Glob(filepath.Join("..", pattern))
		if err != nil || len(found) == 0 {
			t.Fatalf("no source matches %s: %v", pattern, err)
		}
		sources = append(sources, found...)
	}
	for _, name := range sources {
		if strings.HasSuffix(name, "_test.go") || filepath.Base(name) == "wordlists.go" { // what is looked for, not what is written
			continue
		}
		text, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		for _, r := range string(text) {
			if _, ok := advances()[r]; r >= ' ' && !ok {
				t.Errorf("%s writes %q (%U), which the faces lack", name, r, r)
			}
		}
	}
}
