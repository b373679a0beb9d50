package localpg

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strconv"
	"time"

	embedded "github.com/fergusstrange/embedded-postgres"

	"boltward/internal/apperr"
)

// downloadMajor is what a new database is made with where nothing is installed.
const downloadMajor = 17

// download fetches the programs of Postgres into the data folder, once, from
// the repository or, where that is "", from the library's own.
func download(ctx context.Context, f folder, major int, repository string, log func(string)) (programs, error) {
	if major == 0 {
		major = downloadMajor
	}
	versions := map[int]embedded.PostgresVersion{15: embedded.V15, 16: embedded.V16, 17: embedded.V17, 18: embedded.V18}
	version, offered := versions[major]
	if !offered {
		return programs{}, apperr.Conflict("there is no Postgres %d to download", major)
	}
	target := filepath.Join(f.programs(), strconv.Itoa(major))
	p := programs{filepath.Join(target, "bin"), major}
	if versionOf(ctx, p.path("postgres"), nil) == major {
		return p, nil
	}
	log(fmt.Sprintf("No Postgres is installed here; downloading version %s, once (about 20 MB)…", version))
	work := filepath.Join(f.programs(), "unfinished")
	if err := os.RemoveAll(work); err != nil {
		return programs{}, folderError(f.root, err)
	}
	defer os.RemoveAll(work) // what stays is removed before the next download
	port, err := freePort(0)
	if err != nil {
		return programs{}, err
	}
	config := embedded.DefaultConfig().
		Version(version).
		Port(uint32(port)).
		BinariesPath(filepath.Join(work, "programs")).
		CachePath(filepath.Join(work, "cache")).
		RuntimePath(filepath.Join(work, "run")).
		DataPath(filepath.Join(work, "data")).
		StartParameters(map[string]string{"unix_socket_directories": ""}). // nowhere that may be closed to us
		Logger(io.Discard)                                                 // its failures come back as errors
	if repository != "" {
		config = config.BinaryRepositoryURL(repository)
	}
	if err := startAndStop(ctx, embedded.NewDatabase(config), filepath.Join(work, "data")); err != nil {
		return programs{}, err
	}
	if err := os.Rename(filepath.Join(work, "programs"), target); err != nil {
		return programs{}, folderError(f.root, err)
	}
	return p, nil
}

// startAndStop is the only way in which the library fetches, and it tries the
// programs too. It knows no context: while it only fetches it is left behind
// when ours ends, and once it makes a database it is waited for, so that no
// Postgres is left running.
func startAndStop(ctx context.Context, server *embedded.EmbeddedPostgres, data string) error {
	done := make(chan error, 1)
	go func() {
		if err := server.Start(); err != nil {
			done <- fmt.Errorf("fetch Postgres: %w", err)
			return
		}
		done <- server.Stop()
	}()
	for {
		select {
		case err := <-done:
			return err
		case <-ctx.Done():
			if _, err := os.Stat(data); errors.Is(err, os.ErrNotExist) {
				return context.Cause(ctx)
			}
			time.Sleep(10 * time.Millisecond)
		}
	}
}
