// Package keydir guards the folder of keys, joined devices and tokens: it is closed
// to other users of the machine, and one server has it at a time.
package keydir

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"syscall"

	"packwright/internal/filelock"
	"packwright/internal/problem"
	"packwright/internal/safefile"
)

// lockName is the file that is locked while a server has the folder.
const lockName = "server.lock"

// Keep makes the folder, or checks that other users are kept out. Errors are as
// those of Explain, and Invalid where they are not.
func Keep(dir string) error {
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return Explain(dir, err)
	}
	info, err := os.Stat(dir)
	if err != nil {
		return Explain(dir, err)
	}
	if Exposed(info) {
		return problem.New(problem.Invalid, "run chmod 700 "+dir+", or choose another folder with --keys",
			"other users of this machine may look into the folder of keys %s", dir)
	}
	return nil
}

// Take has this process alone use the folder, which it makes where it is missing,
// until the lock is released: two servers would undo each other's list of devices.
// address is where it serves. The error is of kind InUse
// where another process has the folder, and otherwise as those of Explain.
func Take(dir, address string) (*filelock.Lock, error) {
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return nil, Explain(dir, err)
	}
	lock, err := filelock.Take(filepath.Join(dir, lockName), address)
	if held, taken := errors.AsType[filelock.Held](err); taken {
		return nil, problem.New(problem.InUse, "use the one that is running, stop it first, or choose another folder with --keys",
			"the folder of keys %s is open in a server at %s", dir, held.Address)
	}
	return lock, Explain(dir, err)
}

// Exposed says whether other users may use a file or folder. Windows keeps that
// elsewhere: there the user's own folders are closed to others.
func Exposed(info fs.FileInfo) bool {
	return runtime.GOOS != "windows" && info.Mode().Perm()&0o077 != 0
}

// Explain puts what can be mended outside the program into words: Invalid or
// NoSpace. Other errors stay as they are.
func Explain(path string, err error) error {
	switch {
	case errors.Is(err, fs.ErrPermission):
		return problem.New(problem.Invalid, "start packwright as the user who did so first, or choose another folder with --keys",
			"this user may not use %s", path)
	case errors.Is(err, syscall.ENOTDIR):
		return problem.New(problem.Invalid, "give a folder with --keys; where there is none, it is made", "%s is or lies below a file", path)
	case err != nil && safefile.IsNoSpace(err):
		return problem.New(problem.NoSpace, "free some space and try again", "the disk is full: %s cannot be written", path)
	}
	return err
}
