package filelock

import (
	"errors"
	"os"

	"golang.org/x/sys/windows"
)

// lockAt is the byte that is locked. It lies far beyond the text, because a
// locked byte cannot be read by others on Windows.
const lockAt = 1 << 30

// lockFile locks f: false if another holds a lock that excludes it.
func lockFile(f *os.File, exclusive bool) (bool, error) {
	flags := uint32(windows.LOCKFILE_FAIL_IMMEDIATELY)
	if exclusive {
		flags |= windows.LOCKFILE_EXCLUSIVE_LOCK
	}
	err := windows.LockFileEx(windows.Handle(f.Fd()), flags, 0, 1, 0, &windows.Overlapped{Offset: lockAt})
	if errors.Is(err, windows.ERROR_LOCK_VIOLATION) || errors.Is(err, windows.ERROR_IO_PENDING) {
		return false, nil
	}
	return err == nil, err
}
