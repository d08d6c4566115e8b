//go:build !linux

package tinydisk

import (
	"testing"
	"time"
)

// Mount skips the test: only Linux has memory disks that a test may mount.
func Mount(t testing.TB, mib int) string {
	t.Helper()
	t.Skip("NOT CHECKED here: what a full disk does")
	return ""
}

// Fill has nothing to fill here.
func Fill(testing.TB, string, time.Duration) {}
