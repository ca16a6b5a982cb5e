package worker

import "github.com/prometheus/client_golang/prometheus"

// Metrics are the worker's counts. None carries a label that could name a
// patient, a file or a user.
type Metrics struct {
	files       *prometheus.CounterVec
	seconds     prometheus.Histogram
	looks       prometheus.Counter
	faults      prometheus.Counter
	watchErrors prometheus.Counter
	waiting     prometheus.Gauge
	lastLook    prometheus.Gauge
	jobFailures *prometheus.CounterVec
}

// NewMetrics makes the counts and registers them.
func NewMetrics(r prometheus.Registerer) *Metrics {
	m := &Metrics{
		files: prometheus.NewCounterVec(prometheus.CounterOpts{
			Name: "wearround_files_total", Help: "Files from the watched folder finished, by outcome.",
		}, []string{"outcome"}),
		seconds: prometheus.NewHistogram(prometheus.HistogramOpts{
			Name: "wearround_file_process_seconds", Help: "Time from taking a settled file to its being saved.",
			Buckets: prometheus.ExponentialBuckets(0.001, 2, 14),
		}),
		looks: prometheus.NewCounter(prometheus.CounterOpts{
			Name: "wearround_folder_looks_total", Help: "Looks at the watched folder.",
		}),
		faults: prometheus.NewCounter(prometheus.CounterOpts{
			Name: "wearround_file_faults_total", Help: "Attempts at a file that failed by a fault of the program or its machine and are tried again.",
		}),
		watchErrors: prometheus.NewCounter(prometheus.CounterOpts{
			Name: "wearround_folder_watch_errors_total", Help: "Faults of the operating system's change events; the folder is looked at regularly all the same.",
		}),
		waiting: prometheus.NewGauge(prometheus.GaugeOpts{
			Name: "wearround_folder_waiting_files", Help: "Files in the watched folder not yet dealt with.",
		}),
		lastLook: prometheus.NewGauge(prometheus.GaugeOpts{
			Name: "wearround_folder_last_look_timestamp_seconds", Help: "When the watched folder was last looked at.",
		}),
		jobFailures: prometheus.NewCounterVec(prometheus.CounterOpts{
			Name: "wearround_job_failures_total", Help: "Scheduled jobs that failed.",
		}, []string{"job"}),
	}
	r.MustRegister(m.files, m.seconds, m.looks, m.faults, m.watchErrors, m.waiting, m.lastLook, m.jobFailures)
	for _, o := range []string{"filed", "held", "already", "refused"} {
		m.files.WithLabelValues(o) // a count of nought is a count
	}
	return m
}
