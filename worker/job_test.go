package worker

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"io"
	"log/slog"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strconv"
	"sync"
	"testing"
	"time"

	"github.com/prometheus/client_golang/prometheus"

	"wearround/store"
)

// median of some measurements; half of a busy neighbour's bursts fall beside it.
func median(x []float64) float64 {
	return slices.Sorted(slices.Values(x))[len(x)/2]
}

// jobFile is the nth export of the job: time, glucose and event of 14 days at
// five minutes, in mmol/L, with three meals a day.
func jobFile(n int) []byte {
	var b bytes.Buffer
	b.WriteString("time,glucose mmol/L,event\n")
	at := time.Date(2026, 1, 5, 9, 0, 0, 0, time.UTC).Add(time.Duration(n%7*24+n%5) * time.Hour)
	for i := range 14 * 288 {
		t := at.Add(time.Duration(i) * 5 * time.Minute)
		hour := float64(t.Hour()) + float64(t.Minute())/60
		g := 5.3 + 0.4*math.Sin(float64(i*(3+n%11))/97) + 0.2*math.Sin(float64(n)+float64(i)/13)
		event := ""
		for m, meal := range []float64{7.5, 12.5, 19} {
			if since := hour - meal; since >= 0 && since < 4 {
				g += (1.2 + float64((n*7+i/288*3+m)%23)/10) * since / 0.8 * math.Exp(1-since/0.8)
				if since < 1.0/12 {
					event = "meal"
				}
			}
		}
		b.WriteString(t.Format("2006-01-02 15:04"))
		fmt.Fprintf(&b, ",%.1f,%s\n", g, event)
	}
	return b.Bytes()
}

// bareJob does the least that could be called the job on two cores: hand parser
// for this one layout, metrics, packing and hash; nothing is stored.
func bareJob(names []string) (readings int) {
	var mu sync.Mutex
	each(context.Background(), names, runtime.GOMAXPROCS(0), func(name string) {
		data, err := os.ReadFile(name)
		if err != nil {
			panic(err)
		}
		n := bareFile(data)
		mu.Lock()
		readings += n
		mu.Unlock()
	})
	return readings
}

var bareSink byte

func bareFile(data []byte) int {
	sum := sha256.Sum256(data)
	var values []int
	var pack []byte
	var hours [24][400]uint16
	total, squares, run, episodes := 0, 0, 0, 0
	var beyond [4]int
	last, lastMinute := 0, 0
	digit := func(i int) int { return int(data[i] - '0') }
	for i := bytes.IndexByte(data, '\n') + 1; i < len(data); {
		day := digit(i+8)*10 + digit(i+9)
		hour := digit(i+11)*10 + digit(i+12)
		minute := day*1440 + hour*60 + digit(i+14)*10 + digit(i+15)
		v := 0
		for i += 17; data[i] != ','; i++ {
			if data[i] != '.' {
				v = v*10 + digit(i)
			}
		}
		pack = append(pack, byte(v-last), byte(minute-lastMinute))
		last, lastMinute = v, minute
		hours[hour][v]++
		total, squares = total+v, squares+v*v
		for k, past := range [4]bool{v > 78, v > 100, v < 39, v < 30} {
			if past {
				beyond[k]++
			}
		}
		if run++; v <= 78 {
			run = 0
		} else if run == 3 {
			episodes++
		}
		values = append(values, v)
		i += bytes.IndexByte(data[i:], '\n') + 1
	}
	for h := range hours {
		seen := uint16(0)
		for _, n := range hours[h] {
			if seen += n; seen*2 >= 168 {
				break
			}
		}
	}
	n := float64(len(values))
	sd := math.Sqrt(float64(squares)/n - float64(total)/n*float64(total)/n)
	bareSink = sum[0] + pack[0] + byte(episodes) + byte(beyond[0]) + byte(sd)
	return len(values)
}

// duckdbJob has the reference do its part of the job and gives its seconds, which
// leave out starting it.
func duckdbJob(b *testing.B, modules, folder string) float64 {
	out, err := exec.Command("node", "testdata/reference.mjs", folder, modules).Output()
	var said struct {
		Seconds  float64
		Readings int
	}
	if err == nil {
		err = json.Unmarshal(out, &said)
	}
	if err != nil || said.Readings == 0 {
		b.Fatalf("the reference did not do the job: %v %s", err, out)
	}
	return said.Seconds
}

// BenchmarkJob takes 1,000 two-week wears from the folder to the round, and in
// the same run does the bare job. JOB_FILES says how many other than 1,000;
// JOB_DUCKDB is a folder where "npm install @duckdb/node-api" was run, and has
// DuckDB do its part beside it.
func BenchmarkJob(b *testing.B) {
	files := 1000
	if n, err := strconv.Atoi(os.Getenv("JOB_FILES")); err == nil {
		files = n
	}
	src := b.TempDir()
	names := make([]string, files)
	var people []store.Patient
	for i := range names {
		code := fmt.Sprintf("J-%05d", i)
		people = append(people, store.Patient{Code: code})
		names[i] = filepath.Join(src, code+"_export.csv")
		if err := os.WriteFile(names[i], jobFile(i), 0o600); err != nil {
			b.Fatal(err)
		}
	}
	modules := os.Getenv("JOB_DUCKDB")
	var ours, bare, duckdb []float64
	for b.Loop() {
		began := time.Now()
		bareJob(names)
		bare = append(bare, time.Since(began).Seconds())
		if modules != "" {
			duckdb = append(duckdb, duckdbJob(b, modules, src))
		}
		ours = append(ours, oneJob(b, src, people).Seconds())
	}
	if modules != "" {
		b.ReportMetric(median(ours)/median(duckdb), "×duckdb")
	}
	b.ReportMetric(median(ours)/median(bare), "×bare")
	b.ReportMetric(1000*median(ours)/float64(files), "ms/file")
}

// oneJob is one run on a new practice; it gives the time of the look that files.
func oneJob(b *testing.B, src string, people []store.Patient) time.Duration {
	b.StopTimer()
	defer b.StartTimer()
	ctx, dir := context.Background(), b.TempDir()
	now := time.Date(2026, 3, 20, 9, 0, 0, 0, time.UTC)
	s, err := store.Open(ctx, filepath.Join(dir, "w.db"), func() time.Time { return now })
	if err != nil {
		b.Fatal(err)
	}
	defer s.Close()
	archive, err := OpenArchive(filepath.Join(dir, "archive"))
	if err != nil {
		b.Fatal(err)
	}
	rule, err := ParseNameRule(DefaultNameRule)
	if err != nil {
		b.Fatal(err)
	}
	if err := s.SetLogKey(make([]byte, store.LogKeySize)); err != nil {
		b.Fatal(err)
	}
	if err := s.AddPatients(ctx, people); err != nil {
		b.Fatal(err)
	}
	w := New(Config{
		Drop: src, Archive: archive, Settle: settle, Zone: time.UTC, Rule: rule,
		Now: func() time.Time { return now }, Log: slog.New(slog.NewTextHandler(io.Discard, nil)), Metrics: NewMetrics(prometheus.NewRegistry()),
	}, s)
	w.look(ctx)
	now = now.Add(settle)
	runtime.GC()
	began := time.Now()
	w.look(ctx)
	took := time.Since(began)
	if n, err := s.Counts(ctx); err != nil || n.OpenWears != len(people) {
		b.Fatalf("%d wears on the round, want %d: %v", n.OpenWears, len(people), err)
	}
	return took
}
