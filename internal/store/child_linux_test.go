package store

import (
	"bufio"
	"bytes"
	"context"
	"flag"
	"fmt"
	"os"
	"os/exec"
	"strconv"
	"testing"
)

// childRole makes the test binary start as a process of its own, to be killed
// or weighed.
const childRole = "STORE_TEST_CHILD"

func TestMain(m *testing.M) {
	switch os.Getenv(childRole) {
	case "":
		// These tests wait for the disk more than for the processor.
		flag.Parse()
		if err := flag.Set("test.parallel", "12"); err != nil {
			panic(err)
		}
		os.Exit(m.Run())
	case "weigh":
		weighChild(os.Args[1], os.Args[2])
	case "push":
		pushChild(os.Args[1], os.Args[2], os.Args[3])
	case "fill":
		fillChild(os.Args[1])
	case "openOnly":
		if _, err := Open(os.Args[1], Options{}); err != nil {
			fmt.Fprintln(os.Stderr, err)
		}
	}
}

// residentMB is the resident memory of this process, from /proc; 0 where there is none.
func residentMB(field string) float64 {
	status, _ := os.ReadFile("/proc/self/status")
	lines := bufio.NewScanner(bytes.NewReader(status))
	for lines.Scan() {
		if f := bytes.Fields(lines.Bytes()); len(f) > 1 && string(f[0]) == field+":" {
			kb, _ := strconv.ParseFloat(string(f[1]), 64)
			return kb / 1024
		}
	}
	return 0
}

// weighChild opens a folder and prints its resident memory in MB: after the
// start, after one fold and a pull of everything, after 20,000 more entries.
func weighChild(dir, spare string) {
	bytes, _ := strconv.ParseUint(spare, 10, 64)
	s, err := Open(dir, Options{spare: bytes})
	if err != nil {
		panic(err)
	}
	weighed := []float64{residentMB("VmRSS")}
	for _, err := range s.All() {
		if err != nil {
			panic(err)
		}
	}
	for after, more := uint64(0), true; more; {
		p, err := s.Page(after, 500, 256<<10)
		if err != nil {
			panic(err)
		}
		after, more = p.Next, p.More
	}
	weighed = append(weighed, residentMB("VmRSS"))
	for n := 1_000_000; n < 1_020_000; n += 50 {
		if _, err := s.Append(context.Background(), notes(n, n+50), ""); err != nil {
			panic(err)
		}
	}
	fmt.Println(append(weighed, residentMB("VmRSS")))
}

// BenchmarkMemory reports the resident memory of a process that has 100,000
// entries open, with the index on the disk and, as on a full disk, in memory.
func BenchmarkMemory(b *testing.B) {
	dir := seasons(b, true)
	for name, spare := range map[string]uint64{"disk": spareBytes, "memory": 1 << 60} {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				copied := b.TempDir()
				if err := os.CopyFS(copied, os.DirFS(dir)); err != nil {
					b.Fatal(err)
				}
				s := open(b, copied) // takes the copy for its own
				if err := s.Close(); err != nil {
					b.Fatal(err)
				}
				cmd := exec.Command(os.Args[0], copied, fmt.Sprint(spare))
				cmd.Env = append(os.Environ(), childRole+"=weigh")
				out, err := cmd.CombinedOutput()
				if err != nil {
					b.Fatalf("%v %s", err, out)
				}
				var start, read, written float64
				if _, err := fmt.Sscanf(string(out), "[%g %g %g]", &start, &read, &written); err != nil {
					b.Fatalf("%v %s", err, out)
				}
				b.ReportMetric(start, "MB-started")
				b.ReportMetric(read, "MB-read")
				b.ReportMetric(written, "MB-written")
			}
		})
	}
}
