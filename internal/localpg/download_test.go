package localpg

import (
	"archive/zip"
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// useDownload fetches the programs of the major version that is installed too,
// twice, and runs a database with them.
func useDownload(data, repository string) error {
	ctx := context.Background()
	f, err := openFolder(data)
	if err != nil {
		return err
	}
	installed := installedPrograms(ctx, nil)
	for range 2 {
		p, err := download(ctx, f, installed[0].major, repository, func(string) {})
		if err != nil {
			return err
		}
		if err := exec.Command(p.path("initdb"), "--no-sync", "-D", filepath.Join(data, "tried")).Run(); err != nil {
			return err
		}
		if err := os.RemoveAll(filepath.Join(data, "tried")); err != nil {
			return err
		}
	}
	return nil
}

// The repository holds each version as a zip of a tar.xz
// (https://github.com/zonkyio/embedded-postgres-binaries); this one is packed
// from what is installed here, which finds its shared files where they are.
func TestDownload(t *testing.T) {
	if _, err := exec.LookPath("xz"); err != nil {
		t.Skip("xz is needed to pack programs for the test")
	}
	accounts := accounts(t)
	ordinary := accounts[len(accounts)-1]
	installed := installedPrograms(context.Background(), nil)
	require.NotEmpty(t, installed)

	archive := filepath.Join(t.TempDir(), "postgres.txz")
	pack := exec.Command("tar", "-cJf", archive, "--exclude=bitcode", "--exclude=llvmjit*",
		"-C", filepath.Dir(installed[0].dir), "bin", "lib")
	pack.Env = append(os.Environ(), "XZ_OPT=-0")
	out, err := pack.CombinedOutput()
	require.NoError(t, err, "%s", out)
	inner, err := os.ReadFile(archive)
	require.NoError(t, err)
	var jar bytes.Buffer
	z := zip.NewWriter(&jar)
	w, err := z.Create("postgres-linux.txz")
	require.NoError(t, err)
	_, err = w.Write(inner)
	require.NoError(t, err)
	require.NoError(t, z.Close())
	sum := sha256.Sum256(jar.Bytes())

	var asked []string
	damaged := false
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		asked = append(asked, r.URL.Path)
		if strings.HasSuffix(r.URL.Path, ".sha256") {
			w.Write([]byte(hex.EncodeToString(sum[:])))
			return
		}
		if damaged {
			w.Write(jar.Bytes()[1:])
			return
		}
		w.Write(jar.Bytes())
	}))
	defer server.Close()

	data := ordinary.folder(t)
	env := []string{dataVariable + "_REPOSITORY=" + server.URL, "TMPDIR=" + ordinary.folder(t)}
	damaged = true
	require.Contains(t, ordinary.refused(t, data, env...), "checksums do not match")
	damaged, asked = false, nil
	p := ordinary.begin(t, data, env...)
	p.waitFirst()
	require.Equal(t, "downloaded", p.first)
	require.NoError(t, p.cmd.Wait())
	require.Len(t, asked, 2, "the second time nothing is fetched")
	require.NoDirExists(t, filepath.Join(data, "postgres-programs", "unfinished"))
}
