package wear_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"testing"
	"time"

	"wearround/worker/wear"
)

// twoWeeks is a 14-day wear at 5 minutes: three meals a day, a night that
// wanders a little, a few gaps and one pressure dip.
func twoWeeks(unit wear.Unit) ([]wear.Reading, []wear.Event) {
	rng := rand.New(rand.NewPCG(7, 11))
	start := time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC).Unix()
	var readings []wear.Reading
	var events []wear.Event
	wander := 0.0
	for i := range 14 * 288 {
		at := start + int64(i)*300
		if i%1400 > 1380 {
			continue
		}
		wander = 0.97*wander + 0.05*rng.NormFloat64()
		clock := float64(at%86400) / 3600
		g := 5.4 + wander
		for _, meal := range []float64{7.5, 12.5, 19} {
			if since := clock - meal; since > 0 && since < 4 {
				g += 3.2 * since * math.Exp(1-since/0.8) / 0.8 * (1 + 0.3*math.Sin(float64(i/288)))
			}
			if math.Abs(clock-meal) < 1.0/24 {
				events = append(events, wear.Event{At: at, Kind: wear.Meal, Label: "meal"})
			}
		}
		if i >= 2000 && i < 2008 {
			g -= 2
		}
		r := wear.Reading{At: at, Num: int64(math.Round(g * wear.MgdlPerMmol)), Unit: wear.MgdL}
		if unit == wear.MmolL {
			r = wear.Reading{At: at, Num: int64(math.Round(g * 10)), Scale: 1, Unit: wear.MmolL}
		}
		readings = append(readings, r)
	}
	return readings, events
}

// bareMetrics is the least that anyone could compute about a wear: count,
// mean, SD, CV, shares past four limits, episodes above 7.8 and the median of
// each hour of the day.
func bareMetrics(readings []wear.Reading) (mean, sd, cv float64, counts [4]int, episodes int, medians [24]int) {
	sum, squares, run := 0.0, 0.0, 0
	var hours [24][640]uint16
	var size [24]int
	for i := range readings {
		g := float64(readings[i].Num)
		hour := readings[i].At % 86400 / 3600
		hours[hour][readings[i].Num]++
		size[hour]++
		sum += g
		squares += g * g
		if g > 140 {
			counts[0]++
			run++
			if run == 3 {
				episodes++
			}
		} else {
			run = 0
		}
		if g > 180 {
			counts[1]++
		}
		if g < 70 {
			counts[2]++
		}
		if g < 54 {
			counts[3]++
		}
	}
	n := float64(len(readings))
	mean = sum / n
	sd = math.Sqrt((squares - n*mean*mean) / (n - 1))
	for h := range hours {
		seen := 0
		for v, n := range hours[h] {
			if seen += int(n); 2*seen >= size[h] {
				medians[h] = v
				break
			}
		}
	}
	return mean, sd, 100 * sd / mean, counts, episodes, medians
}

func BenchmarkBareMetrics14Days5Min(b *testing.B) {
	readings, _ := twoWeeks(wear.MgdL)
	b.ReportAllocs()
	for b.Loop() {
		bareMetrics(readings)
	}
}

// benchmarkAnalyse times the report, and then reports and bare metrics in turn
// so that both see the same machine. The ratio is that of the medians, which
// a busy neighbour moves least.
func benchmarkAnalyse(b *testing.B, readings []wear.Reading, events []wear.Event) {
	in := wear.Input{Readings: readings, Events: events, Protocol: wear.DefaultProtocol(), Zone: time.UTC}
	b.ReportAllocs()
	for b.Loop() {
		wear.Analyse(in)
	}
	const rounds, each = 301, 20 // bare metrics, about as long as one report
	full, bare := make([]float64, rounds), make([]float64, rounds)
	for i := range rounds {
		began := time.Now()
		wear.Analyse(in)
		between := time.Now()
		for range each {
			bareMetrics(readings)
		}
		full[i], bare[i] = between.Sub(began).Seconds(), time.Since(between).Seconds()/each
	}
	b.ReportMetric(wear.Quantile(full, 0.5).V/wear.Quantile(bare, 0.5).V, "×bare")
}

func BenchmarkAnalyse14Days5Min(b *testing.B) {
	readings, events := twoWeeks(wear.MgdL)
	benchmarkAnalyse(b, readings, events)
}

func BenchmarkAnalyse14Days5MinMmol(b *testing.B) {
	readings, events := twoWeeks(wear.MmolL)
	benchmarkAnalyse(b, readings, events)
}

// Every meal is described in other words, and nobody has read them.
func BenchmarkAnalyse14DaysWords(b *testing.B) {
	readings, events := twoWeeks(wear.MgdL)
	for i := range events {
		events[i].Label = "wholegrain toast with " + strconv.Itoa(i+2) + " eggs, tomatoes and coffee"
	}
	benchmarkAnalyse(b, readings, events)
}

func BenchmarkAnalyseShuffledDuplicated(b *testing.B) {
	readings, events := twoWeeks(wear.MgdL)
	readings = append(readings, readings...)
	rng := rand.New(rand.NewPCG(1, 2))
	rng.Shuffle(len(readings), func(i, j int) { readings[i], readings[j] = readings[j], readings[i] })
	benchmarkAnalyse(b, slices.Clone(readings), events)
}
