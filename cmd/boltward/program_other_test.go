//go:build !linux

package main

import "os/exec"

func startAndWait(cmd *exec.Cmd, started chan<- error, ended chan<- struct{}) {
	err := cmd.Start()
	started <- err
	if err == nil {
		cmd.Wait() // how it ended is read from its state
		close(ended)
	}
}
