package main

import (
	"bytes"
	"context"
	"crypto/tls"
	"crypto/x509"
	"encoding/binary"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"golang.org/x/net/dns/dnsmessage"
)

// TestACME has the real program get a certificate from a test server for ACME
// (pebble), which asks back at the program's own doors: once at the encrypted one
// (tls-alpn-01, RFC 8737), and once where only the plain one can be reached
// (http-01, RFC 8555, 8.3). PEBBLE is the path of the test server; make go-test
// puts it there.
func TestACME(t *testing.T) {
	pebble := os.Getenv("PEBBLE")
	switch {
	case pebble == "" && os.Getenv("CI") != "":
		t.Fatal("PEBBLE is not set: run make go-test")
	case pebble == "":
		t.Skip("PEBBLE is not set: make go-test sets it")
	case runtime.GOOS != "linux":
		t.Skip("only there SSL_CERT_FILE says whom the program trusts")
	}
	const domain = "packs.our-school.example"
	for name, encryptedReachable := range map[string]bool{"tls-alpn-01": true, "http-01": false} {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			secure, plain, asked := freePort(t), freePort(t), freePort(t)
			if encryptedReachable {
				asked = secure
			}
			directory, management := startPebble(t, pebble, dir, asked, plain)

			bin, err := buildBinary()
			if err != nil {
				t.Fatal(err)
			}
			var out bytes.Buffer
			serve := exec.Command(bin, "serve", "--verbose", "--data", filepath.Join(dir, "d"), "--listen", "127.0.0.1:0",
				"--domain", domain, "--acme", directory, "--https", "127.0.0.1:"+secure, "--welcome", "127.0.0.1:"+plain)
			serve.Env = append(os.Environ(), "SSL_CERT_FILE="+filepath.Join(dir, "cert.pem"))
			serve.Stdout, serve.Stderr = &out, &out
			start(t, serve)

			roots := x509.NewCertPool()
			roots.AppendCertsFromPEM(fetchFrom(t, management+"/roots/0"))
			var conn *tls.Conn
			for range 300 { // until the program has the certificate
				conn, err = tls.DialWithDialer(&net.Dialer{Timeout: 30 * time.Second}, "tcp", "127.0.0.1:"+secure,
					&tls.Config{ServerName: domain, RootCAs: roots})
				if err == nil {
					break
				}
				time.Sleep(100 * time.Millisecond)
			}
			if err != nil {
				t.Fatalf("%v\n%s", err, out.String())
			}
			conn.Close()
			if _, err := tls.Dial("tcp", "127.0.0.1:"+secure, &tls.Config{ServerName: "elsewhere.example", InsecureSkipVerify: true}); err == nil {
				t.Error("a certificate for another name")
			}
			kept, err := filepath.Glob(filepath.Join(dir, "d-keys", "acme", domain+"*"))
			if err != nil || len(kept) == 0 {
				t.Errorf("the certificate was not kept: %v", err)
			}
			for _, f := range kept {
				if info, err := os.Stat(f); err != nil || info.Mode().Perm() != 0o600 {
					t.Errorf("%s has mode %v", f, info.Mode())
				}
			}
			client := &http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
			resp, err := client.Get("http://127.0.0.1:" + plain + "/p/7K3QX9")
			if err != nil {
				t.Fatal(err)
			}
			resp.Body.Close()
			if want := "https://" + domain + ":" + secure + "/p/7K3QX9"; resp.Header.Get("Location") != want {
				t.Errorf("plain HTTP leads to %q", resp.Header.Get("Location"))
			}
		})
	}
}

// Why there is no certificate is said, and stopping does not wait for an attempt.
func TestFetchCertificate(t *testing.T) {
	var log bytes.Buffer
	logger := slog.New(slog.NewTextHandler(&log, nil))
	hanging := make(chan struct{})
	defer close(hanging)
	for name, fetch := range map[string]func(*tls.ClientHelloInfo) (*tls.Certificate, error){
		"refused": func(*tls.ClientHelloInfo) (*tls.Certificate, error) { return nil, errors.New("the authority said no") },
		"hanging": func(*tls.ClientHelloInfo) (*tls.Certificate, error) { <-hanging; return nil, nil },
	} {
		log.Reset()
		ctx, cancel := context.WithTimeout(t.Context(), 50*time.Millisecond)
		f := &field{way: wayDomain, host: "packs.our-school.example", fetch: fetch}
		f.tend(ctx, logger)
		cancel()
		if got := strings.Contains(log.String(), "the authority said no"); got != (name == "refused") {
			t.Errorf("%s: log %q", name, log.String())
		}
	}
}

