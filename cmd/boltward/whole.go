package main

import (
	"bufio"
	"crypto/rand"
	"errors"
	"io"
	"os"
	"path/filepath"

	"boltward/internal/apperr"
)

// writeWhole puts a file in its place only when all of it is on the disk, so that a full disk
// leaves an older file as it was. What is no file, a device or a pipe, is written to and stays
// what it is; a link goes on pointing where it did. Who may read a file that is there stays as it
// is; a new one is read by whom the umask lets.
func writeWhole(name string, contents []byte) error {
	return writeWholeBy(name, func(w io.Writer) error {
		_, err := w.Write(contents)
		return err
	})
}

// writeWholeBy does the same with what a function writes.
func writeWholeBy(name string, write func(io.Writer) error) error {
	if real, err := filepath.EvalSymlinks(name); err == nil {
		name = real
	}
	old, err := os.Stat(name)
	if err == nil && !old.Mode().IsRegular() {
		return writeInto(name, write)
	}
	there := err == nil
	// No more may read it than the umask says: lists hold addresses and phones.
	file, err := os.OpenFile(filepath.Join(filepath.Dir(name), "."+filepath.Base(name)+"."+rand.Text()), os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o666)
	if err != nil {
		return apperr.Conflict("Cannot write into %s: %v.", filepath.Dir(name), err)
	}
	defer os.Remove(file.Name()) // gone already where it was put in its place
	if there {
		err = file.Chmod(old.Mode().Perm())
	}
	out := bufio.NewWriterSize(file, 1<<16)
	if err = errors.Join(err, write(out), out.Flush(), file.Sync(), file.Close()); err != nil {
		return apperr.Conflict("Cannot write %s: %v.", name, err)
	}
	if err := os.Rename(file.Name(), name); err != nil {
		return apperr.Conflict("Cannot write %s: %v.", name, err)
	}
	return nil
}

// mayWrite refuses a file, by the flag that names it, for which there is no folder: before what
// is to go into it is worked out, or done. No name is no file.
func mayWrite(flag, name string) error {
	if name == "" {
		return nil
	}
	if folder, err := os.Stat(filepath.Dir(name)); err != nil || !folder.IsDir() {
		return apperr.Invalid(flag, "There is no folder %s to write it to.", filepath.Dir(name))
	}
	return nil
}

func writeInto(name string, write func(io.Writer) error) error {
	file, err := os.OpenFile(name, os.O_WRONLY, 0)
	if err != nil {
		return apperr.Conflict("Cannot write %s: %v.", name, err)
	}
	out := bufio.NewWriterSize(file, 1<<16)
	if err = errors.Join(write(out), out.Flush(), file.Close()); err != nil {
		return apperr.Conflict("Cannot write %s: %v.", name, err)
	}
	return nil
}
