package main

import (
	"context"
	"crypto/subtle"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"strconv"
	"strings"
	"time"

	"github.com/jackc/pgx/v5/pgxpool"

	"boltward/internal/apperr"
	"boltward/internal/metrics"
	"boltward/internal/postgres"
	"boltward/internal/site"
)

const metricsHelp = `
  METRICS_ADDR        where Prometheus finds /metrics, such as 127.0.0.1:9464; unset, nowhere. Never at the pages' own address
  METRICS_TOKEN       what it must show as a bearer token, 16 letters or more; needed where METRICS_ADDR is no loopback address`

// watched is what a process counts of itself, and where somebody may read it.
type watched struct {
	*metrics.Metrics
	listen string // host:port; empty where nobody may
	token  string
}

// readWatched reads METRICS_ADDR and METRICS_TOKEN, and refuses to show figures to
// a whole network without a token.
func readWatched(env Env) (watched, error) {
	w := watched{Metrics: metrics.New(site.RouteOf), listen: env.Getenv("METRICS_ADDR"), token: env.Getenv("METRICS_TOKEN")}
	if w.token != "" && len(w.token) < 16 {
		return w, apperr.Invalid("METRICS_TOKEN", "It has 16 letters or more; openssl rand -hex 16 makes one.")
	}
	if w.listen == "" {
		return w, nil
	}
	host, port, err := net.SplitHostPort(w.listen)
	if _, no := strconv.ParseUint(port, 10, 16); err != nil || no != nil {
		return w, noMetricsAddress()
	}
	if ip := net.ParseIP(host); (ip == nil || !ip.IsLoopback()) && host != "localhost" && w.token == "" {
		return w, apperr.Invalid("METRICS_ADDR", "Beyond this machine it needs METRICS_TOKEN, or everybody in the network reads it; 127.0.0.1:9464 is for this machine alone.")
	}
	return w, nil
}

func noMetricsAddress() error {
	return apperr.Invalid("METRICS_ADDR", "It is an address of this machine and a port, such as 127.0.0.1:9464.")
}

// traced counts what a pool asks.
func (w watched) traced(config *pgxpool.Config) { config.ConnConfig.Tracer = w.Tracer() }

// watch adds what stands in the database, and answers until ctx ends and stop is called.
func (w watched) watch(ctx context.Context, db *database, store *postgres.Store, log *slog.Logger) (stop func() error, err error) {
	w.Pool(db.pool)
	w.Kept(func(ctx context.Context) (metrics.Kept, error) { return keptIn(ctx, store) })
	if w.listen == "" {
		return func() error { return nil }, nil
	}
	listener, err := net.Listen("tcp", w.listen)
	if leadsNowhere(err) {
		return nil, noMetricsAddress()
	}
	if err != nil {
		return nil, apperr.Conflict("Nobody can read the metrics at %s: %v.", w.listen, err)
	}
	mux := http.NewServeMux()
	mux.Handle("GET /metrics", w.guarded(w.Handler()))
	server := newServer(mux, limits{headerTime, headerTime, writeTime, idleTime, headerBytes}, log)
	log.Info("metrics", "at", "http://"+listener.Addr().String()+"/metrics")
	ended := make(chan error, 1)
	go func() { ended <- server.Serve(listener) }()
	return func() error {
		late, cancel := context.WithTimeout(context.WithoutCancel(ctx), time.Second)
		defer cancel()
		// Whoever reads them still can read them again.
		_ = server.Shutdown(late)
		if err := <-ended; !errors.Is(err, http.ErrServerClosed) {
			return fmt.Errorf("serve metrics: %w", err)
		}
		return nil
	}, nil
}

// guarded asks for the token, where there is one.
func (w watched) guarded(next http.Handler) http.Handler {
	return http.HandlerFunc(func(out http.ResponseWriter, r *http.Request) {
		shown, bearer := strings.CutPrefix(r.Header.Get("Authorization"), "Bearer ")
		if w.token != "" && (!bearer || subtle.ConstantTimeCompare([]byte(shown), []byte(w.token)) != 1) {
			out.Header().Set("WWW-Authenticate", "Bearer")
			http.Error(out, "A bearer token is needed.", http.StatusUnauthorized)
			return
		}
		next.ServeHTTP(out, r)
	})
}

func keptIn(ctx context.Context, store *postgres.Store) (metrics.Kept, error) {
	var kept metrics.Kept
	jobs, err := store.JobStates(ctx)
	if err != nil {
		return kept, err
	}
	for _, j := range jobs {
		kept.Jobs = append(kept.Jobs, metrics.KeptJobs{Kind: j.Kind, State: j.State, N: j.N})
	}
	last, err := store.LastLedgerCheck(ctx)
	kept.Checked, kept.Differ = last.At, last.Differ()
	return kept, err
}
