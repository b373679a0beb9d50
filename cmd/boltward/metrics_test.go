package main

import (
	"io"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

var metricsAt = regexp.MustCompile(`"msg":"metrics","at":"([^"]+)"`)

// metricsOf gives the address of the metrics of a program, as it logged it.
func metricsOf(t testing.TB, p *program) string {
	t.Helper()
	p.until("it says where its metrics are", func() bool { return metricsAt.MatchString(p.errs.String()) })
	return metricsAt.FindStringSubmatch(p.errs.String())[1]
}

func get(t testing.TB, address, token string) (int, string) {
	t.Helper()
	request, err := http.NewRequestWithContext(t.Context(), http.MethodGet, address, nil)
	require.NoError(t, err)
	if token != "" {
		request.Header.Set("Authorization", "Bearer "+token)
	}
	answer, err := http.DefaultClient.Do(request)
	require.NoError(t, err)
	defer answer.Body.Close()
	text, err := io.ReadAll(answer.Body)
	require.NoError(t, err)
	return answer.StatusCode, string(text)
}

// The real program tells what it does, at an address of its own.
func TestMetrics(t *testing.T) {
	t.Parallel()
	set, _ := withDatabase(t)
	set["METRICS_ADDR"] = "127.0.0.1:0"
	p := serving(t, set)
	h := newPlain(t, p.address)
	organiser(t, h, p)
	startDrive(t, h, "Harbour pillowcases")
	askForSix(t, h)
	takeInThreeLots(t, h)
	h.open(home + "/plan")
	press(t, h, "Make a plan")
	becomesPlanned(t, h, home+"/plan/1")
	at := metricsOf(t, p)
	var text string
	for end := patience(); ; end.wait(t, text) {
		if _, text = get(t, at, ""); strings.Contains(text, "boltward_ledger_check_differences 0") && strings.Contains(text, `boltward_jobs_total{kind="plan",outcome="done"} 1`) {
			break
		}
	}
	for _, line := range []string{
		`boltward_requests_total{method="GET",route="/healthz",status="200"}`,
		`boltward_requests_total{method="POST",route="/drives/:drive/fabric/tag",status="303"} 3`,
		`boltward_request_seconds_count{method="POST",route="/drives/:drive/fabric/tag"} 3`,
		`boltward_queries_total{route="/drives/:drive/fabric/tag"}`,
		`boltward_query_seconds_count `, `boltward_pool_connections_in_use `, `boltward_pool_waited_total `,
		`boltward_job_seconds_count{kind="plan"} 1`, `boltward_plan_seconds_count 1`, `boltward_plan_gap_ratio_bucket{le="0"} 1`,
		`boltward_database_answers 1`, `boltward_ledger_check_age_seconds `, `go_goroutines `,
	} {
		require.Contains(t, text, line)
	}
	require.NotContains(t, text, "harbour", "nothing of a drive is told")
	code, _ := get(t, p.address+"/metrics", "")
	require.Equal(t, http.StatusNotFound, code, "not among the pages")
	code, _ = get(t, strings.TrimSuffix(at, "/metrics"), "")
	require.Equal(t, http.StatusNotFound, code, "and nothing else there")
}

func TestMetricsAreGuarded(t *testing.T) {
	t.Parallel()
	set, _ := withDatabase(t)
	set["METRICS_ADDR"] = "0.0.0.0:0"
	for _, command := range []string{"serve", "work"} {
		code, _, errs := run(t, set, command)
		require.Equal(t, exitBad, code, errs)
		require.Contains(t, errs, "METRICS_TOKEN")
	}
	const token = "a token of sixteen letters"
	set["METRICS_TOKEN"] = token
	p := launch(t, set, "work")
	there, err := url.Parse(metricsOf(t, p))
	require.NoError(t, err)
	at := "http://127.0.0.1:" + there.Port() + "/metrics"
	for shown, want := range map[string]int{"": http.StatusUnauthorized, "another token of letters": http.StatusUnauthorized, token: http.StatusOK} {
		code, _ := get(t, at, shown)
		require.Equal(t, want, code, "%q", shown)
	}
}

// Whether it is ready is said, and of what is missing only which.
func TestReady(t *testing.T) {
	t.Parallel()
	set, db := withDatabase(t)
	between := newCutter(t, set["DATABASE_URL"])
	set["DATABASE_URL"] = between.urlText
	p := launch(t, set, "serve", "--jobs=false")
	p.answers()
	becomes := func(code int, says string) {
		t.Helper()
		for end := patience(); ; end.wait(t, says) {
			if got, text := get(t, p.address+"/readyz", ""); got == code && text == says {
				return
			}
		}
	}
	becomes(http.StatusOK, "ready\n")
	_, err := db.Owner().Exec(t.Context(), `UPDATE goose_db_version SET version_id = version_id + 1000 WHERE version_id = (SELECT max(version_id) FROM goose_db_version)`)
	require.NoError(t, err)
	becomes(http.StatusServiceUnavailable, "not ready: the database is not prepared for this version of the program\n")
	_, err = db.Owner().Exec(t.Context(), `UPDATE goose_db_version SET version_id = version_id - 1000 WHERE version_id = (SELECT max(version_id) FROM goose_db_version)`)
	require.NoError(t, err)
	becomes(http.StatusOK, "ready\n")
	between.refuse(true)
	becomes(http.StatusServiceUnavailable, "not ready: the database does not answer\n")
	between.refuse(false)
	becomes(http.StatusOK, "ready\n")
}
