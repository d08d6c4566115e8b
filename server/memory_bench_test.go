package main

import (
	"context"
	"encoding/json"
	"path/filepath"
	"testing"
	"time"

	"packwright/internal/store"
)

// BenchmarkServe starts the real server on an empty database and on one with
// 100,000 entries, and tells how long it took to answer and what it holds in
// memory when idle. The aims are 60 MB and 150 MB.
func BenchmarkServe(b *testing.B) {
	for _, c := range []struct {
		name    string
		entries int
	}{{"empty", 0}, {"100000-entries", 100_000}} {
		b.Run(c.name, func(b *testing.B) {
			bin, err := buildBinary()
			if err != nil {
				b.Fatal(err)
			}
			dir := filepath.Join(b.TempDir(), "data")
			fill(b, dir, c.entries)
			for b.Loop() {
				address := "127.0.0.1:" + freePort(b)
				began := time.Now()
				server := startProcess(b, "http://"+address+"/api/v1/health", bin, "serve", "--data", dir, "--listen", address)
				b.ReportMetric(ms(time.Since(began)), "start-ms")
				time.Sleep(2 * time.Second)
				b.ReportMetric(residentMB(server.Process.Pid), "rss-MB")
				if err := server.Process.Kill(); err != nil {
					b.Fatal(err)
				}
				_ = server.Wait() // killed
			}
		})
	}
}

func fill(b *testing.B, dir string, entries int) {
	kept, err := store.Open(dir, store.Options{})
	if err != nil {
		b.Fatal(err)
	}
	for n := 0; n < entries; n += 1000 {
		if _, err := kept.Append(context.Background(), []json.RawMessage(benchEntries(min(1000, entries-n))), "bench"); err != nil {
			b.Fatal(err)
		}
	}
	if err := kept.Close(); err != nil {
		b.Fatal(err)
	}
}
