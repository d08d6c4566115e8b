// Package safefile replaces small files so that a reader, a crash or a power cut
// finds the old content or the new one, never a part.
//
// Use Write for secrets and settings kept in a folder of their own. The journal
// is not written this way: see package store.
package safefile

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"syscall"

	"packwright/internal/problem"
)

// Write replaces the file at path with content, at no time readable by others, and
// returns when that is durable. The folder must be there. After an error the
// file is as it was, except where only the last step failed, making its name
// durable: then it is new and a power cut may bring the old one back. Errors are
// of kind NoSpace where the disk is full, and of package os otherwise.
//
// One process writes a path at a time.
func Write(path string, content []byte) error {
	beside := path + ".new"
	if err := writeNew(beside, content); err != nil {
		_ = os.Remove(beside)
		return explain(path, err)
	}
	if err := os.Rename(beside, path); err != nil {
		_ = os.Remove(beside)
		return explain(path, err)
	}
	return explain(path, SyncDir(filepath.Dir(path)))
}

// writeNew makes the file anew: what a crash left under its name, or somebody put
// there, may be open to others or be a link.
func writeNew(path string, content []byte) error {
	if err := os.Remove(path); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return err
	}
	_, err = f.Write(content)
	if err == nil {
		err = f.Sync()
	}
	return errors.Join(err, f.Close())
}

// SyncDir makes names in a folder durable. Windows has no way to, and NTFS keeps
// them in its own log.
func SyncDir(dir string) error {
	if runtime.GOOS == "windows" {
		return nil
	}
	f, err := os.Open(dir)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}

func explain(path string, err error) error {
	if err != nil && IsNoSpace(err) {
		return problem.New(problem.NoSpace, "free some space and try again; nothing was lost",
			"the disk with the folder %s is full", filepath.Dir(path))
	}
	return err
}

// The numbers are other errors elsewhere.
const (
	winHandleDiskFull = syscall.Errno(39)  // ERROR_HANDLE_DISK_FULL
	winDiskFull       = syscall.Errno(112) // ERROR_DISK_FULL
)

// IsNoSpace says whether an error of the system is that the disk is full.
func IsNoSpace(err error) bool {
	if runtime.GOOS == "windows" {
		return errors.Is(err, winHandleDiskFull) || errors.Is(err, winDiskFull)
	}
	return errors.Is(err, syscall.ENOSPC) || errors.Is(err, syscall.EDQUOT)
}
