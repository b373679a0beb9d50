package main

import (
	"bufio"
	"bytes"
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"encoding/pem"
	"io"
	"math/big"
	"net"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"filippo.io/age"
	"github.com/stretchr/testify/require"

	"boltward/internal/pgtest"
)

// testEnv gives an Env with these settings and a database and data folder of its own.
func testEnv(t *testing.T, settings map[string]string) (Env, *lockedBuffer, *lockedBuffer) {
	t.Helper()
	values := map[string]string{"DATABASE_URL": pgtest.New(t).URL, "BOLTWARD_DATA": t.TempDir(), "PORT": "0"}
	for name, value := range settings {
		values[name] = value
	}
	out, errs := &lockedBuffer{}, &lockedBuffer{}
	return Env{
		Stdin: strings.NewReader(""), Stdout: out, Stderr: errs,
		Getenv: func(name string) string { return values[name] }, Now: time.Now,
	}, out, errs
}

// started runs serve until the test ends and gives what it says line by line.
func started(t *testing.T, env Env) (lines *bufio.Scanner, stop func() error) {
	t.Helper()
	out, in := io.Pipe()
	env.Stdout = in
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() {
		err := runServe(ctx, env, nil)
		in.CloseWithError(io.EOF)
		ended <- err
	}()
	stopped := false
	stop = func() error {
		if stopped {
			return nil
		}
		stopped = true
		cancel()
		return <-ended
	}
	t.Cleanup(func() { require.NoError(t, stop()) })
	return bufio.NewScanner(out), stop
}

var anAddress = regexp.MustCompile(`https?://\S+`)

func TestServeLetsTheFirstOrganiserIn(t *testing.T) {
	env, _, errs := testEnv(t, nil)
	lines, stop := started(t, env)
	require.True(t, lines.Scan(), "serve says where it is; it said %s", errs)
	address := anAddress.FindString(lines.Text())
	require.True(t, lines.Scan(), "then that nobody can sign in")
	require.True(t, lines.Scan(), "then the link")
	link := anAddress.FindString(lines.Text())
	require.True(t, strings.HasPrefix(link, address+"/sign-in/link/"), "%q begins with %q", link, address)

	jar, err := cookiejar.New(nil)
	require.NoError(t, err)
	browser := &http.Client{Jar: jar}
	answer, err := browser.PostForm(link, url.Values{"name": {"Rosa Lind"}, "email": {"rosa@example.org"}, "password": {"heron lamp seventeen"}})
	require.NoError(t, err)
	page, err := io.ReadAll(answer.Body)
	require.NoError(t, err)
	require.NoError(t, answer.Body.Close())
	require.Contains(t, string(page), "Welcome, Rosa Lind")
	answer, err = browser.Get(address + "/readyz")
	require.NoError(t, err)
	require.NoError(t, answer.Body.Close())
	require.Equal(t, http.StatusOK, answer.StatusCode)
	require.NoError(t, stop(), "it ends in order")
	require.NotContains(t, errs.String(), link[strings.LastIndex(link, "/")+1:], "the link is in no log")
}

func TestServeOverTLS(t *testing.T) {
	cert, key := selfSigned(t)
	env, _, errs := testEnv(t, map[string]string{"TLS_CERT": cert, "TLS_KEY": key})
	lines, _ := started(t, env)
	require.True(t, lines.Scan(), "serve says where it is; it said %s", errs)
	address := anAddress.FindString(lines.Text())
	require.True(t, strings.HasPrefix(address, "https://"), address)
	// It goes on talking: nobody would read it otherwise.
	go func() {
		for lines.Scan() {
		}
	}()
	text, err := os.ReadFile(cert)
	require.NoError(t, err)
	roots := x509.NewCertPool()
	require.True(t, roots.AppendCertsFromPEM(text))
	browser := &http.Client{Transport: &http.Transport{TLSClientConfig: &tls.Config{RootCAs: roots}}}
	defer browser.CloseIdleConnections()
	answer, err := browser.Get(address + "/sign-in")
	require.NoError(t, err)
	require.NoError(t, answer.Body.Close())
	require.Equal(t, http.StatusOK, answer.StatusCode)
}

