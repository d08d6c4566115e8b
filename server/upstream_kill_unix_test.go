//go:build unix

package main

import (
	"bufio"
	"bytes"
	"fmt"
	"maps"
	"math/rand/v2"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"
)

// process is one of two real servers that exchange with each other.
type process struct {
	bin, dir, listen string
	more             []string // flags
	cmd              *exec.Cmd
	said             *bytes.Buffer
}

func (p *process) address() string { return "http://" + p.listen }

func (p *process) start(t *testing.T) {
	t.Helper()
	p.said = &bytes.Buffer{}
	p.cmd = exec.Command(p.bin, append([]string{"serve", "--data", p.dir, "--listen", p.listen}, p.more...)...)
	p.cmd.Stderr = p.said
	out, err := p.cmd.StdoutPipe()
	if err == nil {
		err = p.cmd.Start()
	}
	if err != nil {
		t.Fatal(err)
	}
	hung := time.AfterFunc(20*time.Second, func() { _ = p.cmd.Process.Kill() })
	_, err = bufio.NewReader(out).ReadString('\n')
	if err == nil {
		err = answers(p.address())
	}
	if !hung.Stop() || err != nil {
		_ = p.cmd.Process.Kill()
		t.Fatalf("the server did not come up: %v, %v\n%s", err, p.cmd.Wait(), p.said)
	}
}

// kill is kill -9.
func (p *process) kill(t *testing.T) {
	t.Helper()
	_ = p.cmd.Process.Kill()
	if err := p.cmd.Wait(); err == nil || p.cmd.ProcessState.Exited() {
		t.Fatalf("the server ended by itself: %v\n%s", err, p.said)
	}
	if strings.Contains(p.said.String(), "level=ERROR") {
		t.Errorf("after a kill: %s", p.said)
	}
}

// freeAddress is an address on loopback that nobody listens on.
func freeAddress(t *testing.T) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	return l.Addr().String()
}

// TestExchangeKilled joins two real servers, kills one or the other at random
// moments while phones push to both, and starts it again. At the end both hold
// everything that was acknowledged by either, once, and nothing that nobody sent.
func TestExchangeKilled(t *testing.T) {
	bin, err := buildBinary()
	if err != nil {
		t.Fatal(err)
	}
	kills := 20
	if testing.Short() {
		kills = 6
	}
	seed := rand.Uint64()
	t.Log("seed ", seed)
	random := rand.New(rand.NewPCG(seed, 0))
	root := t.TempDir()
	up := &process{bin: bin, dir: filepath.Join(root, "up"), listen: freeAddress(t)}
	down := &process{bin: bin, dir: filepath.Join(root, "down"), listen: freeAddress(t), more: []string{"--upstream", up.address()}}
	up.start(t)
	if out, err := exec.Command(bin, "join", up.address(), "--data", down.dir).CombinedOutput(); err != nil {
		t.Fatalf("join: %v\n%s", err, out)
	}
	down.start(t)
	t.Cleanup(func() {
		for _, p := range []*process{up, down} {
			_ = p.cmd.Process.Kill()
		}
	})
	senders := map[*process]*sender{}
	for i, p := range []*process{up, down} {
		senders[p] = &sender{name: fmt.Sprint("phone ", i), next: i * 1_000_000, acked: map[string]bool{}, made: map[string]string{}}
	}
	var pushing sync.WaitGroup
	push := func(p *process) {
		pushing.Go(func() {
			if err := senders[p].push(p.address()); err != nil {
				t.Errorf("%s: %v", senders[p].name, err)
			}
		})
	}
	rest := func() { time.Sleep(time.Duration(random.IntN(100_000)) * time.Microsecond) }
	for range kills / 2 {
		push(up)
		push(down)
		rest()
		first, second := up, down
		if random.IntN(2) == 0 {
			first, second = down, up
		}
		first.kill(t)
		if random.IntN(2) == 0 { // the other one notices that it has gone, or has come back
			first.start(t)
			rest()
			second.kill(t)
		} else {
			rest()
			second.kill(t)
			first.start(t)
		}
		second.start(t)
		pushing.Wait()
		if t.Failed() {
			return
		}
	}
	made, acked := map[string]string{}, map[string]bool{}
	for _, s := range senders {
		maps.Copy(made, s.made)
		maps.Copy(acked, s.acked)
	}
	deadline := time.Now().Add(20 * time.Second)
	var there, here map[string]string
	for {
		there, here = pullAll(t, up.address()), pullAll(t, down.address())
		if maps.Equal(there, here) || time.Now().After(deadline) {
			break
		}
		time.Sleep(50 * time.Millisecond)
	}
	if !maps.Equal(there, here) {
		t.Errorf("one server holds %d entries, the other %d", len(there), len(here))
	}
	for id := range acked {
		if there[id] != made[id] {
			t.Errorf("%s was acknowledged as %s and is stored as %q", id, made[id], there[id])
		}
	}
	for id, text := range there {
		if made[id] != text {
			t.Errorf("%s is stored as %s, and nobody sent that", id, text)
		}
	}
	for _, p := range []*process{up, down} {
		if err := p.cmd.Process.Signal(os.Interrupt); err != nil {
			t.Error(err)
		}
		if err := p.cmd.Wait(); err != nil {
			t.Errorf("%v\n%s", err, p.said)
		}
	}
	if len(acked) < 2*kills {
		t.Errorf("only %d entries were acknowledged", len(acked))
	}
	t.Logf("%d kills, %d entries acknowledged, %d on both", kills, len(acked), len(there))
}
