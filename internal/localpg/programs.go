package localpg

import (
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"boltward/internal/apperr"
)

// oldest is the oldest major version of Postgres that the schema works on.
const oldest = 15

// programs are those of one Postgres.
type programs struct {
	dir   string
	major int
}

func (p programs) path(name string) string { return filepath.Join(p.dir, name) }

// usualPlaces are where packages put Postgres that do not put it on PATH:
// Debian and Ubuntu, Fedora and PGDG, Alpine, from source, Homebrew on Apple
// and Intel, Postgres.app.
func usualPlaces() []string {
	return []string{
		"/usr/lib/postgresql/*/bin",
		"/usr/pgsql-*/bin",
		"/usr/libexec/postgresql*",
		"/usr/local/pgsql/bin",
		"/opt/homebrew/opt/postgresql*/bin",
		"/usr/local/opt/postgresql*/bin",
		"/home/linuxbrew/.linuxbrew/opt/postgresql*/bin",
		"/Applications/Postgres.app/Contents/Versions/*/bin",
	}
}

// findPrograms gives programs of the major version, or where that is 0 those on
// PATH, else the newest; 15 or newer in any case. Where there are none and we
// are not root they are downloaded.
func findPrograms(ctx context.Context, f folder, acct *account, major int, log func(string)) (programs, error) {
	found := installedPrograms(ctx, acct)
	if ctx.Err() != nil {
		return programs{}, context.Cause(ctx)
	}
	for _, p := range found {
		if p.major >= oldest && (major == 0 || p.major == major) {
			return p, nil
		}
	}
	if acct == nil {
		p, err := download(ctx, f, major, "", log)
		if err == nil || ctx.Err() != nil {
			return p, err
		}
		log("Postgres could not be downloaded: " + err.Error())
	}
	have := "none"
	if len(found) > 0 {
		var list []string
		for _, p := range found {
			list = append(list, strconv.Itoa(p.major))
		}
		have = strings.Join(slices.Compact(list), ", ")
	}
	if major != 0 {
		return programs{}, apperr.Conflict("The database in %s was made by Postgres %d, which is not installed here (found: %s): install Postgres %d, or choose another data folder with BOLTWARD_DATA.", f.database(), major, have, major)
	}
	return programs{}, apperr.Conflict("No Postgres %d or newer is installed here (found: %s): install it (on Debian and Ubuntu: apt install postgresql), or set DATABASE_URL.", oldest, have)
}

// installedPrograms lists what is on PATH first, then what is in the usual
// places, the newest first.
func installedPrograms(ctx context.Context, acct *account) []programs {
	var dirs []string
	for _, dir := range filepath.SplitList(os.Getenv("PATH")) {
		// A link on PATH leads to a folder that has initdb and the rest too.
		if real, err := filepath.EvalSymlinks(filepath.Join(dir, "postgres")); err == nil && filepath.IsAbs(real) {
			dirs = append(dirs, filepath.Dir(real))
		}
	}
	onPath := len(dirs)
	for _, pattern := range usualPlaces() {
		matches, err := filepath.Glob(pattern)
		if err != nil {
			panic("malformed pattern " + pattern)
		}
		dirs = append(dirs, matches...)
	}
	var first, rest []programs
	for i, dir := range dirs {
		if slices.Index(dirs, dir) < i {
			continue
		}
		major := versionOf(ctx, filepath.Join(dir, "postgres"), acct)
		if _, err := os.Stat(filepath.Join(dir, "initdb")); err != nil || major == 0 {
			continue
		}
		if p := (programs{dir, major}); i < onPath {
			first = append(first, p)
		} else {
			rest = append(rest, p)
		}
	}
	slices.SortStableFunc(rest, func(a, b programs) int { return b.major - a.major })
	return append(first, rest...)
}

// versionOf runs the program as the account that is going to, and gives its
// major version; 0 where it is not there or will not run.
func versionOf(ctx context.Context, path string, acct *account) int {
	if _, err := os.Stat(path); err != nil {
		return 0
	}
	cmd := exec.CommandContext(ctx, path, "--version")
	acct.command(cmd)
	out, err := cmd.Output()
	if err != nil {
		return 0
	}
	m := regexp.MustCompile(`\(PostgreSQL\) (\d+)`).FindSubmatch(out)
	if m == nil {
		return 0
	}
	major, err := strconv.Atoi(string(m[1]))
	if err != nil {
		return 0
	}
	return major
}
