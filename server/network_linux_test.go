package main

import (
	"context"
	"errors"
	"fmt"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"testing"
	"time"

	"golang.org/x/sys/unix"
)

// network is a bridge in a network namespace of its own, with machines on it that
// nothing else can reach and that reach nothing else.
type network struct {
	id, bridge string
}

// mayMakeNetworks skips a test where namespaces are not permitted, such as for
// another user than root. Anything else that keeps them away fails the test.
func mayMakeNetworks(t *testing.T) {
	t.Helper()
	for _, tool := range []string{"ip", "openssl"} {
		if _, err := exec.LookPath(tool); err != nil && os.Getenv("CI") != "" {
			t.Fatalf("a network needs %s: %v", tool, err)
		} else if err != nil {
			t.Skipf("NOT CHECKED here, a network needs %s: %v", tool, err)
		}
	}
	probe := fmt.Sprintf("packwright-field-%d-may", os.Getpid())
	out, err := exec.Command("ip", "netns", "add", probe).CombinedOutput()
	if err != nil && (strings.Contains(string(out), "Operation not permitted") || strings.Contains(string(out), "Permission denied")) {
		t.Skipf("NOT CHECKED here, no network may be made: %s", out)
	}
	if err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	ip(t, "netns", "del", probe)
}

// TestOnNetworkMayBeMade is for a line of its own in a log (go test -v): whether
// the tests on a real network run here.
func TestOnNetworkMayBeMade(t *testing.T) { mayMakeNetworks(t) }

func ip(t *testing.T, args ...string) string {
	t.Helper()
	out, err := exec.Command("ip", args...).CombinedOutput()
	if err != nil {
		t.Fatalf("ip %s: %v: %s", strings.Join(args, " "), err, out)
	}
	return string(out)
}

func newNetwork(t *testing.T) *network {
	t.Helper()
	mayMakeNetworks(t)
	sweepNetworks(t)
	n := &network{id: fmt.Sprintf("packwright-field-%d-%x", os.Getpid(), time.Now().UnixNano()&0xffff)}
	n.bridge = n.addNamespace(t, "bridge")
	ip(t, "-n", n.bridge, "link", "add", "bridge", "type", "bridge")
	ip(t, "-n", n.bridge, "link", "set", "bridge", "up")
	return n
}

// sweepNetworks takes away what a run left behind that was killed.
func sweepNetworks(t *testing.T) {
	t.Helper()
	for line := range strings.Lines(ip(t, "netns", "list")) {
		space, _, _ := strings.Cut(strings.TrimSpace(line), " ")
		var maker int
		if _, err := fmt.Sscanf(space, "packwright-field-%d-", &maker); err != nil || unix.Kill(maker, 0) == nil {
			continue
		}
		for pid := range strings.FieldsSeq(ip(t, "netns", "pids", space)) {
			if n, err := strconv.Atoi(pid); err == nil {
				_ = unix.Kill(n, unix.SIGKILL) // it may have ended
			}
		}
		ip(t, "netns", "del", space)
	}
}

func (n *network) addNamespace(t *testing.T, name string) string {
	t.Helper()
	space := n.id + "-" + name
	ip(t, "netns", "add", space)
	t.Cleanup(func() { ip(t, "netns", "del", space) }) // its links go with it
	return space
}

// machine is one on the network.
type machine struct {
	space string
	file  *os.File // of its namespace
	dir   string
}

// add puts a machine on the network, with an address of a /24 network.
func (n *network) add(t *testing.T, name, address string) *machine {
	t.Helper()
	m := &machine{space: n.addNamespace(t, name), dir: t.TempDir()}
	var err error
	if m.file, err = os.Open(filepath.Join("/run/netns", m.space)); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { m.file.Close() })
	ip(t, "-n", n.bridge, "link", "add", name, "type", "veth", "peer", "name", "wlan0", "netns", m.space)
	ip(t, "-n", n.bridge, "link", "set", name, "master", "bridge", "up")
	ip(t, "-n", m.space, "link", "set", "lo", "up")
	m.link(t, "up")
	m.move(t, address)
	return m
}

// link sets the machine's link up or down.
func (m *machine) link(t *testing.T, state string) {
	t.Helper()
	ip(t, "-n", m.space, "link", "set", "wlan0", state)
}

// move gives the machine another address, as after a change of router.
func (m *machine) move(t *testing.T, address string) {
	t.Helper()
	ip(t, "-n", m.space, "-4", "address", "flush", "dev", "wlan0")
	ip(t, "-n", m.space, "address", "add", address+"/24", "broadcast", "+", "dev", "wlan0")
}

// run runs a program on the machine and gives what it printed.
func (m *machine) run(t *testing.T, program string, args ...string) (string, error) {
	t.Helper()
	out, err := exec.CommandContext(t.Context(), "ip", append([]string{"netns", "exec", m.space, program}, args...)...).CombinedOutput()
	return string(out), err
}

// inside calls do as a program on the machine would: on a thread in its namespace,
// which ends with it.
func (m *machine) inside(do func() error) error {
	done := make(chan error, 1)
	go func() {
		runtime.LockOSThread() // and never unlocked: no other goroutine may have this thread
		if err := unix.Setns(int(m.file.Fd()), unix.CLONE_NEWNET); err != nil {
			done <- err
			return
		}
		done <- do()
	}()
	return <-done
}

// client asks as a program on the machine does, for addresses given as numbers.
func (m *machine) client() *http.Client {
	return &http.Client{Timeout: 20 * time.Second, Transport: &http.Transport{
		DialContext: func(ctx context.Context, network, to string) (conn net.Conn, err error) {
			err = m.inside(func() (err error) {
				conn, err = (&net.Dialer{}).DialContext(ctx, network, to)
				return err
			})
			return conn, err
		},
	}}
}

// eventually waits until a check holds.
func eventually(t *testing.T, what string, patience time.Duration, check func() error) {
	t.Helper()
	err := errors.New("not checked yet")
	for end := time.Now().Add(patience); time.Now().Before(end); time.Sleep(200 * time.Millisecond) {
		if err = check(); err == nil {
			return
		}
	}
	t.Fatalf("%s: %v", what, err)
}
