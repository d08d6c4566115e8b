package store

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"packwright/internal/problem"
	"packwright/internal/tinydisk"
)

// TestMayMount is for a line of its own in a log (go test -v): whether the tests
// on a full and a cut-off disk run here.
func TestMayMount(t *testing.T) { tinydisk.MayMount(t) }

// big gives entries of about 4 KB, the longest note there may be.
func big(from, to int) []json.RawMessage {
	var all []json.RawMessage
	for n := from; n < to; n++ {
		all = append(all, noteText(n, strings.Repeat("x", 3900)))
	}
	return all
}

// A disk fills up under pushes; space is freed; it fills again; the store is
// stopped and started on the full disk, and freed again. The spare bytes are few,
// so that the index stays on the disk long, but still more than Badger can have
// yet to write after a look at the free space: the memtable in use and the two
// before it. With fewer its memory map would have no disk beneath it, which kills
// a process.
func TestFullDisk(t *testing.T) {
	t.Parallel()
	for _, spare := range []uint64{4 * memTableBytes, 6 * memTableBytes} {
		t.Run(fmt.Sprintf("%d MiB spare", spare>>20), func(t *testing.T) {
			disk := tinydisk.Mount(t, 128)
			dir, filler := filepath.Join(disk, "data"), filepath.Join(disk, "filler")
			o := Options{spare: spare}
			s := openWith(t, dir, o)
			want, next := ledger{}, 0
			untilFull := func() {
				t.Helper()
				for {
					raws := big(next, next+20)
					next += 20
					results, err := s.Append(context.Background(), raws, "")
					if err != nil {
						if kindOf(err) != problem.NoSpace {
							t.Fatal(err)
						}
						return
					}
					want.add(raws, results)
				}
			}
			free := func() {
				t.Helper()
				if err := os.Remove(filler); err != nil {
					t.Fatal(err)
				}
				raws := notes(next, next+10)
				next += 10
				want.add(raws, push(t, s, raws...))
				want.check(t, s, nil)
			}
			push20 := func() {
				raws := big(next, next+20)
				next += 20
				want.add(raws, push(t, s, raws...))
			}
			push20()
			tinydisk.Fill(t, filler, 0)
			untilFull()
			want.check(t, s, nil)
			free()
			push20()
			tinydisk.Fill(t, filler, 0)
			untilFull()
			epoch, _ := s.Head()
			if err := s.Close(); err != nil {
				t.Fatal(err)
			}

			s = openWith(t, dir, o)
			if now, _ := s.Head(); now != epoch || !s.Report().IndexInMemory || s.Report().Doubt != "" {
				t.Fatalf("started on a full disk: %+v", s.Report())
			}
			want.check(t, s, nil)
			untilFull()
			free()
			crash(s)
			s = openWith(t, dir, o)
			want.check(t, s, nil)
			if now, _ := s.Head(); now != epoch || s.Report().Doubt != "" || s.Report().CutBytes != 0 {
				t.Fatalf("after all: %+v", s.Report())
			}
			push20()
			untilFull() // with its own entries this time
			want.check(t, s, nil)
		})
	}
}

// A first start on a full disk says so.
func TestFullDiskAtFirst(t *testing.T) {
	disk := tinydisk.Mount(t, 2)
	tinydisk.Fill(t, filepath.Join(disk, "filler"), 0)
	_, err := Open(filepath.Join(disk, "data"), Options{})
	if kindOf(err) != problem.NoSpace {
		t.Fatalf("got %v", err)
	}
	if err := os.Remove(filepath.Join(disk, "filler")); err != nil {
		t.Fatal(err)
	}
	s := openWith(t, filepath.Join(disk, "data"), Options{})
	push(t, s, notes(0, 10)...)
	ledgerOf(notes(0, 10)...).check(t, s, nil)
}

