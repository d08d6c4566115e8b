package filelock

import (
	"errors"
	"os"
	"path/filepath"
	"testing"
)

func TestTake(t *testing.T) {
	path := filepath.Join(t.TempDir(), "lock")
	if h, locked := Look(path); locked || h != (Holder{}) {
		t.Errorf("before: %+v, %v", h, locked)
	}
	// What a process that was killed, or a full disk, left is no obstacle.
	if err := os.WriteFile(path, []byte(`{"pid":7,"addr`), 0o600); err != nil {
		t.Fatal(err)
	}
	if Ours(path) {
		t.Error("half a file is ours")
	}
	lock, err := Take(path, "http://127.0.0.1:1")
	if err != nil {
		t.Fatal(err)
	}
	want := Holder{os.Getpid(), "http://127.0.0.1:1"}
	if h, locked := Look(path); !locked || h != want || !Ours(path) {
		t.Errorf("%+v, %v", h, locked)
	}
	_, err = Take(path, "")
	if held, ok := errors.AsType[Held](err); !ok || held.Holder != want {
		t.Errorf("taken twice: %v", err)
	}
	if err := lock.SetAddress("http://127.0.0.1:2"); err != nil {
		t.Fatal(err)
	}
	if h, _ := Look(path); h.Address != "http://127.0.0.1:2" {
		t.Errorf("%+v", h)
	}
	if err := lock.Release(); err != nil {
		t.Fatal(err)
	}
	if h, locked := Look(path); locked || !Ours(path) {
		t.Errorf("after: %+v, %v", h, locked)
	}
	if _, err := Take(filepath.Join(path, "below"), ""); err == nil {
		t.Error("locked a file below a file")
	}
}
