package face

import (
	"math"
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

func TestHas(t *testing.T) {
	for _, r := range "AZaz09 ’“”×−·÷…–²Σ√≥±₂₁³≤→Δµéßłőжλ" {
		if !Has(r) {
			t.Errorf("the faces lack %q", r)
		}
	}
	if Has('数') {
		t.Error("the faces hold a letter of a script that they do not")
	}
}