// A damaged journal cannot be written anew on a full disk: that is said, and
// nothing is touched until there is room.
func TestRepairOnFullDisk(t *testing.T) {
	disk := tinydisk.Mount(t, 24)
	dir, filler := filepath.Join(disk, "data"), filepath.Join(disk, "filler")
	s := openWith(t, dir, Options{spare: 1 << 20})
	l := ledger{}
	for n := 0; n < 400; n += 20 {
		l.add(big(n, n+20), push(t, s, big(n, n+20)...))
	}
	epoch, _ := s.Head()
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	flip(t, filepath.Join(dir, journalName), 50_000, 1)
	tinydisk.Fill(t, filler, 0)
	for range 2 {
		if _, err := Open(dir, Options{spare: 1 << 20}); kindOf(err) != problem.NoSpace {
			t.Fatalf("got %v", err)
		}
	}
	if err := os.Remove(filler); err != nil {
		t.Fatal(err)
	}
	// Room for the journal, not for an index: the old index is not asked twice.
	s = openWith(t, dir, Options{})
	if now, _ := s.Head(); now == epoch || !s.Report().IndexInMemory || s.Report().Salvaged != 1 {
		t.Fatalf("report is %+v", s.Report())
	}
	epoch, _ = s.Head()
	crash(s)
	s = openWith(t, dir, Options{})
	if now, _ := s.Head(); now != epoch || s.Report().Doubt != "" {
		t.Fatalf("report is %+v", s.Report())
	}
	l.check(t, s, nil)
}

// fillChild appends, with a disk index as long as it can, while another
// program fills and frees the disk. It prints what was acknowledged.
func fillChild(dir string) {
	s, err := Open(dir, Options{})
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
	start := time.Now()
	for n, moved := 0, 0; ; n += 5 {
		results, err := s.Append(context.Background(), big(n, n+5), "")
		for i := range results {
			fmt.Println(n + i)
		}
		if err != nil && kindOf(err) != problem.NoSpace {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		if s.index.memory {
			moved++
		}
		if age := time.Since(start); moved > 1000 || age > time.Minute {
			fmt.Println("moved", s.index.memory)
			if err := s.Close(); err != nil {
				fmt.Fprintln(os.Stderr, err)
				os.Exit(1)
			}
			return
		}
	}
}

// Another program fills the disk to the last byte and frees it again, over and
// over, while a process appends with the spare bytes of every store. It must live,
// and keep what it acknowledged.
func TestDiskFilledByAnother(t *testing.T) {
	t.Parallel()
	disk := tinydisk.Mount(t, 2*spareBytes>>20)
	dir, filler := filepath.Join(disk, "data"), filepath.Join(disk, "filler")
	cmd := exec.Command(os.Args[0], dir)
	cmd.Env = append(os.Environ(), childRole+"=fill")
	var out, said bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &said
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	stop := make(chan struct{})
	var other sync.WaitGroup
	other.Go(func() {
		for {
			time.Sleep(100 * time.Millisecond)
			tinydisk.Fill(t, filler, 2*time.Millisecond) // 500 MB/s, as a fast disk
			time.Sleep(20 * time.Millisecond)
			_ = os.Remove(filler)
			select {
			case <-stop:
				return
			default:
			}
		}
	})
	err := cmd.Wait()
	close(stop)
	other.Wait()
	if err != nil {
		t.Fatalf("the process ended with %v\n%.3000s", err, said.String())
	}
	want := ledger{}
	moved := ""
	for {
		text, err := out.ReadString('\n')
		if errors.Is(err, io.EOF) {
			break
		}
		if n, err := strconv.Atoi(strings.TrimSpace(text)); err == nil {
			want[noteID(n)] = big(n, n+1)[0]
		} else {
			moved = strings.TrimSpace(text)
		}
	}
	t.Logf("%d entries acknowledged; %s", len(want), moved)
	if moved != "moved true" {
		t.Error("the disk never got full enough for the test to mean anything")
	}
	want.check(t, open(t, dir), nil)
}
