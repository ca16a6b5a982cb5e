package signin

import (
	"strings"
	"testing"
)

// TestFactorQR looks for the three finders of the code: seven modules wide, in
// all corners but one.
func TestFactorQR(t *testing.T) {
	qr := factorQR(newFactor(), "velo.tarim")
	n := len(qr)
	if n < 21 || (n-17)%4 != 0 {
		t.Fatalf("the code has %d modules a side", n)
	}
	finder := []string{"#######", "#.....#", "#.###.#", "#.###.#", "#.###.#", "#.....#", "#######"}
	for _, corner := range [][2]int{{0, 0}, {0, n - 7}, {n - 7, 0}} {
		for y, want := range finder {
			var got strings.Builder
			for x := range 7 {
				got.WriteString(map[bool]string{true: "#", false: "."}[qr[corner[0]+y][corner[1]+x]])
			}
			if got.String() != want {
				t.Errorf("corner %v, row %d: %s, want %s", corner, y, got.String(), want)
			}
		}
	}
	if factorQR("not base 32!", "x") != nil {
		t.Error("a broken secret is drawn")
	}
}

func TestRecoveryCodes(t *testing.T) {
	codes, hashes := newCodes()
	seen := map[string]bool{}
	for i, code := range codes {
		if seen[code] || len(code) != 19 || codeHash(strings.ToUpper(strings.ReplaceAll(code, "-", " "))) != hashes[i] || strings.Contains(hashes[i], code[:4]+code[5:9]) {
			t.Errorf("code %d: %q, %q", i, code, hashes[i])
		}
		seen[code] = true
	}
	if len(codes) != codeCount {
		t.Errorf("%d codes", len(codes))
	}
}
