package localpg

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"syscall"
	"time"
)

// The keeper stops Postgres when all its users were killed. It reads a FIFO of
// which every user holds the writing end open, so the system tells it when the
// last is gone, however that ended. A signal on the death of the parent would
// not do: the process that started Postgres may end long before the others.
//
// It is told "pid N" and "sockets FOLDER" at the start, and "stopped" once all
// is done and nothing is left for it to do. It signals only the process that
// the lock file names.
const keeperScript = `
database=$1 signal=$2 remove=$3 pid= sockets= seen= tries=0
while read -r word value; do
  case $word in
    pid) pid=$value ;;
    sockets) sockets=$value ;;
    stopped) exit 0 ;;
  esac
done
while [ -n "$pid" ] && [ "$tries" -lt 1200 ] && kill -0 "$pid" 2>/dev/null; do
  if [ "$(head -n 1 "$database/postmaster.pid" 2>/dev/null)" = "$pid" ]; then
    seen=yes
    kill -s "$signal" "$pid"
  elif [ -n "$seen" ] || [ "$tries" -gt 40 ]; then
    break
  fi
  tries=$((tries + 1))
  sleep 0.05
done
if [ -n "$sockets" ]; then
  rm -f "$sockets"/.s.PGSQL.*
  rmdir "$sockets"
fi
tries=0
while [ -n "$remove" ] && [ "$tries" -lt 100 ] && ! rm -rf "$remove"; do
  tries=$((tries + 1))
  sleep 0.05
done
`

// openKeeper gives a writing end of the keeper's FIFO: of a fresh keeper where
// we are alone, else of the one that others started, or of another on the same
// FIFO where that one was killed.
func openKeeper(f folder, fresh, throwaway bool) (*os.File, error) {
	if !fresh {
		fd, err := syscall.Open(f.fifo(), syscall.O_WRONLY|syscall.O_NONBLOCK|syscall.O_CLOEXEC, 0)
		if err == nil {
			return os.NewFile(uintptr(fd), f.fifo()), nil
		}
		if !errors.Is(err, syscall.ENXIO) {
			return nil, fmt.Errorf("open %s: %w", f.fifo(), err)
		}
		return startKeeper(f, throwaway)
	}
	// Never the FIFO of an earlier keeper, which may be finishing its work still.
	if err := os.Remove(f.fifo()); err != nil && !errors.Is(err, os.ErrNotExist) {
		return nil, folderError(f.root, err)
	}
	if err := syscall.Mkfifo(f.fifo(), 0o600); err != nil {
		return nil, folderError(f.root, err)
	}
	return startKeeper(f, throwaway)
}

func startKeeper(f folder, throwaway bool) (*os.File, error) {
	// The reading end is opened first and without waiting, since a writing end
	// opened before it would wait for it; then it must wait again, for the shell.
	fd, err := syscall.Open(f.fifo(), syscall.O_RDONLY|syscall.O_NONBLOCK|syscall.O_CLOEXEC, 0)
	if err != nil {
		return nil, fmt.Errorf("open %s: %w", f.fifo(), err)
	}
	read := os.NewFile(uintptr(fd), f.fifo())
	defer read.Close()
	write, err := os.OpenFile(f.fifo(), os.O_WRONLY, 0)
	if err != nil {
		return nil, fmt.Errorf("open %s: %w", f.fifo(), err)
	}
	if err := syscall.SetNonblock(fd, false); err != nil {
		return nil, errors.Join(fmt.Errorf("open %s: %w", f.fifo(), err), write.Close())
	}

	signal, remove := "INT", ""
	if throwaway {
		signal, remove = "QUIT", f.root
	}
	cmd := exec.Command("/bin/sh", "-c", keeperScript, "boltward-keeper", f.database(), signal, remove)
	cmd.Stdin = read
	cmd.Dir = "/"
	cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true}
	if err := cmd.Start(); err != nil {
		return nil, errors.Join(fmt.Errorf("start the keeper of the database: %w", err), write.Close())
	}
	go cmd.Wait() // only so that it leaves no zombie; it tells nothing
	return write, nil
}

func tellKeeper(write *os.File, p postmaster) error {
	if _, err := fmt.Fprintf(write, "pid %d\nsockets %s\n", p.pid, p.sockets); err != nil {
		return fmt.Errorf("tell the keeper of the database: %w", err)
	}
	return nil
}

// dismissKeeper ends the keeper of a Postgres that was stopped, and waits until
// it is gone.
func dismissKeeper(ctx context.Context, f folder, write *os.File) error {
	_, err := fmt.Fprintln(write, "stopped")
	if err != nil && !errors.Is(err, syscall.EPIPE) { // EPIPE: it was killed
		return errors.Join(fmt.Errorf("dismiss the keeper of the database: %w", err), write.Close())
	}
	if err := write.Close(); err != nil {
		return fmt.Errorf("dismiss the keeper of the database: %w", err)
	}
	for {
		fd, err := syscall.Open(f.fifo(), syscall.O_WRONLY|syscall.O_NONBLOCK|syscall.O_CLOEXEC, 0)
		if err != nil { // nobody reads any more
			return nil
		}
		syscall.Close(fd)
		if err := pause(ctx, time.Millisecond); err != nil {
			return fmt.Errorf("wait for the keeper of the database: %w", err)
		}
	}
}
