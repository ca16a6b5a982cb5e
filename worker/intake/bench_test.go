package intake_test

import (
	"bytes"
	"crypto/sha256"
	"fmt"
	"strings"
	"testing"
	"time"

	"wearround/worker/intake"
)

// twoWeeks is a plain file of 14 days at 5 minutes: 4,032 rows.
func twoWeeks() []byte { return plainWear(14*288, 5*time.Minute) }

// plainWear is a file of n rows with a time, a value and a few events.
func plainWear(n int, step time.Duration) []byte {
	var b strings.Builder
	b.WriteString("time,glucose,event\n")
	at := time.Date(2025, 11, 1, 0, 0, 0, 0, time.UTC)
	for i := range n {
		event := ""
		if i%96 == 40 {
			event = "meal"
		}
		fmt.Fprintf(&b, "%s,%d.%d,%s\n", at.Add(time.Duration(i)*step).Format("2006-01-02T15:04:05"), 5+i/9%4, i%10, event)
	}
	return []byte(b.String())
}

// bare is the least that any reader of this one layout must do: cut the rows,
// read time and value by position, and hash the bytes. It checks nothing.
func bare(data []byte, at []int64, tenths []int16) (rows int, hash [32]byte) {
	two := func(b []byte) int64 { return int64(b[0]-'0')*10 + int64(b[1]-'0') }
	i := bytes.IndexByte(data, '\n') + 1
	var day [10]byte
	var midnight int64
	for i < len(data) {
		line := data[i:]
		if [10]byte(line[:10]) != day {
			day = [10]byte(line[:10])
			y, m, d := two(line)*100+two(line[2:]), time.Month(two(line[5:])), int(two(line[8:]))
			midnight = time.Date(int(y), m, d, 0, 0, 0, 0, time.UTC).Unix()
		}
		at[rows] = midnight + two(line[11:])*3600 + two(line[14:])*60 + two(line[17:])
		v, j := int16(0), 20
		for ; line[j] != ','; j++ {
			if c := line[j]; c != '.' {
				v = v*10 + int16(c-'0')
			}
		}
		tenths[rows] = v
		rows++
		i += j + bytes.IndexByte(line[j:], '\n') + 1
	}
	return rows, sha256.Sum256(data)
}

// benchLayouts are ways to write the same two weeks at 5 minutes.
var benchLayouts = []struct{ name, heading, clock, row string }{
	{"plain", "time,glucose,event", "2006-01-02T15:04:05", "%s,%d.%d,%s\n"},
	{"quoted", "time,glucose,event", "2006-01-02 15:04", `"%s","%d.%d","%s"` + "\n"},
	{"day-first", "Zeit;Glukose;Ereignis", "02.01.2006 15:04", "%s;%d,%d;%s\n"},
	{"apart", "Datum;Uhrzeit;Glukose;Ereignis", "02.01.2006;15:04", "%s;%d,%d;%s\n"},
	{"half-days", "time,glucose,event", "01/02/2006 3:04 PM", "%s,%d.%d,%s\n"},
	{"offset", "time,glucose,event", time.RFC3339, "%s,%d.%d,%s\n"},
}

// BenchmarkDecode measures decoding two-week files at 5 minutes from bytes to
// readings, hash and all checks over the whole file included, against the bare
// parser above in the same run. Goals: with a known recipe at most 4 times
// bare, and the first file of a layout at most 4 times that.
func BenchmarkDecode(b *testing.B) {
	const files, rows = 1000, 14 * 288
	sydney, err := time.LoadLocation("Australia/Sydney")
	if err != nil {
		b.Fatal(err)
	}
	plain := twoWeeks()
	at, tenths := make([]int64, rows), make([]int16, rows)
	for _, l := range benchLayouts {
		b.Run(l.name, func(b *testing.B) {
			var text strings.Builder
			text.WriteString(l.heading + "\n")
			start := time.Date(2025, 11, 1, 0, 0, 0, 0, sydney)
			for i := range rows {
				event := ""
				if i%96 == 40 {
					event = "meal"
				}
				fmt.Fprintf(&text, l.row, start.Add(time.Duration(i)*5*time.Minute).Format(l.clock), 5+i/9%4, i%10, event)
			}
			data := []byte(text.String())
			first := intake.Options{Zone: sydney, Now: now}
			seen := intake.Read(data, first)
			if len(seen.Readings) != rows || len(seen.Events) != rows/96 {
				b.Fatalf("refusal %+v, questions %+v", seen.Refusal, seen.Questions)
			}
			known := first
			known.Recipe = func(layout string) (intake.Recipe, bool) { return seen.Recipe, layout == seen.Recipe.Layout }
			if res := intake.Read(data, known); !res.ByRecipe || len(res.Readings) != rows {
				b.Fatalf("the recipe was not used: %+v", res)
			}
			ways := [3]func(){
				func() { bare(plain, at, tenths) },
				func() { sha256.Sum256(data); intake.Read(data, known) },
				func() { sha256.Sum256(data); intake.Read(data, first) },
			}
			// The three take turns, and the best of many short rounds counts,
			// because other work on the machine falls on one of them by chance.
			const round = 20
			var best [3]time.Duration
			for b.Loop() {
				for range files / round {
					for i, way := range ways {
						start := time.Now()
						for range round {
							way()
						}
						if d := time.Since(start); best[i] == 0 || d < best[i] {
							best[i] = d
						}
					}
				}
			}
			for i, unit := range []string{"bare-µs/file", "known-µs/file", "first-µs/file"} {
				b.ReportMetric(float64(best[i].Microseconds())/round, unit)
			}
			b.ReportMetric(float64(best[1])/float64(best[0]), "known/bare")
			b.ReportMetric(float64(best[2])/float64(best[1]), "first/known")
		})
	}
}

// Benchmarks of the two ways alone, for profiles.
func BenchmarkReadFirst(b *testing.B) { benchmarkRead(b, false) }
func BenchmarkReadKnown(b *testing.B) { benchmarkRead(b, true) }

func benchmarkRead(b *testing.B, known bool) {
	data := twoWeeks()
	o := intake.Options{Zone: time.UTC, Now: now}
	if known {
		recipe := intake.Read(data, o).Recipe
		o.Recipe = func(string) (intake.Recipe, bool) { return recipe, true }
	}
	b.SetBytes(int64(len(data)))
	b.ReportAllocs()
	for b.Loop() {
		intake.Read(data, o)
	}
}
