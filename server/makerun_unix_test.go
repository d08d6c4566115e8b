//go:build unix

package main

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"packwright/internal/store"
)

// TestMakeRun does what the README begins with: make run until the app answers,
// then an interrupt. It builds the app, so it runs apart from everything that
// embeds it: make run-test.
func TestMakeRun(t *testing.T) {
	if os.Getenv("PACKWRIGHT_MAKE_RUN") == "" {
		t.Skip("run by make run-test")
	}
	home := t.TempDir()
	cmd := exec.Command("make", "-C", "..", "run", "LISTEN=127.0.0.1:0")
	cmd.Env = append(os.Environ(), "HOME="+home, "XDG_DATA_HOME="+home, "GOCACHE="+goEnv(t, "GOCACHE"), "GOPATH="+goEnv(t, "GOPATH"), "MAKEFLAGS=", "MAKELEVEL=")
	cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true}
	var said bytes.Buffer
	cmd.Stdout, cmd.Stderr = &said, &said
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	up := false
	for start := time.Now(); !up && time.Since(start) < 5*time.Minute; time.Sleep(100 * time.Millisecond) {
		address, locked := store.Locked(filepath.Join(home, "packwright"))
		up = locked && address != "" && answers(address) == nil
	}
	if err := syscall.Kill(-cmd.Process.Pid, syscall.SIGINT); err != nil { // as Ctrl-C does: to make and the server alike
		t.Error(err)
	}
	_ = cmd.Wait() // make reports the interrupt as a failure
	if !up || !strings.Contains(said.String(), "stopped; everything is on the disk") {
		t.Errorf("came up: %v\n%s", up, said.String())
	}
}

func goEnv(t *testing.T, name string) string {
	t.Helper()
	out, err := exec.Command("go", "env", name).Output()
	if err != nil {
		t.Fatal(err)
	}
	return strings.TrimSpace(string(out))
}