func TestServeSaysWhyNot(t *testing.T) {
	taken, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	defer taken.Close()
	_, port, err := net.SplitHostPort(taken.Addr().String())
	require.NoError(t, err)
	for name, test := range map[string]struct {
		settings map[string]string
		code     int
		says     string
	}{
		"taken port":    {map[string]string{"PORT": port}, exitFailed, "Another program listens at 127.0.0.1:" + port},
		"no port":       {map[string]string{"PORT": "eighty"}, exitBad, "PORT: It is a number"},
		"half of TLS":   {map[string]string{"TLS_CERT": "cert.pem"}, exitBad, "needs both"},
		"odd address":   {map[string]string{"BOLTWARD_URL": "drive.example.org"}, exitBad, "BOLTWARD_URL: It is the start"},
		"with a path":   {map[string]string{"BOLTWARD_URL": "https://example.org/drive"}, exitBad, "without a path"},
		"bad key":       {map[string]string{"BOLTWARD_KEY": "secret"}, exitBad, "64 hexadecimal digits"},
		"not ours":      {map[string]string{"HOST": "192.0.2.1"}, exitFailed, "This machine has no address"},
		"with a port":   {map[string]string{"HOST": "127.0.0.1:8080"}, exitBad, "HOST: It is one address of this machine, without a port"},
		"in brackets":   {map[string]string{"HOST": "[::1]"}, exitBad, "HOST: "},
		"no interface":  {map[string]string{"HOST": "fe80::1%nowhere"}, exitBad, "HOST: "},
		"no port there": {map[string]string{"METRICS_ADDR": "127.0.0.1:metrics"}, exitBad, "METRICS_ADDR: It is an address"},
		"odd metrics":   {map[string]string{"METRICS_ADDR": "127.0.0.1.1:0", "METRICS_TOKEN": "0123456789abcdef"}, exitBad, "METRICS_ADDR: It is an address"},
		"odd proxy":     {map[string]string{"BOLTWARD_PROXIES": "nearby"}, exitBad, "BOLTWARD_PROXIES"},
		"no such files": {map[string]string{"TLS_CERT": "/nowhere/cert.pem", "TLS_KEY": "/nowhere/key.pem"}, exitBad, "TLS_CERT"},
	} {
		t.Run(name, func(t *testing.T) {
			env, out, errs := testEnv(t, test.settings)
			env.Args = []string{"serve"}
			require.Equal(t, test.code, dispatch(context.Background(), env, commands()), "it said %s", errs)
			require.Contains(t, errs.String(), test.says)
			require.Equal(t, 1, strings.Count(strings.TrimSpace(errs.String()), "\n")+1, "one clear sentence: %s", errs)
			require.Empty(t, out.String())
		})
	}
}

// A key that is none is told before a database is started for it, with what else is set wrongly.
func TestAWrongKeyIsToldFirst(t *testing.T) {
	recipient, err := age.GenerateX25519Identity()
	require.NoError(t, err)
	for _, args := range [][]string{
		{"serve"},
		{"user", "add", "--name", "Rosa Quill", "--email", "rosa@example.org"},
		{"user", "link", "--email", "rosa@example.org"},
		{"print", "kit-cards", "--drive", "spring", "--out", "cards.pdf"},
		{"print", "delivery-note", "--drive", "spring", "--delivery", "1", "--out", "note.pdf"},
		{"backup", "drive.boltward", "--recipient", recipient.Recipient().String()},
		{"restore", "drive.boltward"},
	} {
		values := map[string]string{"BOLTWARD_DATA": filepath.Join(t.TempDir(), "var"), "BOLTWARD_KEY": "secret", "PORT": "0"}
		var out, errs bytes.Buffer
		env := Env{Args: args, Stdin: strings.NewReader(""), Stdout: &out, Stderr: &errs, Getenv: func(name string) string { return values[name] }, Now: time.Now}
		require.Equal(t, exitBad, dispatch(t.Context(), env, commands()), "%v: %s", args, &errs)
		require.Contains(t, errs.String(), "64 hexadecimal digits", "%v", args)
		require.NoDirExists(t, values["BOLTWARD_DATA"], "%v: nothing was started", args)
		values["PORT"] = "eighty"
		errs.Reset()
		if args[0] == "serve" {
			require.Equal(t, exitBad, dispatch(t.Context(), env, commands()))
			require.Contains(t, errs.String(), "PORT: It is a number")
			require.Contains(t, errs.String(), "BOLTWARD_KEY: It is 64 hexadecimal digits")
		}
	}
}

func TestSecondServeOnTheSameData(t *testing.T) {
	values := map[string]string{"BOLTWARD_DATA": t.TempDir(), "PORT": "0"}
	errs := &lockedBuffer{}
	env := Env{Stdin: strings.NewReader(""), Stderr: errs, Getenv: func(name string) string { return values[name] }, Now: time.Now}
	lines, _ := started(t, env)
	require.True(t, lines.Scan(), "serve says where it is; it said %s", errs)
	address := anAddress.FindString(lines.Text())
	require.True(t, lines.Scan(), "then that nobody can sign in")
	require.True(t, lines.Scan(), "then the link")

	var out, second bytes.Buffer
	env.Args, env.Stdout, env.Stderr = []string{"serve"}, &out, &second
	require.Equal(t, exitFailed, dispatch(context.Background(), env, commands()))
	require.Contains(t, second.String(), "already serves")
	require.Contains(t, second.String(), address)
	info, err := os.Stat(filepath.Join(values["BOLTWARD_DATA"], "key"))
	require.NoError(t, err)
	require.Equal(t, os.FileMode(0o600), info.Mode().Perm())
}

func selfSigned(t *testing.T) (certFile, keyFile string) {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	require.NoError(t, err)
	template := &x509.Certificate{
		SerialNumber: big.NewInt(1), NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(time.Hour),
		IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)}, IsCA: true, BasicConstraintsValid: true, KeyUsage: x509.KeyUsageDigitalSignature | x509.KeyUsageCertSign,
	}
	cert, err := x509.CreateCertificate(rand.Reader, template, template, &key.PublicKey, key)
	require.NoError(t, err)
	private, err := x509.MarshalPKCS8PrivateKey(key)
	require.NoError(t, err)
	certFile, keyFile = filepath.Join(t.TempDir(), "cert.pem"), filepath.Join(t.TempDir(), "key.pem")
	require.NoError(t, os.WriteFile(certFile, pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: cert}), 0o600))
	require.NoError(t, os.WriteFile(keyFile, pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: private}), 0o600))
	return certFile, keyFile
}
