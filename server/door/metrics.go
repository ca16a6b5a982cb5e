package door

import (
	"bytes"
	"context"
	"time"

	"github.com/prometheus/client_golang/prometheus"

	"wearround/store"
)

type buffer = bytes.Buffer

// metrics are the server's counts. Requests are labelled by the route's
// template, so their number is bounded and no label names a patient.
type metrics struct {
	requests *prometheus.CounterVec
	seconds  *prometheus.HistogramVec
}

func newMetrics(r prometheus.Registerer, s *store.Store) *metrics {
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
type storeCollector struct{ store *store.Store }

var (
	openWears   = prometheus.NewDesc("wearround_open_wears", "Wears on the round.", nil, nil)
	heldFiles   = prometheus.NewDesc("wearround_held_files", "Files that wait for a person's answer.", nil, nil)
	drops       = prometheus.NewDesc("wearround_drops", "Names in the watched folder that have been dealt with.", nil, nil)
	keptReading = prometheus.NewDesc("wearround_readings", "Readings kept.", nil, nil)
)

// Describe implements prometheus.Collector.
func (storeCollector) Describe(out chan<- *prometheus.Desc) {
	out <- openWears
	out <- heldFiles
	out <- drops
	out <- keptReading
}

// Collect implements prometheus.Collector.
func (s storeCollector) Collect(out chan<- prometheus.Metric) {
	ctx, cancel := context.WithTimeout(context.Background(), 5*time.Second)
	defer cancel()
	n, err := s.store.Counts(ctx)
	if err != nil {
		out <- prometheus.NewInvalidMetric(openWears, err)
		return
	}
	out <- prometheus.MustNewConstMetric(openWears, prometheus.GaugeValue, float64(n.OpenWears))
	out <- prometheus.MustNewConstMetric(heldFiles, prometheus.GaugeValue, float64(n.HeldFiles))
	out <- prometheus.MustNewConstMetric(drops, prometheus.GaugeValue, float64(n.Drops))
	out <- prometheus.MustNewConstMetric(keptReading, prometheus.GaugeValue, float64(n.Readings))
}
