package door

import (
	"strings"
	"testing"
)

func TestLocal(t *testing.T) {
	for _, bad := range []string{"", "//elsewhere.example", "https://elsewhere.example", `/\elsewhere.example`, "/a\nb", "wears/1", "/" + strings.Repeat("x", 600)} {
		if got := Local(bad, "home"); got != "home" {
			t.Errorf("%q leads to %q", bad, got)
		}
	}
	if got := Local("/wears/7?days=3", "home"); got != "/wears/7?days=3" {
		t.Error(got)
	}
}
