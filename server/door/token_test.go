package door

import (
	"testing"
)

// TestFormTokensDiffer: no two pages carry the same token, each is good, and
// one that was changed is not.
func TestFormTokensDiffer(t *testing.T) {
	const secret = "a session"
	a, b := FormToken(secret), FormToken(secret)
	if a == b {
		t.Error("two pages carry the same token")
	}
	changed := "A" + a[1:]
	if a[0] == 'A' {
		changed = "B" + a[1:]
	}
	for token, want := range map[string]bool{a: true, b: true, "": false, changed: false, a[:len(a)-4]: false, a + "AAAA": false, "not base 64!": false} {
		if ownToken(token, secret) != want {
			t.Errorf("%q: want %v", token, want)
		}
	}
	if ownToken(FormToken(""), "") {
		t.Error("a visitor without a session has a token")
	}
}
