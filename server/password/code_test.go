package password

import (
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
