package main

import (
	"errors"
	"os"
	"path/filepath"

	"boltward/internal/apperr"
)

// writeWhole puts a file in its place only when all of it is on the disk, so that a full disk
// leaves an older file as it was. What is no file, a device or a pipe, is written to and stays
// what it is; a link goes on pointing where it did.
func writeWhole(name string, contents []byte) error {
	if real, err := filepath.EvalSymlinks(name); err == nil {
		name = real
	}
	if at, err := os.Stat(name); err == nil && !at.Mode().IsRegular() {
		return writeInto(name, contents)
	}
	file, err := os.CreateTemp(filepath.Dir(name), "."+filepath.Base(name)+".*")
	if err != nil {
		return apperr.Conflict("Cannot write into %s: %v.", filepath.Dir(name), err)
	}
	defer os.Remove(file.Name()) // gone already where it was put in its place
	_, err = file.Write(contents)
	if err = errors.Join(err, file.Sync(), file.Chmod(0o644), file.Close()); err != nil {
		return apperr.Conflict("Cannot write %s: %v.", name, err)
	}
	if err := os.Rename(file.Name(), name); err != nil {
		return apperr.Conflict("Cannot write %s: %v.", name, err)
	}
	return nil
}

func writeInto(name string, contents []byte) error {
	file, err := os.OpenFile(name, os.O_WRONLY, 0)
	if err != nil {
		return apperr.Conflict("Cannot write %s: %v.", name, err)
	}
	_, err = file.Write(contents)
	if err = errors.Join(err, file.Close()); err != nil {
		return apperr.Conflict("Cannot write %s: %v.", name, err)
	}
	return nil
}
