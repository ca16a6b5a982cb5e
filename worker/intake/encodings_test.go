package intake_test

import (
	"strings"
	"testing"
	"time"

	"golang.org/x/text/encoding/charmap"
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
