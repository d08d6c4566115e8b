package keydir

import (
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"syscall"
	"testing"

	"packwright/internal/problem"
)

func wantKind(t *testing.T, err error, want problem.Kind, say string) {
	t.Helper()
	p, ok := problem.As(err)
	if !ok || p.Kind != want || p.Hint == "" || !strings.Contains(err.Error(), say) {
		t.Errorf("%v, want %s with %q", err, want, say)
	}
}

func TestTake(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "keys")
	lock, err := Take(dir, "http://127.0.0.1:8080")
	if err != nil {
		t.Fatal(err)
	}
	_, err = Take(dir, "http://127.0.0.1:9")
	wantKind(t, err, problem.InUse, "http://127.0.0.1:8080")
	if err := Keep(dir); err != nil {
		t.Errorf("the folder that Take made: %v", err)
	}
	if err := lock.Release(); err != nil {
		t.Fatal(err)
	}
	again, err := Take(dir, "http://127.0.0.1:9")
	if err != nil {
		t.Fatal(err)
	}
	if err := again.Release(); err != nil {
		t.Error(err)
	}
}

func TestKeep(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "keys")
	for range 2 {
		if err := Keep(dir); err != nil {
			t.Fatal(err)
		}
	}
	file := filepath.Join(dir, "file")
	if err := os.WriteFile(file, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	wantKind(t, Keep(filepath.Join(file, "keys")), problem.Invalid, "below a file")
	if runtime.GOOS == "windows" {
		t.Skip("no such permissions here")
	}
	for _, mode := range []os.FileMode{0o710, 0o701, 0o720} {
		if err := os.Chmod(dir, mode); err != nil {
			t.Fatal(err)
		}
		wantKind(t, Keep(dir), problem.Invalid, dir)
	}
}

// What the system says is put into words.
func TestExplain(t *testing.T) {
	for number, want := range map[syscall.Errno]problem.Kind{syscall.EACCES: problem.Invalid, syscall.ENOSPC: problem.NoSpace, syscall.ENOTDIR: problem.Invalid} {
		wantKind(t, Explain("/keys/leaf.pem", &os.PathError{Op: "open", Path: "leaf.pem", Err: number}), want, "/keys/leaf.pem")
	}
	if err := Explain("x", syscall.EIO); err != syscall.EIO {
		t.Error(err)
	}
}
