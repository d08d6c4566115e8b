package store

import (
	"fmt"
	"os"

	"golang.org/x/sys/unix"
)

// fileIdentity tells a file from a copy of it: by the time it was born, which
// no copy tool can set, or where the file system keeps none, by its inode.
func fileIdentity(f *os.File) string {
	var st unix.Statx_t
	err := unix.Statx(int(f.Fd()), "", unix.AT_EMPTY_PATH, unix.STATX_INO|unix.STATX_BTIME, &st)
	switch {
	case err != nil:
		return ""
	case st.Mask&unix.STATX_BTIME != 0:
		return fmt.Sprintf("born %d.%09d", st.Btime.Sec, st.Btime.Nsec)
	}
	return fmt.Sprintf("inode %d", st.Ino)
}
