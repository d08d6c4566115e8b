package main

import (
	"bytes"
	"encoding/json"
	"encoding/pem"
	"fmt"
	"io"
	"math/rand/v2"
	"net/http"
	"net/netip"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"packwright/internal/exchange"
	"packwright/internal/store"
)

// netServer is the real program on a machine of a network.
type netServer struct {
	*machine
	bin, data string
	cmd       *exec.Cmd
	shown     *watched // its terminal
}

// watched is a terminal that is read while it is written.
type watched struct {
	mu   sync.Mutex
	text bytes.Buffer
}

func (w *watched) Write(b []byte) (int, error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.text.Write(b)
}

func (w *watched) find(pattern string) string {
	w.mu.Lock()
	defer w.mu.Unlock()
	if found := regexp.MustCompile(pattern).FindSubmatch(w.text.Bytes()); found != nil {
		return string(found[1])
	}
	return ""
}

// serve starts the program and waits until it serves.
func (m *machine) serve(t *testing.T, bin string, flags ...string) *netServer {
	t.Helper()
	s := &netServer{machine: m, bin: bin, data: filepath.Join(m.dir, "data"), shown: &watched{}}
	s.cmd = exec.Command("ip", append([]string{"netns", "exec", m.space, bin, "serve", "--data", s.data}, flags...)...)
	s.cmd.Stdout, s.cmd.Stderr = s.shown, s.shown
	if err := s.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = s.cmd.Process.Kill(); _ = s.cmd.Wait() }) // where it was not stopped
	eventually(t, "the server comes up", 30*time.Second, func() error {
		_, err := s.here("GET", "/api/v1/health", nil, nil)
		return err
	})
	return s
}

// stop ends it as Ctrl-C does.
func (s *netServer) stop(t *testing.T) {
	t.Helper()
	if err := s.cmd.Process.Signal(os.Interrupt); err != nil {
		t.Fatal(err)
	}
	if err := s.cmd.Wait(); err != nil {
		t.Fatalf("%v: %s", err, s.shown.text.String())
	}
}

// here asks the server on its own machine's loopback.
func (s *netServer) here(method, path string, body []byte, answer any) (status int, err error) {
	req, err := http.NewRequest(method, "http://127.0.0.1:8080"+path, bytes.NewReader(body))
	if err != nil {
		return 0, err
	}
	req.Header.Set("Content-Type", "application/json")
	client := s.client()
	defer client.CloseIdleConnections()
	resp, err := client.Do(req)
	if err != nil {
		return 0, err
	}
	defer resp.Body.Close()
	content, err := io.ReadAll(resp.Body)
	if err != nil || resp.StatusCode != http.StatusOK {
		return resp.StatusCode, fmt.Errorf("%s: %w, %s", resp.Status, err, content)
	}
	if answer == nil {
		return resp.StatusCode, nil
	}
	return resp.StatusCode, json.Unmarshal(content, answer)
}

// fingerprint is what the terminal shows of the certificate, in two lines each of
// which begins with two spaces.
func (s *netServer) fingerprint() string {
	return strings.Join(strings.Fields(s.shown.find(`((?:  (?:[0-9A-F]{2}:){7}[0-9A-F]{2}\n){4})`)), ":")
}

// certificates gives those in a text of PEM blocks.
func certificates(text []byte) (found [][]byte) {
	for block, rest := pem.Decode(text); block != nil; block, rest = pem.Decode(rest) {
		if block.Type == "CERTIFICATE" {
			found = append(found, pem.EncodeToMemory(&pem.Block{Type: block.Type, Bytes: block.Bytes}))
		}
	}
	return found
}

