package metrics

import (
	"context"
	"errors"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
	"github.com/jackc/pgx/v5/pgxpool"
	"github.com/prometheus/client_golang/prometheus"
)

// Tracer counts and times what a pool asks; it is for the tracer of its connections.
// A batch counts as the statements in it.
func (m *Metrics) Tracer() pgx.QueryTracer { return tracer{m} }

type tracer struct{ m *Metrics }

type begunKey struct{}

var (
	_ pgx.QueryTracer = tracer{}
	_ pgx.BatchTracer = tracer{}
)

func (t tracer) TraceQueryStart(ctx context.Context, _ *pgx.Conn, _ pgx.TraceQueryStartData) context.Context {
	return context.WithValue(ctx, begunKey{}, time.Now())
}

func (t tracer) TraceQueryEnd(ctx context.Context, _ *pgx.Conn, data pgx.TraceQueryEndData) {
	t.m.queries.WithLabelValues(t.m.route(ctx)).Inc()
	t.ended(ctx, data.Err)
}

func (t tracer) TraceBatchStart(ctx context.Context, _ *pgx.Conn, _ pgx.TraceBatchStartData) context.Context {
	return context.WithValue(ctx, begunKey{}, time.Now())
}

func (t tracer) TraceBatchQuery(ctx context.Context, _ *pgx.Conn, _ pgx.TraceBatchQueryData) {
	t.m.queries.WithLabelValues(t.m.route(ctx)).Inc()
}

func (t tracer) TraceBatchEnd(ctx context.Context, _ *pgx.Conn, data pgx.TraceBatchEndData) {
	t.ended(ctx, data.Err)
}

func (t tracer) ended(ctx context.Context, err error) {
	if begun, ok := ctx.Value(begunKey{}).(time.Time); ok {
		t.m.queryTime.Observe(time.Since(begun).Seconds())
	}
	// That nothing was found, or nobody waits any more, is no failure.
	if err == nil || errors.Is(err, pgx.ErrNoRows) || errors.Is(err, context.Canceled) {
		return
	}
	state := ""
	if refused, ok := errors.AsType[*pgconn.PgError](err); ok {
		state = refused.Code
	}
	t.m.failures.WithLabelValues(state).Inc()
}

// Pool adds how the connections of a pool are used.
func (m *Metrics) Pool(pool *pgxpool.Pool) {
	gauge := func(name, help string, value func(*pgxpool.Stat) float64) {
		m.registry.MustRegister(prometheus.NewGaugeFunc(prometheus.GaugeOpts{Name: name, Help: help}, func() float64 { return value(pool.Stat()) }))
	}
	counter := func(name, help string, value func(*pgxpool.Stat) float64) {
		m.registry.MustRegister(prometheus.NewCounterFunc(prometheus.CounterOpts{Name: name, Help: help}, func() float64 { return value(pool.Stat()) }))
	}
	gauge("boltward_pool_connections", "Connections to Postgres that are open.", func(s *pgxpool.Stat) float64 { return float64(s.TotalConns()) })
	gauge("boltward_pool_connections_in_use", "Connections that are in use.", func(s *pgxpool.Stat) float64 { return float64(s.AcquiredConns()) })
	gauge("boltward_pool_connections_most", "Connections that may be open at most.", func(s *pgxpool.Stat) float64 { return float64(s.MaxConns()) })
	counter("boltward_pool_acquired_total", "How often a connection was asked for and given.", func(s *pgxpool.Stat) float64 { return float64(s.AcquireCount()) })
	counter("boltward_pool_waited_total", "How often somebody waited for a connection, since all were in use.", func(s *pgxpool.Stat) float64 { return float64(s.EmptyAcquireCount()) })
	counter("boltward_pool_wait_seconds_total", "How long was waited for a connection in all.", func(s *pgxpool.Stat) float64 { return s.EmptyAcquireWaitTime().Seconds() })
}

// Kept is what stands in the database itself, the same whichever process is asked.
type Kept struct {
	Jobs    []KeptJobs
	Checked time.Time // when the ledgers were last checked; zero for never
	Differ  int       // balances that did not agree then
}

// KeptJobs is how many jobs of a kind are in a state.
type KeptJobs struct {
	Kind, State string
	N           int64
}

// Kept adds what look finds in the database, each time somebody asks. Where it fails
// these are missing, and boltward_database_answers is 0.
func (m *Metrics) Kept(look func(context.Context) (Kept, error)) {
	m.registry.MustRegister(keptCollector{look})
}

const lookWithin = 3 * time.Second

type keptCollector struct {
	look func(context.Context) (Kept, error)
}

var (
	answersDesc = prometheus.NewDesc("boltward_database_answers", "Whether Postgres answered just now.", nil, nil)
	waitingDesc = prometheus.NewDesc("boltward_jobs", "Background jobs that are not done, by kind and state.", []string{"kind", "state"}, nil)
	checkedDesc = prometheus.NewDesc("boltward_ledger_check_timestamp_seconds", "When all balances were last held against their ledgers.", nil, nil)
	ageDesc     = prometheus.NewDesc("boltward_ledger_check_age_seconds", "How long ago all balances were last held against their ledgers.", nil, nil)
	differDesc  = prometheus.NewDesc("boltward_ledger_check_differences", "Balances that did not agree with their ledger when they were last held against it.", nil, nil)
)

// Describe is part of prometheus.Collector.
func (k keptCollector) Describe(out chan<- *prometheus.Desc) {
	for _, d := range []*prometheus.Desc{answersDesc, waitingDesc, checkedDesc, ageDesc, differDesc} {
		out <- d
	}
}

// Collect is part of prometheus.Collector.
func (k keptCollector) Collect(out chan<- prometheus.Metric) {
	gauge := func(d *prometheus.Desc, value float64, labels ...string) {
		out <- prometheus.MustNewConstMetric(d, prometheus.GaugeValue, value, labels...)
	}
	ctx, cancel := context.WithTimeout(context.Background(), lookWithin)
	defer cancel()
	found, err := k.look(ctx)
	if err != nil {
		gauge(answersDesc, 0)
		return
	}
	gauge(answersDesc, 1)
	for _, j := range found.Jobs {
		gauge(waitingDesc, float64(j.N), j.Kind, j.State)
	}
	if !found.Checked.IsZero() {
		gauge(checkedDesc, float64(found.Checked.Unix()))
		gauge(ageDesc, time.Since(found.Checked).Seconds())
		gauge(differDesc, float64(found.Differ))
	}
}
