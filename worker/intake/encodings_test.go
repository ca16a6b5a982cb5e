package intake_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"golang.org/x/text/encoding"
	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/japanese"
	"golang.org/x/text/encoding/korean"
	"golang.org/x/text/encoding/simplifiedchinese"
)

// TestPagesOfOtherScripts: a text with a byte a letter is read by the page in which
// its words are words.
func TestPagesOfOtherScripts(t *testing.T) {
	for _, c := range []struct {
		page    *charmap.Charmap
		heading string
	}{
		{charmap.Windows1250, "Stężenie glukozy [mg/dl]"}, {charmap.Windows1251, "Глюкоза, ммоль/л"}, {charmap.Windows1253, "Γλυκόζη"}, {charmap.Windows1254, "Kan şekeri"},
		{charmap.Windows1257, "Gliukozės kiekis kraujyje"}, {charmap.KOI8R, "Глюкоза"}, {charmap.Windows1251, "Рівень глюкози"}, {charmap.Windows1252, "Glycémie"}, {charmap.Windows1250, "Hladina cukru v krvi měření"},
	} {
		data, err := c.page.NewEncoder().String(wearFileOf("date;time;"+c.heading, 3*96, func(at time.Time, i int, v string) string {
			return at.Format("2006-01-02;15:04;") + ifThen(strings.Contains(c.heading, "mg/dl"), value(i, unitNamed("mg/dL")), v)
		}))
		if err != nil {
			t.Fatal(err)
		}
		if _, asked, res := toldOf(data); asked || len(res.Readings) != 3*96 {
			t.Errorf("%s: %+v %+v", c.heading, res.Questions, res.Refusal)
		}
	}
}

// TestPagesOfTwoBytes: a text with two bytes a letter is read by the page in which its
// words are words, and where none is known somebody reads them.
func TestPagesOfTwoBytes(t *testing.T) {
	rows := func(heading, note string) string {
		return wearFileOf(heading, 3*96, func(at time.Time, i int, v string) string {
			return at.Format("2006-01-02 15:04,") + v + "," + ifThen(i == 7, note, "")
		})
	}
	for _, c := range []struct {
		page          encoding.Encoding
		heading, note string
		asked         string
	}{
		{simplifiedchinese.GB18030, "时间,葡萄糖(毫摩尔/升),备注", "头晕", ""}, {japanese.ShiftJIS, "測定日時,血糖値(mmol/L),note", "ふらつき", ""}, {korean.EUCKR, "time,혈당(mmol/L),note", "어지러움", ""},
		{japanese.ShiftJIS, "time,glucose mmol/L,note", "ふらつき", "code_page"}, {charmap.Windows1252, "time,glucose mmol/L,note", "Müdigkeit", ""},
	} {
		data, err := c.page.NewEncoder().String(rows(c.heading, c.note))
		if err != nil {
			t.Fatal(err)
		}
		answers := map[string]string{}
		if c.asked != "" {
			if asked, _ := answeredWith(data, nil); len(asked) == 0 || asked[0] != c.asked {
				t.Errorf("%s: asked %q", c.note, asked)
			}
			answers[c.asked] = "Shift-JIS"
		}
		asked, res := answeredWith(data, answers)
		want, wanted := answeredWith(rows(c.heading, c.note), nil)
		if !slices.Equal(asked, want) || res.Refusal != nil || len(res.Readings) != len(wanted.Readings) || fmt.Sprint(res.Events, res.Questions) != fmt.Sprint(wanted.Events, wanted.Questions) {
			t.Errorf("%s: asked %q, and in UTF-8 %q; %+v %+v", c.note, asked, want, res.Refusal, res.Events)
		}
	}
}
