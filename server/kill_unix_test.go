//go:build unix

package main

import (
	"bufio"
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"math/rand/v2"
	"net/http"
	"os"
	"os/exec"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"packwright/internal/journal"
	"packwright/internal/store"
)

// served is packwright serve as a process of its own.
type served struct {
	cmd     *exec.Cmd
	address string
	said    *bytes.Buffer // on stderr; to be read after it ended
}

// serveBinary starts the real program on a folder and waits until it answers.
func serveBinary(t *testing.T, bin, dir string) served {
	t.Helper()
	s := served{cmd: exec.Command(bin, "serve", "--data", dir, "--listen", "127.0.0.1:0"), said: &bytes.Buffer{}}
	s.cmd.Stderr = s.said
	out, err := s.cmd.StdoutPipe()
	if err == nil {
		err = s.cmd.Start()
	}
	if err != nil {
		t.Fatal(err)
	}
	hung := time.AfterFunc(20*time.Second, func() { _ = s.cmd.Process.Kill() })
	line, err := bufio.NewReader(out).ReadString('\n')
	if s.address = strings.TrimSuffix(strings.TrimPrefix(line, "open "), " in a browser on this machine\n"); err == nil {
		err = answers(s.address)
	}
	if !hung.Stop() || err != nil {
		_ = s.cmd.Process.Kill()
		t.Fatalf("the server did not come up: %v, %v\n%s", err, s.cmd.Wait(), s.said)
	}
	return s
}

// sender is a phone that pushes without end and keeps a batch until it is answered.
type sender struct {
	name  string
	next  int             // number of the next note
	batch []journal.Entry // sent, and not answered yet
	acked map[string]bool
	made  map[string]string // text of every note ever sent, by id
}

// push sends until the server is gone.
func (p *sender) push(address string) error {
	for {
		if p.batch == nil {
			for range 1 + p.next%4 {
				e := note(p.next, fmt.Sprintf("%s, note %d", p.name, p.next))
				p.batch, p.made[e.ID] = append(p.batch, e), string(e.Body)
				p.next++
			}
		}
		resp, err := http.Post(address+"/api/v1/entries", "application/json", bytes.NewReader(push(p.batch...)))
		if err != nil {
			return nil // killed before it answered
		}
		body, err := io.ReadAll(resp.Body)
		resp.Body.Close()
		if err != nil {
			return nil // killed while it answered
		}
		var answer pushAnswer
		if err := json.Unmarshal(body, &answer); err != nil || resp.StatusCode != http.StatusOK || len(answer.Results) != len(p.batch) {
			return fmt.Errorf("status %d: %s", resp.StatusCode, body)
		}
		for i, r := range answer.Results {
			if r.ID != p.batch[i].ID || (r.Status != store.Accepted && r.Status != store.Duplicate) {
				return fmt.Errorf("%+v", r)
			}
			p.acked[r.ID] = true
		}
		p.batch = nil
	}
}

// TestServeKilled is scenario 7 of the sync tests on the real program: it is
// killed at random moments while phones push over HTTP, and started again. At the
// end everything that was acknowledged is there exactly once, and nothing but
// what was sent. The test keeps the books. It begins with a new folder every 25
// kills, for a start reads the whole journal and takes longer with each.
func TestServeKilled(t *testing.T) {
	t.Parallel()
	bin, err := buildBinary()
	if err != nil {
		t.Fatal(err)
	}
	rounds, kills := 8, 25
	if testing.Short() {
		rounds, kills = 1, 10
	}
	for range rounds {
		if seed := rand.Uint64(); !t.Run(fmt.Sprint("seed ", seed), func(t *testing.T) { killOften(t, bin, kills, seed) }) {
			return
		}
	}
}

func killOften(t *testing.T, bin string, kills int, seed uint64) {
	random := rand.New(rand.NewPCG(seed, 0))
	dir := t.TempDir()
	var phones []*sender
	for i := range 20 {
		phones = append(phones, &sender{name: fmt.Sprint("phone ", i), next: i * 1_000_000, acked: map[string]bool{}, made: map[string]string{}})
	}
	var starts []time.Duration
	begin := func() served {
		from := time.Now()
		s := serveBinary(t, bin, dir)
		starts = append(starts, time.Since(from))
		return s
	}
	for range kills {
		s := begin()
		time.AfterFunc(time.Duration(random.IntN(120_000))*time.Microsecond, func() { _ = s.cmd.Process.Kill() })
		var pushing sync.WaitGroup
		for _, p := range phones {
			pushing.Go(func() {
				if err := p.push(s.address); err != nil {
					t.Errorf("%s: %v", p.name, err)
				}
			})
		}
		pushing.Wait()
		_ = s.cmd.Process.Kill() // where a phone gave up
		if err := s.cmd.Wait(); err == nil || s.cmd.ProcessState.Exited() {
			t.Fatalf("the server ended by itself: %v\n%s", err, s.said)
		}
		if strings.Contains(s.said.String(), "written anew") || strings.Contains(s.said.String(), "level=ERROR") {
			t.Errorf("after a kill: %s", s.said)
		}
		if t.Failed() {
			return
		}
	}
	s := begin()
	stored := pullAll(t, s.address)
	if err := s.cmd.Process.Signal(os.Interrupt); err != nil {
		t.Error(err)
	}
	if err := s.cmd.Wait(); err != nil {
		t.Errorf("%v\n%s", err, s.said)
	}

	acked := 0
	for _, p := range phones {
		acked += len(p.acked)
		for id := range p.acked {
			if stored[id] != p.made[id] {
				t.Errorf("%s was acknowledged as %s and is stored as %q", id, p.made[id], stored[id])
			}
		}
		for id := range p.made {
			delete(stored, id)
		}
	}
	if len(stored) > 0 {
		t.Errorf("%d entries are stored that nobody sent: %v", len(stored), stored)
	}
	if acked < kills {
		t.Errorf("only %d entries were acknowledged", acked)
	}
	slices.Sort(starts)
	t.Logf("%d kills, %d entries acknowledged; start-up took %v in the middle, %v at most",
		kills, acked, starts[len(starts)/2].Round(time.Millisecond), starts[len(starts)-1].Round(time.Millisecond))
}

// pullAll gives the bodies of all entries by their id, as a new phone would get
// them. An entry that comes twice, or a gap in the numbers, fails the test.
func pullAll(t *testing.T, address string) map[string]string {
	t.Helper()
	bodies := map[string]string{}
	page := pullAnswer{More: true}
	for page.More {
		resp, err := http.Get(fmt.Sprintf("%s/api/v1/entries?limit=1000&after=%d&epoch=%s", address, page.Next, page.Epoch))
		if err != nil {
			t.Fatal(err)
		}
		page = pullAnswer{}
		err = json.NewDecoder(resp.Body).Decode(&page)
		resp.Body.Close()
		if err != nil || resp.StatusCode != http.StatusOK {
			t.Fatalf("status %d, %v", resp.StatusCode, err)
		}
		for _, item := range page.Entries {
			var e journal.Entry
			if err := json.Unmarshal(item.Entry, &e); err != nil {
				t.Fatal(err)
			}
			if _, twice := bodies[e.ID]; twice || item.Seq != uint64(len(bodies)+1) {
				t.Errorf("entry %d, %s: there twice %v, after %d others", item.Seq, e.ID, twice, len(bodies))
			}
			bodies[e.ID] = string(e.Body)
		}
	}
	return bodies
}
