package sim

import (
	"strings"
	"time"

	"wearround/worker/wear"
)

// Person is one invented patient of an invented practice.
type Person struct {
	Code      string // the practice's code: "P-0417"
	Name      string // made-up syllables, and nobody's
	BirthDate string // 2006-01-02
	Sex       string // "female" or "male"
	Context   wear.Context
	Contact   Contact
}

// Names are put together from open syllables, so that they can be read aloud in
// most languages, and are nobody's.
var (
	starts = []string{"b", "d", "f", "g", "h", "j", "k", "l", "m", "n", "p", "r", "s", "t", "v", "z", "br", "dr", "fl", "kr", "pl", "tr"}
	vowels = []string{"a", "e", "i", "o", "u"}
	inner  = []string{"b", "d", "g", "l", "m", "n", "r", "s", "t", "v", "z", "nd", "lm", "rv", "st"}
	given  = []string{"a", "o", "i", "el", "en", "in", "ano", "ila", "eta"}
	family = []string{"dal", "mer", "nov", "rek", "tan", "vel", "zor", "lin", "bek", "gard", "mont", "sund"}
)

func inventedWord(c chance, ends []string) string {
	w := pick(c, starts) + pick(c, vowels) + pick(c, inner)
	if len(ends[0]) > 2 {
		w += pick(c, vowels)
	}
	w += pick(c, ends)
	return strings.ToUpper(w[:1]) + w[1:]
}

// newPerson invents an adult with the given code, aged 22 to 82 on the date.
func newPerson(c chance, code string, on time.Time) Person {
	born := on.AddDate(0, 0, -int(c.between(22, 82)*365.25))
	p := Person{
		Code:      code,
		Name:      inventedWord(c, given) + " " + inventedWord(c, family),
		BirthDate: born.Format(time.DateOnly),
		Sex:       pick(c, []string{"female", "male"}),
	}
	p.Context = wear.Context{AskedOn: on.Format(time.DateOnly), BirthYear: born.Year(), Sex: p.Sex, LowCarbohydrate: c.happens(0.03)}
	return p
}

// prescribe makes the record agree with a kind of wear: tablets where there are
// lows from them, and no sparing of carbohydrate where much of it is eaten.
func (p *Person) prescribe(k Kind) {
	switch k {
	case MedicineLows:
		p.Context.GlucoseLowering, p.Context.Sulfonylurea = true, true
		p.Context.LowCarbohydrate = false
	case Drifting, FrequentPeaks, ReactiveDips, VeryHigh:
		p.Context.LowCarbohydrate = false
	}
}

// inventNumbers gives n distinct numbers for codes in rising order, with gaps
// as on a register that people have left.
func inventNumbers(c chance, n int) []int {
	numbers := make([]int, n)
	at := 100
	for i := range numbers {
		at += 1 + c.IntN(4)
		numbers[i] = at
	}
	return numbers
}