// TestOnNetworkCertificate has OpenSSL judge, from another machine, the certificate
// that is served: for the name and for the address, and for the next address soon
// after that changes, without a restart. The name is found by multicast DNS all
// along. Somebody with the stolen key cannot vouch for anything elsewhere
// (RFC 5280, 4.2.1.10).
func TestOnNetworkCertificate(t *testing.T) {
	n := newNetwork(t)
	bin, err := buildBinary()
	if err != nil {
		t.Fatal(err)
	}
	laptop, phone := n.add(t, "laptop", "192.168.78.1"), n.add(t, "phone", "192.168.78.11")
	server := laptop.serve(t, bin, "--lan", "--name", "pit")
	find := func() (addr netip.Addr, err error) {
		err = phone.inside(func() (err error) {
			addr, err = askByHand("pit.local", 3*time.Second)
			return err
		})
		return addr, err
	}
	if addr, err := find(); err != nil || addr.String() != "192.168.78.1" {
		t.Fatalf("pit.local is %v, %v", addr, err)
	}

	resp, err := phone.client().Get("http://192.168.78.1:8088/ca.crt")
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	der, err := io.ReadAll(resp.Body)
	if err != nil {
		t.Fatal(err)
	}
	write := func(name string, content []byte) string {
		path := filepath.Join(phone.dir, name)
		if err := os.WriteFile(path, content, 0o600); err != nil {
			t.Fatal(err)
		}
		return path
	}
	root := write("root.pem", pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der}))
	if out, err := phone.run(t, "openssl", "x509", "-in", root, "-noout", "-fingerprint", "-sha256"); err != nil || !strings.Contains(out, "="+server.fingerprint()+"\n") {
		t.Fatalf("%v: the terminal shows %q, OpenSSL %s", err, server.fingerprint(), out)
	}
	connect := func(to string, args ...string) (string, error) {
		all := append([]string{"s_client", "-connect", to + ":8443", "-servername", "pit.local", "-showcerts", "-verify_return_error"}, args...)
		return phone.run(t, "openssl", all...)
	}
	if out, err := connect("192.168.78.1"); err == nil {
		t.Fatalf("trusted by whoever installed nothing: %s", out)
	}
	good := [][]string{{"-verify_hostname", "pit.local"}, {"-verify_ip", "192.168.78.1"}}
	for _, of := range good {
		if out, err := connect("192.168.78.1", append(of, "-CAfile", root, "-x509_strict")...); err != nil || !strings.Contains(out, "Verify return code: 0 (ok)") {
			t.Errorf("%v is refused: %v %s", of, err, out)
		}
	}
	for _, of := range [][]string{{"-verify_hostname", "den.local"}, {"-verify_ip", "192.168.78.2"}} {
		if out, err := connect("192.168.78.1", append(of, "-CAfile", root)...); err == nil {
			t.Errorf("taken for %v: %s", of, out)
		}
	}

	laptop.move(t, "10.20.30.1")
	phone.move(t, "10.20.30.11")
	moved := time.Now()
	eventually(t, "the name at the new address", 30*time.Second, func() error {
		if addr, err := find(); err != nil || addr.String() != "10.20.30.1" {
			return fmt.Errorf("%v, %w", addr, err)
		}
		return nil
	})
	found := time.Since(moved)
	var shown string
	eventually(t, "the certificate for the new address", 60*time.Second, func() (err error) {
		shown, err = connect("10.20.30.1", "-verify_ip", "10.20.30.1", "-CAfile", root, "-x509_strict")
		return err
	})
	t.Logf("after a change of addresses: the name was right after %v, the certificate after %v", found.Round(100*time.Millisecond), time.Since(moved).Round(100*time.Millisecond))

	if server.shown.find(`(welcome=http://10\.20\.30\.1:8088 app=https://10\.20\.30\.1:8443/join)`) == "" {
		t.Error("the terminal does not name the new address")
	}

	// A thief with a copy of the folder of keys.
	chain := certificates([]byte(shown))
	if len(chain) != 2 {
		t.Fatalf("%d certificates are served", len(chain))
	}
	issuer := write("issuer.pem", chain[1])
	key := filepath.Join(server.data+"-keys", "authority.pem")
	for name, outside := range map[string]bool{
		"IP:192.168.78.1": false, "DNS:pit.local": false, "IP:8.8.8.8": true, "IP:127.0.0.1": true, "DNS:packs.our-school.example": true, "DNS:den.local": true, "DNS:pit.local,IP:8.8.8.8": true,
	} {
		request, forged := filepath.Join(phone.dir, "request.pem"), filepath.Join(phone.dir, "forged.pem")
		if out, err := phone.run(t, "openssl", "req", "-new", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:P-256", "-nodes", "-keyout", filepath.Join(phone.dir, "key.pem"),
			"-subj", "/CN=thief", "-addext", "subjectAltName="+name, "-addext", "extendedKeyUsage=serverAuth", "-out", request); err != nil {
			t.Fatal(out)
		}
		if out, err := phone.run(t, "openssl", "x509", "-req", "-in", request, "-copy_extensions", "copy", "-CA", issuer, "-CAkey", key, "-days", "30", "-out", forged); err != nil {
			t.Fatal(out)
		}
		out, err := phone.run(t, "openssl", "verify", "-purpose", "sslserver", "-CAfile", root, "-untrusted", issuer, forged)
		if (err != nil) != outside || outside && !strings.Contains(out, "permitted subtree violation") {
			t.Errorf("%s: %v %s", name, err, out)
		}
	}
	server.stop(t)
}

