package main

import (
	"os/exec"
	"runtime"
	"syscall"
)

// startAndWait ends the program with the test run, however that ends. The
// system ties this to the thread that started it, which is therefore kept.
func startAndWait(cmd *exec.Cmd, started chan<- error, ended chan<- struct{}) {
	runtime.LockOSThread()
	defer runtime.UnlockOSThread()
	cmd.SysProcAttr.Pdeathsig = syscall.SIGKILL
	err := cmd.Start()
	started <- err
	if err == nil {
		cmd.Wait() // how it ended is read from its state
		close(ended)
	}
}
