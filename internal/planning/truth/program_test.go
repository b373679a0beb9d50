package truth

import (
	"bufio"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"sync"
	"testing"
)

const (
	python = "/usr/bin/python3" // Debian's, which has its own scipy
	shared = "../../../../shared"
)

// programs are the other programs these tests ask, each started once for all of them.
var programs = &others{running: map[string]*other{}}

type others struct {
	mu      sync.Mutex
	running map[string]*other
}

// other is a program that answers each line of JSON with one.
type other struct {
	mu  sync.Mutex
	cmd *exec.Cmd
	in  io.WriteCloser
	out *bufio.Reader
}

// solver gives the general solver, or leaves the test out.
func solver(t *testing.T) *other {
	if exec.Command(python, "-c", "import scipy.optimize").Run() != nil {
		t.Skip("LEFT OUT: the general solver; it needs Debian's python3-scipy.")
	}
	return programs.start(t, python, filepath.Join("testdata", "solver.py"))
}

func (o *others) start(t *testing.T, name string, args ...string) *other {
	o.mu.Lock()
	defer o.mu.Unlock()
	if p := o.running[args[0]]; p != nil {
		return p
	}
	p := &other{cmd: exec.Command(name, args...)}
	p.cmd.Stderr = os.Stderr
	in, err := p.cmd.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	out, err := p.cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := p.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	p.in, p.out = in, bufio.NewReaderSize(out, 1<<20)
	o.running[args[0]] = p
	return p
}

// ask sends one question and reads its answer.
func (p *other) ask(question, answer any) error {
	p.mu.Lock()
	defer p.mu.Unlock()
	if err := json.NewEncoder(p.in).Encode(question); err != nil {
		return fmt.Errorf("ask: %w", err)
	}
	line, err := p.out.ReadBytes('\n')
	if err != nil {
		return fmt.Errorf("read the answer: %w", err)
	}
	return json.Unmarshal(line, answer)
}

// end lets all of them go.
func (o *others) end() error {
	var all []error
	for _, p := range o.running {
		all = append(all, p.in.Close(), p.cmd.Wait())
	}
	return errors.Join(all...)
}