// TestOnNetworkExchange has the laptop in the pits and the workshop's server exchange
// over a link that is cut and restored all the time, while phones push to both; halfway
// the laptop gets another address. At the end both hold the same entries, each once:
// those that were acknowledged and none that nobody sent.
func TestOnNetworkExchange(t *testing.T) {
	n := newNetwork(t)
	bin, err := buildBinary()
	if err != nil {
		t.Fatal(err)
	}
	pit, workshop := n.add(t, "pit", "192.168.78.1"), n.add(t, "workshop", "192.168.78.2")
	up := workshop.serve(t, bin, "--lan", "--name", "workshop")
	invited, err := workshop.run(t, bin, "invite", "--lead", "--data", up.data)
	code := regexp.MustCompile(`[0-9A-Z]{4}-[0-9A-Z]{4}`).FindString(invited)
	if err != nil || code == "" {
		t.Fatal(err, invited)
	}
	const address = "https://workshop.local:8443" // found by multicast DNS
	data := filepath.Join(pit.dir, "data")
	if out, err := pit.run(t, bin, "join", address, "--code", code, "--fingerprint", up.fingerprint(), "--name", "pit laptop", "--data", data); err != nil {
		t.Fatal(out)
	}
	down := pit.serve(t, bin, "--upstream", address, "--verbose")

	sent := make([]map[string]string, 2) // body of every note that was acknowledged, by id
	var writing sync.WaitGroup
	var over atomic.Bool
	for at, server := range []*netServer{up, down} {
		sent[at] = map[string]string{}
		writing.Go(func() {
			for number := at * 1_000_000; !over.Load(); number += 10 {
				var batch []json.RawMessage
				for i := range 10 {
					e := note(number+i, fmt.Sprint("note ", number+i, strings.Repeat(" and so on", 20)))
					sent[at][e.ID] = string(e.Body)
					batch = append(batch, mustJSON(e))
				}
				var answer pushAnswer
				if _, err := server.here("POST", "/api/v1/entries", mustJSON(map[string]any{"entries": batch}), &answer); err != nil {
					t.Error(err)
					return
				}
				for _, r := range answer.Results {
					if r.Status != store.Accepted {
						t.Errorf("%+v", r)
						return
					}
				}
				time.Sleep(50 * time.Millisecond)
			}
		})
	}
	seed := rand.Uint64()
	random := rand.New(rand.NewPCG(seed, 0))
	const cuts = 40
	for cut := range cuts {
		time.Sleep(time.Duration(20+random.IntN(400)) * time.Millisecond)
		side := [...]*machine{pit, workshop}[cut%2]
		side.link(t, "down")
		time.Sleep(time.Duration(5+random.IntN(300)) * time.Millisecond)
		if cut%10 == 9 {
			time.Sleep(3 * time.Second)
		}
		side.link(t, "up")
		if cut == cuts/2 {
			pit.move(t, "192.168.78.3") // its connections are dead, and nobody tells the other side
		}
	}
	over.Store(true)
	writing.Wait()
	ended := time.Now()
	var status exchange.Status
	eventually(t, "the exchange is done", 90*time.Second, func() error {
		if _, err := down.here("GET", "/api/v1/upstream", nil, &status); err != nil {
			return err
		}
		if status.ToSend > 0 || status.ToFetch > 0 || status.Problem != nil || status.Reachable == nil || !*status.Reachable {
			return fmt.Errorf("%+v", status)
		}
		return nil
	})
	settled := time.Since(ended)
	if status.HeldBackTotal > 0 {
		t.Errorf("%+v", status.HeldBack)
	}
	down.stop(t)
	up.stop(t)
	for _, server := range []*netServer{up, down} {
		stored := map[string]string{}
		out, err := server.run(t, bin, "journal", "--data", server.data)
		if err != nil {
			t.Fatal(out)
		}
		for line := range strings.Lines(out) {
			var e struct {
				ID   string          `json:"id"`
				Body json.RawMessage `json:"body"`
			}
			if err := json.Unmarshal([]byte(line), &e); err != nil {
				t.Fatal(err)
			}
			if _, twice := stored[e.ID]; twice {
				t.Errorf("%s is stored twice", e.ID)
			}
			stored[e.ID] = string(e.Body)
		}
		for _, those := range sent {
			for id, body := range those {
				if stored[id] != body {
					t.Errorf("%s is %q, want %q", id, stored[id], body)
				}
				delete(stored, id)
			}
		}
		if len(stored) > 0 {
			t.Errorf("%d entries that nobody sent", len(stored))
		}
	}
	failed := strings.Count(down.shown.text.String(), "again_in=")
	if failed == 0 {
		t.Error("no round was cut")
	}
	t.Logf("seed %d: %d cuts and a change of address, failed rounds %d, %d + %d entries; the same on both sides %v after the last cut", seed, cuts, failed, len(sent[0]), len(sent[1]), settled.Round(100*time.Millisecond))
}
