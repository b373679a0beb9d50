package main

import (
	"fmt"
	"os/exec"
	"sync"
	"testing"
	"time"

	"boltward/internal/pgtest"
)

// demoOf holds, by the day on which it was loaded, the way to copies of a database
// into which the program has loaded the demo drive.
var demoOf sync.Map

// demoDatabase gives a copy of it, as it is loaded today.
func demoDatabase(t testing.TB) *pgtest.DB {
	t.Helper()
	copies, _ := demoOf.LoadOrStore(time.Now().UTC().Format(time.DateOnly), pgtest.Filled(fillWithDemo))
	return copies.(func(testing.TB) *pgtest.DB)(t)
}

func fillWithDemo(url string) error {
	binary, err := built()
	if err != nil {
		return err
	}
	cmd := exec.Command(binary, "demo")
	cmd.Env = settings{"DATABASE_URL": url}.list()
	if out, err := cmd.CombinedOutput(); err != nil {
		return fmt.Errorf("load the demo drive: %w: %s", err, out)
	}
	return nil
}

// demoSettings gives settings with a database of the test's own in which the demo drive is.
func demoSettings(t testing.TB) settings {
	t.Helper()
	return settings{"DATABASE_URL": demoDatabase(t).URL, "BOLTWARD_DATA": t.TempDir(), "PORT": "0"}
}

// withDemo gives the real program with the demo drive loaded, and its organiser
// signed in without a browser.
func withDemo(t testing.TB) (*program, *plain) {
	t.Helper()
	p := serving(t, demoSettings(t))
	h := newPlain(t, p.address)
	organiser(t, h, p)
	return p, h
}
