package sim

import (
	"time"

	"wearround/worker/wear"
)

// Person is one invented patient of an invented practice.
type Person struct {
	Code      string // the practice's code: "P-0417"
	Name      string // made-up syllables
	BirthDate string // 2006-01-02
	Sex       string // "female" or "male"
	Context   wear.Context
	Contact   Contact
}

// Syllables chosen so that what comes out sounds like nobody real.
var (
	onsets = []string{"Zv", "Thr", "Kl", "Vr", "Pl", "Gw", "Skr", "Tw", "Fl", "Dr", "Bl", "Qu", "Yx", "Zh", "Smr"}
	vowels = []string{"a", "e", "i", "o", "u", "ae", "oo", "ei"}
	middle = []string{"nth", "bb", "lv", "rq", "mp", "zz", "pf", "xt", "gl", "rb"}
	ends   = []string{"oom", "ixa", "urb", "ebb", "ynt", "olk", "isp", "uzz", "aft", "ombo", "iffle", "umple"}
)

func inventedWord(c chance) string {
	return pick(c, onsets) + pick(c, vowels) + pick(c, middle) + pick(c, ends)
}

// newPerson invents an adult with the given code, aged 22 to 82 on the date.
func newPerson(c chance, code string, on time.Time) Person {
	born := on.AddDate(0, 0, -int(c.between(22, 82)*365.25))
	p := Person{
		Code:      code,
		Name:      inventedWord(c) + " " + inventedWord(c),
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
