package door

import (
	"context"
	"net/http"
	"slices"
	"time"

	"github.com/prometheus/client_golang/prometheus"
)

// metrics are the server's counts. Requests are labelled by the route's
// template, so their number is bounded and no label names a patient.
type metrics struct {
	requests *prometheus.CounterVec
	seconds  *prometheus.HistogramVec
}

func newMetrics(r prometheus.Registerer, s *Door) *metrics {
	m := &metrics{
		requests: prometheus.NewCounterVec(prometheus.CounterOpts{
			Name: "wearround_http_requests_total", Help: "Requests answered, by route, method and status.",
		}, []string{"route", "method", "status"}),
		seconds: prometheus.NewHistogramVec(prometheus.HistogramOpts{
			Name: "wearround_http_request_seconds", Help: "Time to answer a request, by route.",
			Buckets: prometheus.ExponentialBuckets(0.001, 2, 12),
		}, []string{"route"}),
	}
	r.MustRegister(m.requests, m.seconds, storeCollector{s})
	return m
}

// storeCollector asks the store for its counts when the counts are asked for.
type storeCollector struct{ *Door }

var (
	openWears   = prometheus.NewDesc("wearround_open_wears", "Wears on the round.", nil, nil)
	heldFiles   = prometheus.NewDesc("wearround_held_files", "Files that wait for a person's answer.", nil, nil)
	drops       = prometheus.NewDesc("wearround_drops", "Names in the watched folder that have been dealt with.", nil, nil)
	keptReading = prometheus.NewDesc("wearround_readings", "Readings kept.", nil, nil)
	jobGood     = prometheus.NewDesc("wearround_job_last_success_timestamp_seconds", "When a scheduled job last ended well.", []string{"job"}, nil)
	ready       = prometheus.NewDesc("wearround_ready", "1 where nothing stands against relying on the practice, as /readyz says it.", nil, nil)
	diskFree    = prometheus.NewDesc("wearround_disk_free_bytes", "Room left on the disk of the database.", nil, nil)
	doesNotFit  = prometheus.NewDesc("wearround_damaged_things", "Things whose data do not fit their seal.", nil, nil)
)

// Describe implements prometheus.Collector.
func (storeCollector) Describe(out chan<- *prometheus.Desc) {
	out <- openWears
	out <- heldFiles
	out <- drops
	out <- keptReading
	out <- jobGood
	out <- ready
	out <- diskFree
	out <- doesNotFit
}

// Collect implements prometheus.Collector.
func (s storeCollector) Collect(out chan<- prometheus.Metric) {
	ctx, cancel := context.WithTimeout(context.Background(), 5*time.Second)
	defer cancel()
	gauge := func(d *prometheus.Desc, v float64, labels ...string) {
		out <- prometheus.MustNewConstMetric(d, prometheus.GaugeValue, v, labels...)
	}
	up := 1.0
	if len(s.Reasons(ctx)) > 0 {
		up = 0
	}
	gauge(ready, up)
	gauge(doesNotFit, float64(len(s.Store.Damage())))
	if d, err := s.Store.Disk(); err == nil && d.Free >= 0 {
		gauge(diskFree, float64(d.Free))
	}
	if jobs, err := s.Store.Jobs(ctx); err == nil {
		for _, j := range jobs { // names of the program's own
			if !j.GoodAt.IsZero() {
				gauge(jobGood, float64(j.GoodAt.Unix()), j.Name)
			}
		}
	}
	n, err := s.Store.Counts(ctx)
	if err != nil {
		out <- prometheus.NewInvalidMetric(openWears, err)
		return
	}
	gauge(openWears, float64(n.OpenWears))
	gauge(heldFiles, float64(n.HeldFiles))
	gauge(drops, float64(n.Drops))
	gauge(keptReading, float64(n.Readings))
}

// methods are the request methods that are counted by name. Any other is
// "other": who asks must not choose what is kept.
var methods = []string{http.MethodGet, http.MethodHead, http.MethodPost, http.MethodPut, http.MethodPatch, http.MethodDelete, http.MethodOptions}

func methodLabel(m string) string {
	if slices.Contains(methods, m) {
		return m
	}
	return "other"
}
