// Package tinydisk gives tests a disk of their own that is soon full. Only tests
// import it.
package tinydisk

import (
	"errors"
	"fmt"
	"os"
	"testing"
	"time"

	"golang.org/x/sys/unix"
)

// MayMount skips a test where this user, or the container it runs in, may not
// mount: no machine can be made to. Anything else that is missing fails the test.
func MayMount(t testing.TB) {
	t.Helper()
	dir := t.TempDir()
	err := unix.Mount("tmpfs", dir, "tmpfs", 0, "size=1m")
	if errors.Is(err, unix.EPERM) || errors.Is(err, unix.EACCES) {
		t.Skip("NOT CHECKED here, mounting is not permitted: what a full disk and a power cut do")
	}
	if err == nil {
		err = unix.Unmount(dir, unix.MNT_DETACH)
	}
	if err != nil {
		t.Fatal(err)
	}
}

// Mount gives the folder of a memory disk of some MiB, until the test ends.
func Mount(t testing.TB, mib int) string {
	t.Helper()
	MayMount(t)
	dir := t.TempDir()
	if err := unix.Mount("tmpfs", dir, "tmpfs", 0, fmt.Sprintf("size=%dm", mib)); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := unix.Unmount(dir, unix.MNT_DETACH); err != nil {
			t.Error(err)
		}
	})
	return dir
}

// Fill writes a file until nothing is left on its disk, with a pause after each MiB.
func Fill(t testing.TB, path string, pause time.Duration) {
	t.Helper()
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_APPEND, 0o600)
	if err != nil {
		t.Fatal(err)
	}
	for chunk := make([]byte, 1<<20); len(chunk) > 0; {
		if _, err := f.Write(chunk); err != nil {
			chunk = chunk[:len(chunk)/2]
		}
		time.Sleep(pause)
	}
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
}
