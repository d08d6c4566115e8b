//go:build linux || darwin

package store

import "golang.org/x/sys/unix"

// FreeBytes is the space that a program without privileges may still use.
func FreeBytes(dir string) (uint64, error) {
	var st unix.Statfs_t
	if err := unix.Statfs(dir, &st); err != nil {
		return 0, err
	}
	return uint64(st.Bavail) * uint64(st.Bsize), nil
}