// startPebble starts the test server, which asks back at the ports, and a name
// server that knows one address for everything.
func startPebble(t *testing.T, pebble, dir, tlsPort, httpPort string) (directory, management string) {
	t.Helper()
	own := writeCertificate(t, dir, "localhost", 1)
	listen, manage := "localhost:"+freePort(t), "localhost:"+freePort(t)
	config := fmt.Sprintf(`{"pebble": {"listenAddress": %q, "managementListenAddress": %q, "certificate": %q, "privateKey": %q,
		"tlsPort": %s, "httpPort": %s, "keyAlgorithm": "ecdsa", "retryAfter": {"authz": 1, "order": 1}}}`, listen, manage, own.Cert, own.Key, tlsPort, httpPort)
	if !json.Valid([]byte(config)) {
		t.Fatal(config)
	}
	file := filepath.Join(dir, "pebble.json")
	if err := os.WriteFile(file, []byte(config), 0o600); err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(pebble, "-config", file, "-dnsserver", nameServer(t))
	cmd.Env = append(os.Environ(), "PEBBLE_VA_NOSLEEP=1")
	start(t, cmd)
	for range 100 {
		if conn, err := net.Dial("tcp", manage); err == nil {
			conn.Close()
			return "https://" + listen + "/dir", "https://" + manage
		}
		time.Sleep(50 * time.Millisecond)
	}
	t.Fatal("pebble did not start")
	return "", ""
}

// nameServer answers every question for an IPv4 address with this machine's own,
// over TCP (RFC 1035, 4.2.2), as pebble asks.
func nameServer(t *testing.T) (address string) {
	t.Helper()
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { listener.Close() })
	go func() {
		for {
			conn, err := listener.Accept()
			if err != nil {
				return
			}
			go answerNames(conn)
		}
	}()
	return listener.Addr().String()
}

func answerNames(conn net.Conn) {
	defer conn.Close()
	for {
		var length uint16
		if binary.Read(conn, binary.BigEndian, &length) != nil {
			return
		}
		asked := make([]byte, length)
		var m dnsmessage.Message
		if _, err := io.ReadFull(conn, asked); err != nil || m.Unpack(asked) != nil || len(m.Questions) != 1 {
			return
		}
		answer := dnsmessage.Message{Header: dnsmessage.Header{ID: m.ID, Response: true, RecursionAvailable: true}, Questions: m.Questions}
		if q := m.Questions[0]; q.Type == dnsmessage.TypeA {
			answer.Answers = []dnsmessage.Resource{{Header: dnsmessage.ResourceHeader{Name: q.Name, Class: q.Class, TTL: 1},
				Body: &dnsmessage.AResource{A: [4]byte{127, 0, 0, 1}}}}
		}
		packed, err := answer.Pack()
		if err != nil {
			return
		}
		conn.Write(append(binary.BigEndian.AppendUint16(nil, uint16(len(packed))), packed...))
	}
}

// start starts a program that ends with the test.
func start(t *testing.T, cmd *exec.Cmd) {
	t.Helper()
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		cmd.Process.Signal(os.Interrupt)
		cmd.Wait()
	})
}

// fetchFrom gets a file of pebble's, whose own certificate is made for the test.
func fetchFrom(t *testing.T, url string) []byte {
	t.Helper()
	client := &http.Client{Transport: &http.Transport{TLSClientConfig: &tls.Config{InsecureSkipVerify: true}}}
	resp, err := client.Get(url)
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	content, err := io.ReadAll(resp.Body)
	if err != nil {
		t.Fatal(err)
	}
	return content
}
