package store

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"
)

// fsyncTime is the median time of a small write and an fsync in dir: what
// every durable answer costs at least on this disk.
func fsyncTime(b *testing.B, dir string) time.Duration {
	b.Helper()
	f, err := os.Create(filepath.Join(dir, "fsync"))
	if err != nil {
		b.Fatal(err)
	}
	defer f.Close()
	var all []time.Duration
	for range 200 {
		if _, err := f.Write(make([]byte, 500)); err != nil {
			b.Fatal(err)
		}
		start := time.Now()
		if err := f.Sync(); err != nil {
			b.Fatal(err)
		}
		all = append(all, time.Since(start))
	}
	slices.Sort(all)
	return all[len(all)/2]
}

// BenchmarkAppend pushes as 20 phones do, each waiting for its answer.
func BenchmarkAppend(b *testing.B) {
	for _, batch := range []int{50, 1} {
		b.Run(fmt.Sprintf("20x%d", batch), func(b *testing.B) {
			dir := b.TempDir()
			fsync := fsyncTime(b, b.TempDir()) // beside: the store wants a folder of its own
			s := open(b, dir)
			var next atomic.Int64
			var mu sync.Mutex
			var waits []time.Duration
			var phones sync.WaitGroup
			b.ResetTimer()
			for range 20 {
				phones.Go(func() {
					for {
						n := int(next.Add(int64(batch)))
						if n > b.N+batch {
							return
						}
						push := make([]json.RawMessage, batch)
						for i := range push {
							push[i] = note(n + i)
						}
						start := time.Now()
						if _, err := s.Append(context.Background(), push, "bench"); err != nil {
							b.Error(err)
							return
						}
						wait := time.Since(start)
						mu.Lock()
						waits = append(waits, wait)
						mu.Unlock()
					}
				})
			}
			phones.Wait()
			b.StopTimer()
			slices.Sort(waits)
			b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "entries/s")
			b.ReportMetric(float64(waits[len(waits)/2].Microseconds())/1000, "p50-ms")
			b.ReportMetric(float64(waits[len(waits)*99/100].Microseconds())/1000, "p99-ms")
			b.ReportMetric(float64(fsync.Microseconds())/1000, "fsync-ms")
		})
	}
}

// seasons is a folder with 100,000 entries of about 400 bytes, many times what
// a team makes in a season.
func seasons(b *testing.B, clean bool) string {
	b.Helper()
	dir := b.TempDir()
	s := open(b, dir)
	for n := 0; n < 100_000; n += 1000 {
		var raws []json.RawMessage
		for i := n; i < n+1000; i++ {
			raws = append(raws, noteText(i, fmt.Sprintf("note %d %s", i, strings.Repeat("text ", 45))))
		}
		push(b, s, raws...)
	}
	if !clean {
		crash(s)
	} else if err := s.Close(); err != nil {
		b.Fatal(err)
	}
	return dir
}

// BenchmarkOpen starts after a clean stop and after a crash.
func BenchmarkOpen(b *testing.B) {
	for _, clean := range []bool{true, false} {
		b.Run(stopWord(clean), func(b *testing.B) {
			dir := seasons(b, clean)
			for b.Loop() {
				s, err := Open(dir, Options{})
				if err != nil {
					b.Fatal(err)
				}
				b.StopTimer()
				if !clean {
					crash(s)
				} else if err := s.Close(); err != nil {
					b.Fatal(err)
				}
				b.StartTimer()
			}
			b.ReportMetric(float64(size(b, filepath.Join(dir, journalName)))/1e6, "journal-MB")
		})
	}
}

// BenchmarkPage pulls everything in pages of 500, as a new phone does.
func BenchmarkPage(b *testing.B) {
	s := open(b, seasons(b, true))
	entries := 0
	for b.Loop() {
		for after, more := uint64(0), true; more; {
			p, err := s.Page(after, 500, 1<<20)
			if err != nil {
				b.Fatal(err)
			}
			entries += len(p.Items)
			after, more = p.Next, p.More
		}
	}
	b.ReportMetric(float64(entries)/b.Elapsed().Seconds(), "entries/s")
}

// BenchmarkAll reads everything for the fold at start.
func BenchmarkAll(b *testing.B) {
	s := open(b, seasons(b, true))
	entries := 0
	for b.Loop() {
		for _, err := range s.All() {
			if err != nil {
				b.Fatal(err)
			}
			entries++
		}
	}
	b.ReportMetric(float64(entries)/b.Elapsed().Seconds(), "entries/s")
}
