// Package metrics counts and times what the program does, for whoever watches it, in
// the text that Prometheus reads (https://prometheus.io/docs/instrumenting/exposition_formats/).
// Times are seconds. No label holds what people typed, names, or addresses: routes are
// patterns, such as /drives/:drive/fabric, and kinds of work are a closed list.
package metrics

import (
	"context"
	"net/http"
	"strconv"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"
	"github.com/prometheus/client_golang/prometheus/promhttp"
)

// Metrics are those of one process, in a registry of their own.
type Metrics struct {
	registry *prometheus.Registry

	requests    *prometheus.CounterVec
	requestTime *prometheus.HistogramVec
	queries     *prometheus.CounterVec
	queryTime   prometheus.Histogram
	failures    *prometheus.CounterVec
	jobs        *prometheus.CounterVec
	jobTime     *prometheus.HistogramVec
	planTime    prometheus.Histogram
	planGap     prometheus.Histogram

	route func(context.Context) string
}

// usualTimes are the bounds of pages and queries, longTimes those of work.
var (
	usualTimes = []float64{.001, .0025, .005, .01, .025, .05, .1, .25, .5, 1, 2.5, 5, 10, 30}
	longTimes  = []float64{.01, .05, .1, .5, 1, 2, 5, 10, 20, 60, 300, 900}
)

// New gives metrics of nothing yet. route says by the context of a query which route
// asked for it; empty for none.
func New(route func(context.Context) string) *Metrics {
	m := &Metrics{
		registry: prometheus.NewRegistry(), route: route,
		requests: prometheus.NewCounterVec(prometheus.CounterOpts{
			Name: "boltward_requests_total", Help: "Requests answered, by method, route and status.",
		}, []string{"method", "route", "status"}),
		requestTime: prometheus.NewHistogramVec(prometheus.HistogramOpts{
			Name: "boltward_request_seconds", Help: "How long answers took.", Buckets: usualTimes,
		}, []string{"method", "route"}),
		queries: prometheus.NewCounterVec(prometheus.CounterOpts{
			Name: "boltward_queries_total", Help: "Statements sent to Postgres, by the route that asked for them; empty for sessions and background work.",
		}, []string{"route"}),
		queryTime: prometheus.NewHistogram(prometheus.HistogramOpts{
			Name: "boltward_query_seconds", Help: "How long statements took.", Buckets: usualTimes,
		}),
		failures: prometheus.NewCounterVec(prometheus.CounterOpts{
			Name: "boltward_query_failures_total", Help: "Statements that failed, by SQLSTATE; empty where no answer came.",
		}, []string{"sqlstate"}),
		jobs: prometheus.NewCounterVec(prometheus.CounterOpts{
			Name: "boltward_jobs_total", Help: "Background jobs worked here, by kind and outcome: done, put off, failed, panicked.",
		}, []string{"kind", "outcome"}),
		jobTime: prometheus.NewHistogramVec(prometheus.HistogramOpts{
			Name: "boltward_job_seconds", Help: "How long background jobs took.", Buckets: longTimes,
		}, []string{"kind"}),
		planTime: prometheus.NewHistogram(prometheus.HistogramOpts{
			Name: "boltward_plan_seconds", Help: "How long plans took to work out.", Buckets: longTimes,
		}),
		planGap: prometheus.NewHistogram(prometheus.HistogramOpts{
			Name: "boltward_plan_gap_ratio", Help: "What a plan's proven bound leaves above what it makes, as a share of the bound.",
			Buckets: []float64{0, .001, .005, .01, .02, .05, .1, .2, .5, 1},
		}),
	}
	m.registry.MustRegister(m.requests, m.requestTime, m.queries, m.queryTime, m.failures, m.jobs, m.jobTime, m.planTime, m.planGap,
		collectors.NewGoCollector(), collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}))
	return m
}

// Handler answers with all of them.
func (m *Metrics) Handler() http.Handler {
	return promhttp.HandlerFor(m.registry, promhttp.HandlerOpts{Registry: m.registry, MaxRequestsInFlight: 4, Timeout: 10 * time.Second})
}

// Answered counts a request. A route is empty where none was found.
func (m *Metrics) Answered(method, route string, status int, took time.Duration) {
	switch method {
	case http.MethodGet, http.MethodPost, http.MethodHead:
	default:
		method = "other" // anybody can make one up
	}
	m.requests.WithLabelValues(method, route, strconv.Itoa(status)).Inc()
	m.requestTime.WithLabelValues(method, route).Observe(took.Seconds())
}

// Worked counts a background job.
func (m *Metrics) Worked(kind, outcome string, took time.Duration) {
	m.jobs.WithLabelValues(kind, outcome).Inc()
	m.jobTime.WithLabelValues(kind).Observe(took.Seconds())
}

// Planned counts a plan that was worked out: what it makes and the most that could be
// made, both by weight.
func (m *Metrics) Planned(made, bound, seconds float64) {
	m.planTime.Observe(seconds)
	if bound > 0 {
		m.planGap.Observe(max(0, (bound-made)/bound))
	}
}
