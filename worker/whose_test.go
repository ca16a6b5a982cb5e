package worker

import "testing"

func TestNameRule(t *testing.T) {
	tests := []struct{ rule, name, want string }{
		{"{code}_*", "P-0417_2026-03.csv", "P-0417"},
		{"{code}_*", "sub/P-0417_x.y.csv", "P-0417"},
		{"{code}_*", "P-0417.csv", "P-0417"}, // the bare code
		{"{code}_*", "export of march.csv", ""},
		{"{code}_*", "_x.csv", ""},
		{"wear *({code})", "wear 3 (A12).txt", "A12"},
		{"wear *({code})", "wear 3 [A12].txt", ""},
		{"{code}", "Ä7.csv", "Ä7"},
		{"{code}_*", "", ""},
	}
	for _, tt := range tests {
		r, err := ParseNameRule(tt.rule)
		if err != nil {
			t.Fatalf("%q: %v", tt.rule, err)
		}
		if got := r.code(tt.name); got != tt.want {
			t.Errorf("rule %q on %q gives %q, want %q", tt.rule, tt.name, got, tt.want)
		}
	}
	for _, bad := range []string{"", "*", "{code}{code}", "code"} {
		if _, err := ParseNameRule(bad); err == nil {
			t.Errorf("rule %q was accepted", bad)
		}
	}
}
