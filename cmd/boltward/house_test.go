package main

import (
	"context"
	"encoding/json"
	"errors"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/compose-spec/compose-go/v2/loader"
	"github.com/compose-spec/compose-go/v2/types"
	"github.com/stretchr/testify/require"
)

// arrows says which of our packages each package may import; the two long
// ones, cmd and site, may import all that their line leaves out.
var arrows = map[string][]string{
	"internal/length":    {},
	"internal/photo":     {"apperr"},
	"internal/apperr":    {},
	"internal/sizing":    {"length", "apperr"},
	"internal/cutting":   {},
	"internal/planning":  {"cutting", "planning", "apperr"},
	"internal/drive":     {"planning", "cutting", "sizing", "length", "apperr"},
	"internal/forecast":  {},
	"internal/outlook":   {"drive", "forecast"},
	"internal/account":   {"apperr"},
	"internal/task":      {},
	"internal/postgres":  {"drive", "account", "task", "planning", "cutting", "sizing", "length", "apperr"},
	"internal/workbook":  {"drive", "sizing", "length", "apperr"},
	"internal/paper":     {"drive", "planning", "cutting", "sizing", "length", "words", "apperr", "web"},
	"internal/mail":      {"drive", "words", "apperr"},
	"internal/words":     {},
	"internal/backup":    {"apperr", "drive", "postgres", "migrations"},
	"internal/jobs":      {"apperr", "drive", "outlook", "postgres", "task", "planning", "workbook", "paper", "mail", "backup", "words"},
	"internal/site":      {"length", "apperr", "sizing", "cutting", "planning", "drive", "forecast", "outlook", "account", "task", "postgres", "workbook", "paper", "mail", "words", "backup", "photo"},
	"internal/metrics":   {},
	"internal/load":      {"localpg"},
	"internal/localpg":   {"apperr"},
	"internal/pgtest":    {"localpg"},
	"internal/papertest": {},
	"migrations":         {"apperr", "task"},
	"templates":          {},
	"web":                {},
	"testdata/demo":      {},
	"cmd/boltward":       nil,
}

// pure packages know neither the web nor the database.
var pure = []string{"internal/length", "internal/apperr", "internal/sizing", "internal/cutting", "internal/planning", "internal/drive", "internal/forecast", "internal/outlook", "internal/account", "internal/task", "internal/photo"}

type listed struct {
	ImportPath string
	Imports    []string
}

// familyOf gives the row of arrows a package falls under: itself or its parent.
func familyOf(path string) (string, bool) {
	for p := strings.TrimPrefix(path, "boltward/"); p != "."; p = filepath.Dir(p) {
		if _, ok := arrows[p]; ok {
			return p, true
		}
	}
	return "", false
}

func packages(t *testing.T) []listed {
	t.Helper()
	out, err := exec.Command("go", "list", "-json=ImportPath,Imports", "boltward/...").Output()
	require.NoError(t, err)
	var all []listed
	for dec := json.NewDecoder(strings.NewReader(string(out))); ; {
		var p listed
		err := dec.Decode(&p)
		if errors.Is(err, io.EOF) {
			break
		}
		require.NoError(t, err)
		all = append(all, p)
	}
	require.Greater(t, len(all), 10, "go list found the packages")
	return all
}

// TestArrows holds the imports between packages to the table in DEVELOPERS.md.
func TestArrows(t *testing.T) {
	for _, p := range packages(t) {
		family, known := familyOf(p.ImportPath)
		require.True(t, known, "%s has no row in the table of packages", p.ImportPath)
		for _, imported := range p.Imports {
			if slices.Contains(pure, family) {
				require.False(t, strings.HasPrefix(imported, "github.com/gin-gonic") || strings.HasPrefix(imported, "github.com/jackc/pgx"),
					"%s is pure and imports %s", p.ImportPath, imported)
			}
			if !strings.HasPrefix(imported, "boltward/") || family == "cmd/boltward" {
				continue
			}
			target, _ := familyOf(imported)
			short := strings.TrimPrefix(target, "internal/")
			allowed := slices.Contains(arrows[family], short) || target == family ||
				(family == "internal/site" && (target == "templates" || target == "web")) ||
				(family == "internal/pgtest" && target == "migrations")
			require.True(t, allowed, "%s may not import %s", p.ImportPath, imported)
		}
	}
}

// TestTopLevel: somebody who opens the project finds what architecture names and nothing else.
func TestTopLevel(t *testing.T) {
	out, err := exec.Command("git", "-C", "../..", "ls-files").Output()
	if err != nil {
		t.Skip("not a git checkout")
	}
	want := []string{".ci", ".gitignore", "DEVELOPERS.md", "LICENSE", "Makefile", "README.md", "cmd", "docker-compose.yml", "go.mod", "go.sum", "internal", "migrations", "templates", "testdata", "web"}
	for _, name := range strings.Fields(string(out)) {
		top, _, _ := strings.Cut(name, "/")
		require.Contains(t, want, top, "top level holds %s", top)
	}
}

// TestCompose reads docker-compose.yml as a container engine would.
func TestCompose(t *testing.T) {
	text, err := os.ReadFile("../../docker-compose.yml")
	require.NoError(t, err)
	project, err := loader.LoadWithContext(context.Background(), types.ConfigDetails{
		WorkingDir:  "../..",
		ConfigFiles: []types.ConfigFile{{Filename: "docker-compose.yml", Content: text}},
		Environment: map[string]string{"BOLTWARD_KEY": strings.Repeat("ab", 32), "OWNER_PASSWORD": "one", "SERVER_PASSWORD": "two"},
	})
	require.NoError(t, err)
	require.ElementsMatch(t, []string{"postgres", "migrate", "web-1", "web-2", "worker"}, project.ServiceNames())
	for _, name := range []string{"migrate", "web-1", "web-2", "worker"} {
		service, err := project.GetService(name)
		require.NoError(t, err)
		known := false
		for _, c := range commands() {
			known = known || c.name == service.Command[0]
		}
		require.True(t, known, "%s runs the command %s", name, service.Command[0])
		if name != "migrate" {
			require.NotNil(t, service.StopGracePeriod, "%s: engines kill after ten seconds where nothing else is said", name)
			require.Greater(t, time.Duration(*service.StopGracePeriod), endingTime+lettingGo, "%s has the time that it takes to stop", name)
		}
		require.Contains(t, service.DependsOn, map[bool]string{true: "postgres", false: "migrate"}[name == "migrate"])
	}
	migrate, err := project.GetService("migrate")
	require.NoError(t, err)
	require.Contains(t, migrate.Build.DockerfileInline, "./cmd/boltward")

	_, err = loader.LoadWithContext(context.Background(), types.ConfigDetails{
		WorkingDir:  "../..",
		ConfigFiles: []types.ConfigFile{{Filename: "docker-compose.yml", Content: text}},
		Environment: map[string]string{},
	})
	require.Error(t, err, "no password has a default")
}
