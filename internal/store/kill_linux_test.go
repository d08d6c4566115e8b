package store

import (
	"bufio"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"
)

// pushChild opens the folder and pushes from four phones without end. It
// prints a line with the number of each entry after it is acknowledged. With a
// point "name:count" it kills itself at the count-th time it comes there.
func pushChild(dir, from, point string) {
	first, _ := strconv.Atoi(from)
	name, count, _ := strings.Cut(point, ":")
	left, _ := strconv.Atoi(count)
	s, err := Open(dir, Options{at: func(at string) error {
		if at == name {
			if left--; left <= 0 {
				_ = syscall.Kill(os.Getpid(), syscall.SIGKILL)
				select {}
			}
		}
		return nil
	}})
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
	if r := s.Report(); r.Doubt != "" && name != "journal replaced" && name != "bad lines kept" {
		fmt.Fprintf(os.Stderr, "doubt after a kill: %+v\n", r)
		os.Exit(1)
	}
	var phones sync.WaitGroup
	for phone := range 4 {
		phones.Go(func() {
			for n := first + phone*perPhone; ; n += 2 {
				results, err := s.Append(context.Background(), notes(n, n+2), "phone")
				for i := range results {
					if results[i].Status == Accepted {
						fmt.Printf("%d\n", n+i) // one write, nothing buffered
					}
				}
				if err != nil {
					fmt.Fprintln(os.Stderr, err)
					os.Exit(1)
				}
			}
		})
	}
	phones.Wait()
}

const perPhone = 100_000

// startChild starts this test binary in a role.
func startChild(t *testing.T, role string, args ...string) (*exec.Cmd, io.Reader, *strings.Builder) {
	t.Helper()
	cmd := exec.Command(os.Args[0], args...)
	cmd.Env = append(os.Environ(), childRole+"="+role)
	var said strings.Builder
	cmd.Stderr = &said
	out, err := cmd.StdoutPipe()
	if err == nil {
		err = cmd.Start()
	}
	if err != nil {
		t.Fatal(err)
	}
	return cmd, out, &said
}

// pushAndDie lets a child push until it is killed, from outside after a delay
// or by itself at a point, and adds what it acknowledged to the ledger.
func pushAndDie(t *testing.T, dir string, from int, acked ledger, point string, delay time.Duration) {
	t.Helper()
	cmd, out, said := startChild(t, "push", dir, strconv.Itoa(from), point)
	lines := bufio.NewScanner(out)
	killing := false
	for lines.Scan() {
		n, err := strconv.Atoi(lines.Text())
		if err != nil {
			t.Fatalf("the child says %q", lines.Text())
		}
		acked[noteID(n)] = note(n)
		if point == "" && !killing {
			killing = true // it is under way
			time.AfterFunc(delay, func() { _ = cmd.Process.Kill() })
		}
	}
	err := cmd.Wait()
	status, ok := cmd.ProcessState.Sys().(syscall.WaitStatus)
	if !ok || !status.Signaled() || status.Signal() != syscall.SIGKILL {
		t.Fatalf("the child ended otherwise: %v, %s", err, said)
	}
}

// checkKilled opens the folder after a kill: all acknowledged entries are
// there, and nothing but what was sent.
func checkKilled(t *testing.T, dir string, acked ledger, epoch *string) {
	t.Helper()
	s := open(t, dir)
	may := ledger{}
	for item, err := range s.All() {
		if err != nil {
			t.Fatal(err)
		}
		// Recomputed from the number in the text, not taken from the store.
		var e struct {
			ID   string
			Body struct{ Text string }
		}
		if err := json.Unmarshal(item.Entry, &e); err != nil {
			t.Fatal(err)
		}
		n, err := strconv.Atoi(strings.TrimPrefix(e.Body.Text, "note "))
		if err != nil {
			t.Fatalf("entry %s was never sent", item.Entry)
		}
		may[noteID(n)] = note(n)
	}
	acked.check(t, s, may)
	now, _ := s.Head()
	if r := s.Report(); r.Doubt != "" || (*epoch != "" && *epoch != now) {
		t.Fatalf("epoch %s, now %s: %+v", *epoch, now, r)
	}
	*epoch = now
	crash(s)
}

// A child that pushes is killed at random moments, again and again in the same
// folder.
func TestKilled(t *testing.T) {
	for lane := range 4 {
		t.Run(fmt.Sprint("folder ", lane), func(t *testing.T) {
			t.Parallel()
			seed := rand.Uint64()
			t.Log("seed ", seed)
			r := rand.New(rand.NewPCG(seed, 0))
			dir, acked, epoch := t.TempDir(), ledger{}, ""
			for round := range 40 {
				pushAndDie(t, dir, round*10*perPhone, acked, "", time.Duration(r.IntN(40_000))*time.Microsecond)
				if round%4 == 3 {
					checkKilled(t, dir, acked, &epoch)
				}
			}
			t.Logf("%d entries acknowledged", len(acked))
		})
	}
}

// A child dies at each step of a commit.
func TestKilledAtPoints(t *testing.T) {
	for _, point := range []string{"journal written", "journal synced", "indexed", "marked"} {
		t.Run(point, func(t *testing.T) {
			t.Parallel()
			dir, acked, epoch := t.TempDir(), ledger{}, ""
			for round := range 12 {
				pushAndDie(t, dir, round*10*perPhone, acked, fmt.Sprintf("%s:%d", point, 1+round%5), 0)
				if round%3 == 2 {
					checkKilled(t, dir, acked, &epoch)
				}
			}
		})
	}
}

// A child dies while it repairs a damaged journal, as often as it tries.
func TestKilledInRepair(t *testing.T) {
	for _, point := range []string{"bad lines kept", "journal replaced"} {
		t.Run(point, func(t *testing.T) {
			t.Parallel()
			dir, epoch, l := folder(t, 30, false)
			flip(t, filepath.Join(dir, journalName), 3000, 1)
			for range 4 {
				pushAndDie(t, dir, 1000, l, point+":1", 0)
			}
			expectWhole(t, dir, epoch, l, false)
		})
	}
}

// A child is killed at random moments while it starts: in a repair, while the
// index is made again, or later.
func TestKilledStarting(t *testing.T) {
	for lane := range 4 {
		t.Run(fmt.Sprint("folder ", lane), func(t *testing.T) {
			t.Parallel()
			dir, _, l := folder(t, 3000, lane%2 == 0)
			for round := range 12 {
				if round%4 == 0 { // the index is whole, so this can be mended
					flip(t, filepath.Join(dir, journalName), 4000+int64(round)*10_000, 1)
				}
				cmd, _, said := startChild(t, "openOnly", dir)
				time.Sleep(time.Duration(rand.IntN(60_000)) * time.Microsecond)
				_ = cmd.Process.Kill()
				if err := cmd.Wait(); err != nil && said.Len() > 0 {
					t.Fatal(err, said)
				}
				if round%4 == 3 {
					s := open(t, dir)
					l.check(t, s, nil)
					crash(s)
				}
			}
		})
	}
}
