package register

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"wearround/server/door"
	"wearround/web/form"
)

func TestReadList(t *testing.T) {
	type line = [4]string // code, name, birth date, telephone
	for _, tt := range []struct {
		why, text string
		want      []line
		ignored   []string
		refused   string
	}{
		{"commas", "code,name,birth,telephone\nP-1,Velo Tarim,1961-03-24,5550 1\n", []line{{"P-1", "Velo Tarim", "1961-03-24", "5550 1"}}, nil, ""},
		{"semicolons, a byte order mark and other headings", "\uFEFFName; Patient code ;Date of birth;Shoe size\r\nVelo, Tarim;P-1;24.03.1961;41\r\n", []line{{"P-1", "Velo, Tarim", "1961-03-24", ""}}, []string{"Shoe size"}, ""},
		{"tabs and an empty line", "code\tname\n\nP-1\tVelo\nP-2\t\n", []line{{"P-1", "Velo", "", ""}, {"P-2", "", "", ""}}, nil, ""},
		{"quotes over two lines", "code,name\nP-1,\"Velo\nTarim\"\n", []line{{"P-1", "Velo\nTarim", "", ""}}, nil, ""},
		{"day first, as the column says", "code,birth\nA,24/03/1961\nB,02/03/1962\n", []line{{"A", "", "1961-03-24", ""}, {"B", "", "1962-03-02", ""}}, nil, ""},
		{"month first, as the column says", "code,birth\nA,03/24/1961\nB,02/03/1962\n", []line{{"A", "", "1961-03-24", ""}, {"B", "", "1962-02-03", ""}}, nil, ""},
		{"either first: not guessed", "code,birth\nA,02/03/1962\n", []line{{"A", "", "02/03/1962", ""}}, nil, ""},
		{"a column twice", "code,name,name\nA,x,y\n", []line{{"A", "x", "", ""}}, []string{"name"}, ""},
		{"a short line", "code,name\nA\n", []line{{"A", "", "", ""}}, nil, ""},
		{"no code", "name\nVelo\n", nil, nil, "No column is called"},
		{"nothing", " \n", nil, nil, "Choose a file"},
		{"not UTF-8", "code,name\nA,Vel\xf6\n", nil, nil, "UTF-8"},
	} {
		l, err := readList(tt.text, "")
		if tt.refused != "" {
			if p := door.AsProblem(err); p.Fields == nil || !strings.Contains(p.Fields[0].Text, tt.refused) {
				t.Errorf("%s: %v", tt.why, err)
			}
			continue
		}
		if err != nil {
			t.Errorf("%s: %v", tt.why, err)
			continue
		}
		var got []line
		for _, x := range l.lines {
			got = append(got, line{x.Code, x.Name, x.BirthDate, x.Contact.Telephone})
		}
		if d := cmp.Diff(tt.want, got) + cmp.Diff(tt.ignored, l.ignored); d != "" {
			t.Errorf("%s: %s", tt.why, d)
		}
	}
}

// Where both orders fit, the sender's word decides, and nothing else does.
func TestSenderSaysHowDatesAreWritten(t *testing.T) {
	for said, want := range map[string]string{form.DayFirst: "1962-03-02", form.MonthFirst: "1962-02-03", "": "02/03/1962", "x": "02/03/1962"} {
		l, err := readList("code,birth\nA,02/03/1962\nB,1961-03-24\n", said)
		if err != nil || l.lines[0].BirthDate != want || l.lines[1].BirthDate != "1961-03-24" {
			t.Errorf("%q: %+v, %v", said, l.lines, err)
		}
	}
}

// The sign that parts the heading most often parts the list; of two alike the
// first of comma, semicolon, tab and bar.
func TestDelimiter(t *testing.T) {
	for head, want := range map[string]rune{"a": ',', "a,b;c": ',', "a;b;c,d": ';', "a;b\tc": ';', "a\tb\tc;d": '\t', "a|b": '|', "a|b\n;;;": '|'} {
		if got := delimiter(head); got != want {
			t.Errorf("%q: %q, want %q", head, got, want)
		}
	}
}

func FuzzReadList(f *testing.F) {
	for _, s := range []string{"code,name\nP-1,x\n", "code;birth\nA;1/2/1960\n", "code\n\"", "\uFEFFcode|note\na|b|c\n"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		l, err := readList(text, "")
		if err == nil && len(l.lines) != len(l.numbers) {
			t.Errorf("%d lines and %d numbers", len(l.lines), len(l.numbers))
		}
		for i := 1; i < len(l.numbers); i++ {
			if l.numbers[i] <= l.numbers[i-1] {
				t.Errorf("line %d comes after line %d", l.numbers[i], l.numbers[i-1])
			}
		}
	})
}
