package safefile

import (
	"errors"
	"os"
	"path/filepath"
	"runtime"
	"testing"

	"packwright/internal/problem"
	"packwright/internal/tinydisk"
)

func TestWrite(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "f")
	for _, content := range []string{"first", "", "a longer second"} {
		if err := Write(path, []byte(content)); err != nil {
			t.Fatal(err)
		}
		if got, err := os.ReadFile(path); err != nil || string(got) != content {
			t.Errorf("%q, %v", got, err)
		}
	}
	// What a crash left half written is no obstacle, and is not kept.
	if err := os.WriteFile(path+".new", []byte("much longer than what comes after it"), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := Write(path, []byte("x")); err != nil {
		t.Fatal(err)
	}
	files, err := os.ReadDir(dir)
	if got, _ := os.ReadFile(path); err != nil || len(files) != 1 || string(got) != "x" {
		t.Errorf("%v: %q", files, got)
	}
	if info, err := os.Stat(path); runtime.GOOS != "windows" && (err != nil || info.Mode().Perm() != 0o600) {
		t.Errorf("%v, %v", info.Mode(), err)
	}
}

func TestWriteFails(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "f")
	if err := Write(path, []byte("old")); err != nil {
		t.Fatal(err)
	}
	if err := Write(filepath.Join(dir, "missing", "f"), nil); err == nil {
		t.Error("wrote into a folder that is not there")
	}
	folder := filepath.Join(dir, "folder")
	if err := os.MkdirAll(filepath.Join(folder, "x"), 0o700); err != nil {
		t.Fatal(err)
	}
	if err := Write(folder, []byte("new")); err == nil {
		t.Error("replaced a folder")
	}
	files, err := os.ReadDir(dir)
	if got, _ := os.ReadFile(path); err != nil || len(files) != 2 || string(got) != "old" {
		t.Errorf("%v: %q", files, got)
	}
}

// What stands under the name of the new file is not written to: others could read
// it, or it leads to another file.
func TestWriteNew(t *testing.T) {
	dir := t.TempDir()
	path, other := filepath.Join(dir, "f"), filepath.Join(dir, "other")
	for what, lay := range map[string]func(beside string) error{
		"a file open to all": func(beside string) error {
			return errors.Join(os.WriteFile(beside, nil, 0o600), os.Chmod(beside, 0o644))
		},
		"a link":            func(beside string) error { return os.Symlink(other, beside) },
		"a second name":     func(beside string) error { return os.Link(other, beside) },
		"a link to nowhere": func(beside string) error { return os.Symlink(filepath.Join(dir, "nowhere"), beside) },
		"the file, in use":  func(beside string) error { return os.Link(path, beside) },
	} {
		if err := errors.Join(os.WriteFile(other, []byte("other"), 0o600), os.WriteFile(path, []byte("old"), 0o600)); err != nil {
			t.Fatal(err)
		}
		if err := lay(path + ".new"); err != nil {
			t.Skipf("%s: %v", what, err)
		}
		if err := Write(path, []byte("secret")); err != nil {
			t.Errorf("%s: %v", what, err)
		}
		info, err := os.Lstat(path)
		if err != nil || !info.Mode().IsRegular() || runtime.GOOS != "windows" && info.Mode().Perm() != 0o600 {
			t.Errorf("%s: %v, %v", what, info.Mode(), err)
		}
		if got, err := os.ReadFile(path); err != nil || string(got) != "secret" {
			t.Errorf("%s: %q, %v", what, got, err)
		}
		if got, err := os.ReadFile(other); err != nil || string(got) != "other" {
			t.Errorf("%s: the other file is now %q, %v", what, got, err)
		}
		if files, err := os.ReadDir(dir); err != nil || len(files) != 2 {
			t.Errorf("%s: %v, %v", what, files, err)
		}
	}
}

func TestFullDisk(t *testing.T) {
	disk := tinydisk.Mount(t, 1)
	path := filepath.Join(disk, "f")
	if err := Write(path, []byte("old")); err != nil {
		t.Fatal(err)
	}
	tinydisk.Fill(t, filepath.Join(disk, "filler"), 0)
	err := Write(path, []byte("new"))
	if p, ok := problem.As(err); !ok || p.Kind != problem.NoSpace || p.Hint == "" {
		t.Errorf("full disk: %v", err)
	}
	if got, err := os.ReadFile(path); err != nil || string(got) != "old" {
		t.Errorf("%q, %v", got, err)
	}
	if files, err := os.ReadDir(disk); err != nil || len(files) != 2 {
		t.Errorf("%v, %v", files, err)
	}
}
