package store

import (
	"fmt"
	"os"

	"golang.org/x/sys/unix"
)

// fileIdentity tells a file from a copy of it: by its inode and the time it was born.
func fileIdentity(f *os.File) string {
	var st unix.Stat_t
	if err := unix.Fstat(int(f.Fd()), &st); err != nil {
		return ""
	}
	return fmt.Sprintf("inode %d born %d.%09d", st.Ino, st.Btim.Sec, st.Btim.Nsec)
}
