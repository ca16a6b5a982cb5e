package password

import (
	"context"
	"strings"
	"testing"
)

func TestPasswords(t *testing.T) {
	ctx := t.Context()
	p := New(quick)
	text, err := p.Hash(ctx, phrase)
	if err != nil {
		t.Fatal(err)
	}
	if !strings.HasPrefix(text, "$argon2id$v=19$m=64,t=1,p=1$") {
		t.Errorf("the stored form is %q", text)
	}
	if other, err := p.Hash(ctx, phrase); err != nil || other == text {
		t.Errorf("two hashes of one password are alike, or %v", err)
	}
	for _, tt := range []struct {
		why, password, text string
		ok, stale           bool
	}{
		{"the right one", phrase, text, true, false},
		{"another", phrase + " ", text, false, false},
		{"nobody of that name", phrase, "", false, false},
		{"nobody, and the password that the dummy has", "", "", false, false},
	} {
		ok, stale, err := p.Check(ctx, tt.password, tt.text)
		if err != nil || ok != tt.ok || stale != tt.stale {
			t.Errorf("%s: %v, %v, %v", tt.why, ok, stale, err)
		}
	}
	dearer := New(Cost{MemoryKiB: 128, Passes: 1, Lanes: 1})
	if ok, stale, err := dearer.Check(ctx, phrase, text); !ok || !stale || err != nil {
		t.Errorf("a hash of a lower cost: %v, %v, %v", ok, stale, err)
	}
	ended, end := context.WithCancel(ctx)
	end()
	p.slots <- struct{}{}
	p.slots <- struct{}{}
	if _, err := p.Hash(ended, phrase); err == nil {
		t.Error("a third hash at once does not wait")
	}
}

// TestStoredHashIsBounded: a changed row must not make a sign-in fill the
// memory.
func TestStoredHashIsBounded(t *testing.T) {
	good := phc(quick, make([]byte, saltBytes), make([]byte, hashBytes))
	if _, _, _, err := parsePHC(good); err != nil {
		t.Fatal(err)
	}
	for _, change := range [][2]string{
		{"m=64", "m=262145"}, {"m=64", "m=0"}, {"m=64", "m=-1"}, {"m=64", "x=64"}, {"t=1", "t=17"}, {"t=1", "t=0"}, {"p=1", "p=17"}, {"p=1", "p=1,q=1"},
		{"argon2id", "argon2i"}, {"v=19", "v=16"}, {"$AAAAAAAAAAAAAAAAAAAAAA$", "$AA$"}, {"$AAAAAAAAAAAAAAAAAAAAAA$", "$!!$"}, {"AAAAAAAAAAAAA", "A"},
	} {
		if text := strings.Replace(good, change[0], change[1], 1); text == good {
			t.Fatalf("nothing to change: %v", change)
		} else if _, _, _, err := parsePHC(text); err == nil {
			t.Errorf("%q is taken", text)
		} else if strings.Contains(err.Error(), "AAAA") {
			t.Errorf("the error shows the hash: %v", err)
		}
	}
}

func FuzzParsePHC(f *testing.F) {
	f.Add(phc(quick, make([]byte, saltBytes), make([]byte, hashBytes)))
	f.Add("$argon2id$v=19$m=65536,t=3,p=4$$")
	f.Fuzz(func(t *testing.T, text string) {
		c, salt, sum, err := parsePHC(text)
		if err == nil && (c.MemoryKiB > maxMemoryKiB || c.Passes > maxPasses || c.Lanes > maxLanes || phc(c, salt, sum) == "") {
			t.Errorf("%q gives %+v", text, c)
		}
	})
}

func TestWeakness(t *testing.T) {
	for _, bad := range []string{
		"", "short", "password", "Password123!", "P@ssw0rd", "qwertyuiop", "12345678", "87654321", "aaaaaaaaaaaaaaaaaaaa", "abcdefghijklmnop", "letmein1",
		"sunshine2024", "iloveyou!!", "1qaz2wsx", "dragondragon", "wearround", "wearround1", "velo tarim", "VeloTarim7", strings.Repeat("correct horse ", 20), "bad\xff\xffbytes",
	} {
		if Weakness(bad, "Velo Tarim", "velo", "wearround") == "" {
			t.Errorf("%q is taken", bad)
		}
	}
	for _, good := range []string{phrase, "Xk4#pQz9", "seven green kettles", "ünder dem blauen Bogen", "a password that is a whole sentence", "tarim and six grey geese"} {
		if text := Weakness(good, "Velo Tarim", "velo", "wearround"); text != "" {
			t.Errorf("%q is refused: %s", good, text)
		}
	}
}

// BenchmarkStrongCost is what a sign-in costs.
func BenchmarkStrongCost(b *testing.B) {
	p := New(Strong)
	for b.Loop() {
		if _, err := p.Hash(b.Context(), phrase); err != nil {
			b.Fatal(err)
		}
	}
}

// quick makes hashes fast enough for tests.
var quick = Cost{MemoryKiB: 64, Passes: 1, Lanes: 1}

const phrase = "velo tarim under the blue bridge"
