package store

import (
	"fmt"
	"os"

	"golang.org/x/sys/windows"
)

// FreeBytes is the space that this user may still use.
func FreeBytes(dir string) (free uint64, err error) {
	name, err := windows.UTF16PtrFromString(dir)
	if err != nil {
		return 0, err
	}
	err = windows.GetDiskFreeSpaceEx(name, &free, nil, nil)
	return free, err
}

// fileIdentity tells a file from a copy of it: by its number and the time it was made.
func fileIdentity(f *os.File) string {
	var info windows.ByHandleFileInformation
	if err := windows.GetFileInformationByHandle(windows.Handle(f.Fd()), &info); err != nil {
		return ""
	}
	return fmt.Sprintf("file %x-%x made %d", info.FileIndexHigh, info.FileIndexLow, info.CreationTime.Nanoseconds())
}
