//go:build linux || darwin

package filelock

import (
	"errors"
	"os"

	"golang.org/x/sys/unix"
)

// lockFile takes an advisory lock on f: false if another holds one that excludes it.
func lockFile(f *os.File, exclusive bool) (bool, error) {
	how := unix.LOCK_SH
	if exclusive {
		how = unix.LOCK_EX
	}
	err := unix.Flock(int(f.Fd()), how|unix.LOCK_NB)
	if errors.Is(err, unix.EWOULDBLOCK) {
		return false, nil
	}
	return err == nil, err
}
