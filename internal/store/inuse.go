package store

import (
	"errors"
	"path/filepath"

	"packwright/internal/filelock"
	"packwright/internal/problem"
)

// takeLock locks the data folder for this process.
func takeLock(dir, address string) (*filelock.Lock, error) {
	lock, err := filelock.Take(filepath.Join(dir, lockName), address)
	held, taken := errors.AsType[filelock.Held](err)
	switch {
	case !taken:
		return lock, err
	case held.Address == "":
		return nil, problem.New(problem.InUse, "stop it first", "the data folder %s is open in another process (%d)", dir, held.PID)
	}
	return nil, problem.New(problem.InUse, "use the one that is running, or stop it first",
		"the data folder %s is open in a server at %s", dir, held.Address)
}

// Locked says whether a process has the data folder open, and where it
// serves, as far as it said so.
func Locked(dir string) (address string, locked bool) {
	holder, locked := filelock.Look(filepath.Join(dir, lockName))
	return holder.Address, locked
}
