package sim

import (
	"bytes"
	"fmt"
	"image"
	"image/png"
	"strings"
	"time"
)

// OddFile is a file that ought to be held, refused or known already.
type OddFile struct {
	Name string
	Data []byte
	Why  string // what is wrong with it, for a test's message
}

// Oddities gives a handful of troublesome files such as a practice's folder
// collects. Their codes are on no invented register of up to 2,000 patients.
func Oddities(seed uint64, end time.Time, zone *time.Location) []OddFile {
	c := newChance(seed, streamOddities)
	at := func(days float64) time.Time {
		return end.In(zone).Add(-time.Duration(days * 24 * float64(time.Hour)))
	}
	stranger := Person{Code: "P-9999"}
	layouts := Layouts()
	whole := NewWear(c.Uint64(), Spec{Person: stranger, Start: at(40)})
	name, data := Render(whole, layouts[0])
	cut := Person{Code: "P-9998"}
	_, long := Render(NewWear(c.Uint64(), Spec{Person: cut, Start: at(70)}), layouts[0])
	half := bytes.LastIndexByte(long[:len(long)*2/3], '\n')
	return []OddFile{
		{"P-9001_empty.csv", nil, "nothing in it"},
		{"P-9002_screen.csv", picture(), "a picture under a wrong name"},
		{"P-9998_copy.csv", long[:half+10], "copied in part: the last line stops within its date"},
		{"P-9003_numbers.csv", unitless(c, at(30)), "no unit, and whole numbers from 52 to 95 that may have lost their point"},
		{"P-9004_oneday.csv", oneDay(c, end.In(zone)), "one day, whose day and month may be either way round"},
		{name, data, "a code that is on no register"},
		{strings.Replace(name, ".csv", " (2).csv", 1), bytes.Clone(data), "the same bytes as the file before it"},
	}
}

// unitless is a wear whose values lost their decimal point and whose heading
// gives no unit: as mg/dL it would be all low.
func unitless(c chance, start time.Time) []byte {
	w := NewWear(c.Uint64(), Spec{Start: start})
	var b bytes.Buffer
	b.WriteString("time,glucose\n")
	for _, r := range w.Readings {
		fmt.Fprintf(&b, "%s,%d\n", time.Unix(r.At, 0).In(start.Location()).Format("2006-01-02 15:04"), r.Num)
	}
	return b.Bytes()
}

// oneDay is a day of quarter hours on the latest date before end that reads
// as a date both ways round, such as 3 April and 4 March.
func oneDay(c chance, end time.Time) []byte {
	day := time.Date(end.Year(), end.Month(), end.Day(), 0, 0, 0, 0, end.Location()).AddDate(0, 0, -1)
	for !bothWays(day, end) {
		day = day.AddDate(0, 0, -1)
	}
	w := NewWear(c.Uint64(), Spec{Start: day, Days: 0.99})
	var b bytes.Buffer
	b.WriteString("Date,Time,Glucose (mmol/L)\n")
	for i := 0; i < len(w.Readings); i += 3 {
		at := time.Unix(w.Readings[i].At, 0).In(end.Location())
		fmt.Fprintf(&b, "%s,%s,%s\n", at.Format("02/01/2006"), at.Format("15:04"), w.Readings[i].Text())
	}
	return b.Bytes()
}

// bothWays reports whether a day is still a date of the past, and another one,
// with day and month exchanged.
func bothWays(day, end time.Time) bool {
	if day.Day() > 12 || day.Day() == int(day.Month()) {
		return false
	}
	other := time.Date(day.Year(), time.Month(day.Day()), int(day.Month()), 0, 0, 0, 0, day.Location())
	return other.Before(end)
}

// picture is a small grey image in the PNG format.
func picture() []byte {
	const side = 32
	grey := image.NewGray(image.Rect(0, 0, side, side))
	for i := range grey.Pix {
		grey.Pix[i] = byte(4*(i%side) + 3*(i/side))
	}
	var b bytes.Buffer
	_ = png.Encode(&b, grey) // cannot fail: a buffer takes everything
	return b.Bytes()
}
