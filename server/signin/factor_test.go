package signin

import (
	"strings"
	"testing"
	"time"
)

// TestFactorVectors are the test vectors of RFC 6238 appendix B for SHA-1, the
// last six of their eight digits.
func TestFactorVectors(t *testing.T) {
	const secret = "GEZDGNBVGY3TQOJQGEZDGNBVGY3TQOJQ" // "12345678901234567890"
	for at, code := range map[int64]string{59: "287082", 1111111109: "081804", 1111111111: "050471", 1234567890: "005924", 2000000000: "279037", 20000000000: "353130"} {
		step, ok := CodeAt(secret, code[:3]+" "+code[3:], time.Unix(at, 0))
		if !ok || step != at/30 {
			t.Errorf("at %d the code %s: step %d, %v", at, code, step, ok)
		}
		for _, off := range []time.Duration{-30 * time.Second, 30 * time.Second} {
			if step, ok := CodeAt(secret, code, time.Unix(at, 0).Add(off)); !ok || step != at/30 {
				t.Errorf("a clock %v off: step %d, %v", off, step, ok)
			}
		}
		for _, off := range []time.Duration{-61 * time.Second, 61 * time.Second} {
			if _, ok := CodeAt(secret, code, time.Unix(at, 0).Add(off)); ok && at > 61 { // no steps before 1970
				t.Errorf("a clock %v off is taken", off)
			}
		}
	}
	for _, bad := range []string{"", "28708", "2870820", "abcdef"} {
		if _, ok := CodeAt(secret, bad, time.Unix(59, 0)); ok {
			t.Errorf("%q is taken", bad)
		}
	}
	if _, ok := CodeAt("not base 32!", "287082", time.Unix(59, 0)); ok {
		t.Error("a broken secret is taken")
	}
}

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
