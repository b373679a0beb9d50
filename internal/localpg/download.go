package localpg

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strconv"

	embedded "github.com/fergusstrange/embedded-postgres"

	"boltward/internal/apperr"
)

// downloadMajor is what a new database is made with where nothing is installed.
const downloadMajor = 17

// download fetches the programs of Postgres into the data folder, once. The
// library offers only a whole start of its own, so it starts and stops one with
// a database folder that is thrown away.
func download(ctx context.Context, f folder, major int, log func(string)) (programs, error) {
	if major == 0 {
		major = downloadMajor
	}
	versions := map[int]embedded.PostgresVersion{15: embedded.V15, 16: embedded.V16, 17: embedded.V17, 18: embedded.V18}
	version, offered := versions[major]
	if !offered {
		return programs{}, apperr.Conflict("there is no Postgres %d to download", major)
	}
	target := filepath.Join(f.binaries(), strconv.Itoa(major))
	p := programs{filepath.Join(target, "bin"), major}
	if versionOf(ctx, p.path("postgres"), nil) == major {
		return p, nil
	}
	log(fmt.Sprintf("No Postgres is installed here; downloading version %s, once (about 20 MB)…", version))
	work := filepath.Join(f.binaries(), "work")
	if err := os.RemoveAll(target); err != nil {
		return programs{}, folderError(f.root, err)
	}
	defer os.RemoveAll(work)
	port, err := freePort(0)
	if err != nil {
		return programs{}, err
	}
	server := embedded.NewDatabase(embedded.DefaultConfig().
		Version(version).
		Port(uint32(port)).
		BinariesPath(target).
		CachePath(filepath.Join(work, "cache")).
		RuntimePath(filepath.Join(work, "run")).
		DataPath(filepath.Join(work, "data")).
		Logger(io.Discard))
	if err := server.Start(); err != nil {
		return programs{}, errors.Join(fmt.Errorf("download Postgres: %w", err), os.RemoveAll(target))
	}
	if err := server.Stop(); err != nil {
		return programs{}, fmt.Errorf("stop the downloaded Postgres: %w", err)
	}
	return p, nil
}
