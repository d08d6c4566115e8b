package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"packwright/internal/journal"
)

// The load of BenchmarkSync, the same for every server.
const (
	benchClients = 20
	benchBatches = 20 // of each client
	benchBatch   = 50 // entries
	benchSingles = 200
	benchPage    = 500
)

// BenchmarkSync runs the same load against packwright and, where PEER names its
// start script, a general-purpose sync server, each as a process of its own:
// 20 clients push batches of 50, one client pulls everything in pages of 500,
// one client pushes 200 entries singly, then 20 clients do. packwright has
// fsynced what it acknowledges (fsync-ms says what one costs here); the peer does
// not sync each write.
func BenchmarkSync(b *testing.B) {
	b.Run("packwright", func(b *testing.B) { benchSync(b, startPackwright) })
	b.Run("peer", func(b *testing.B) {
		if os.Getenv("PEER") == "" {
			b.Skip("PEER is not set: make bench sets it")
		}
		benchSync(b, startPeer)
	})
}

// syncServer is what the load needs of a server.
type syncServer interface {
	push(entries []json.RawMessage) error
	pull(limit int) (entries int, err error) // everything, from the start
	pid() int
}

func benchSync(b *testing.B, start func(testing.TB) syncServer) {
	for b.Loop() {
		b.StopTimer()
		srv := start(b)
		b.StartTimer()

		total := benchClients * benchBatches * benchBatch
		batches, took := pushAll(b, srv, benchClients, benchBatches, benchBatch)
		b.ReportMetric(float64(total)/took.Seconds(), "push/s")
		b.ReportMetric(ms(quantile(batches, 0.50)), "batch-p50-ms")
		b.ReportMetric(ms(quantile(batches, 0.99)), "batch-p99-ms")

		began := time.Now()
		got, err := srv.pull(benchPage)
		if err != nil {
			b.Fatal(err)
		}
		if got != total {
			b.Fatalf("pulled %d entries of %d", got, total)
		}
		b.ReportMetric(float64(total)/time.Since(began).Seconds(), "pull/s")

		singles, _ := pushAll(b, srv, 1, benchSingles, 1)
		b.ReportMetric(ms(quantile(singles, 0.50)), "single-p50-ms")
		b.ReportMetric(ms(quantile(singles, 0.99)), "single-p99-ms")
		crowd, took := pushAll(b, srv, benchClients, benchSingles, 1)
		b.ReportMetric(float64(len(crowd))/took.Seconds(), "single20/s")
		b.ReportMetric(ms(quantile(crowd, 0.99)), "single20-p99-ms")
		b.ReportMetric(residentMB(srv.pid()), "rss-MB")
		b.ReportMetric(ms(fsyncTime(b)), "fsync-ms")
	}
}

// pushAll has clients push batches of size entries each, all at once, and gives
// how long each push took and how long all of them did.
func pushAll(b *testing.B, srv syncServer, clients, batches, size int) ([]time.Duration, time.Duration) {
	b.Helper()
	work := make([][][]json.RawMessage, clients)
	for c := range work {
		for range batches {
			work[c] = append(work[c], benchEntries(size))
		}
	}
	took := make([][]time.Duration, clients)
	failed := make([]error, clients)
	var wait sync.WaitGroup
	began := time.Now()
	for c := range work {
		wait.Go(func() {
			for _, batch := range work[c] {
				start := time.Now()
				if failed[c] = srv.push(batch); failed[c] != nil {
					return
				}
				took[c] = append(took[c], time.Since(start))
			}
		})
	}
	wait.Wait()
	all := time.Since(began)
	for _, err := range failed {
		if err != nil {
			b.Fatal(err)
		}
	}
	return slices.Concat(took...), all
}

var benchSerial struct {
	sync.Mutex
	n uint64
}

// benchEntries makes new load tests of about 400 bytes.
func benchEntries(n int) []json.RawMessage {
	code, err := journal.NewCode(make([]byte, 64))
	if err != nil {
		panic(err) // the same bytes give the same code each time
	}
	out := make([]json.RawMessage, n)
	for i := range out {
		benchSerial.Lock()
		benchSerial.n++
		serial := benchSerial.n
		benchSerial.Unlock()
		var random [10]byte
		for k := range 8 {
			random[9-k] = byte(serial >> (8 * k))
		}
		now := uint64(1_790_000_000_000) + serial
		out[i] = fmt.Appendf(nil, `{"id":%q,"v":1,"kind":"load-test","pack":%q,"device":"bench-0123456789abcdef","by":"AB",`+
			`"hlc":"%013d-0000","body":{"method":"known-load","open_v":[12.84,12.84,12.83],"loaded_v":[12.71,12.70,12.71],`+
			`"load_ohm":10,"load_tolerance_pct":1,"lead_ohm":0.01,"meter":{"reading_pct":0.5,"counts":2,"resolution_v":0.01},`+
			`"read_after_s":5,"temperature_c":21.5,"charge":"full","rested_min":75,"note":"after the second practice"}}`,
			journal.NewID(int64(now), random), code, now)
	}
	return out
}

type packwrightServer struct {
	cmd  *exec.Cmd
	base string
}

func startPackwright(b testing.TB) syncServer {
	b.Helper()
	self, err := os.Executable()
	if err != nil {
		b.Fatal(err)
	}
	door := filepath.Join(b.TempDir(), "packwright") // the test binary is packwright under that name
	if err := os.Symlink(self, door); err != nil {
		b.Fatal(err)
	}
	port := freePort(b)
	s := &packwrightServer{base: "http://127.0.0.1:" + port}
	s.cmd = startProcess(b, s.base+"/api/v1/health", door, "serve", "--data", b.TempDir(), "--listen", "127.0.0.1:"+port)
	return s
}

func (s *packwrightServer) pid() int { return s.cmd.Process.Pid }

func (s *packwrightServer) push(entries []json.RawMessage) error {
	body, err := json.Marshal(map[string]any{"entries": entries})
	if err != nil {
		return err
	}
	var answer struct {
		Results []struct{ Status, Reason string }
	}
	if err := talk("POST", s.base+"/api/v1/entries", body, &answer); err != nil {
		return err
	}
	if len(answer.Results) != len(entries) {
		return fmt.Errorf("%d results for %d entries", len(answer.Results), len(entries))
	}
	for _, r := range answer.Results {
		if r.Status != "accepted" {
			return fmt.Errorf("an entry was %s: %s", r.Status, r.Reason)
		}
	}
	return nil
}

func (s *packwrightServer) pull(limit int) (int, error) {
	var count int
	var page struct {
		Epoch   string
		Entries []json.RawMessage
		Next    uint64
		More    bool
	}
	query := ""
	for {
		page.Entries = nil
		if err := talk("GET", s.base+"/api/v1/entries?limit="+strconv.Itoa(limit)+query, nil, &page); err != nil {
			return count, err
		}
		count += len(page.Entries)
		if !page.More {
			return count, nil
		}
		query = fmt.Sprintf("&epoch=%s&after=%d", page.Epoch, page.Next)
	}
}

// peerServer speaks the document-database protocol of the peer.
type peerServer struct {
	cmd  *exec.Cmd
	base string
}

func startPeer(b testing.TB) syncServer {
	b.Helper()
	dir, port := b.TempDir(), freePort(b)
	s := &peerServer{base: "http://127.0.0.1:" + port + "/bench"}
	s.cmd = startProcess(b, "http://127.0.0.1:"+port+"/", "node", os.Getenv("PEER"), "-p", port, "-o", "127.0.0.1",
		"-d", filepath.Join(dir, "db"), "-c", filepath.Join(dir, "config.json"), "-n")
	if err := talk("PUT", s.base, nil, nil); err != nil {
		b.Fatal(err)
	}
	return s
}

func (s *peerServer) pid() int { return s.cmd.Process.Pid }

func (s *peerServer) push(entries []json.RawMessage) error {
	docs := make([]json.RawMessage, len(entries))
	for i, e := range entries { // the same members, with the id under the peer's name for it
		docs[i] = bytes.Replace(e, []byte(`{"id":`), []byte(`{"_id":`), 1)
	}
	body, err := json.Marshal(map[string]any{"docs": docs})
	if err != nil {
		return err
	}
	var answer []struct {
		OK    bool
		Error string
	}
	if err := talk("POST", s.base+"/_bulk_docs", body, &answer); err != nil {
		return err
	}
	for _, r := range answer {
		if !r.OK {
			return fmt.Errorf("a document was not stored: %s", r.Error)
		}
	}
	return nil
}

func (s *peerServer) pull(limit int) (int, error) {
	count, since := 0, "0"
	for {
		var page struct {
			Results []json.RawMessage
			LastSeq json.RawMessage `json:"last_seq"`
		}
		if err := talk("GET", s.base+"/_changes?include_docs=true&limit="+strconv.Itoa(limit)+"&since="+since, nil, &page); err != nil {
			return count, err
		}
		if len(page.Results) == 0 {
			return count, nil
		}
		count, since = count+len(page.Results), strings.Trim(string(page.LastSeq), `"`)
	}
}

var benchClient = &http.Client{
	Timeout:   time.Minute,
	Transport: &http.Transport{MaxIdleConnsPerHost: benchClients, DisableCompression: true},
}

func talk(method, url string, body []byte, into any) error {
	req, err := http.NewRequest(method, url, bytes.NewReader(body))
	if err != nil {
		return err
	}
	req.Header.Set("Content-Type", "application/json")
	resp, err := benchClient.Do(req)
	if err != nil {
		return err
	}
	defer resp.Body.Close()
	content, err := io.ReadAll(resp.Body)
	if err != nil {
		return err
	}
	if resp.StatusCode >= 300 {
		return fmt.Errorf("%s %s: %s: %.200s", method, url, resp.Status, content)
	}
	if into == nil {
		return nil
	}
	return json.Unmarshal(content, into)
}

// startProcess starts a server and waits until it answers.
func startProcess(b testing.TB, ready, name string, args ...string) *exec.Cmd {
	b.Helper()
	cmd := exec.Command(name, args...)
	cmd.Dir = b.TempDir() // the peer writes a log where it stands
	cmd.Stderr = os.Stderr
	if err := cmd.Start(); err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() {
		cmd.Process.Kill()
		cmd.Wait()
	})
	for range 400 {
		if resp, err := benchClient.Get(ready); err == nil {
			resp.Body.Close()
			return cmd
		}
		time.Sleep(25 * time.Millisecond)
	}
	b.Fatalf("%s did not answer", name)
	return nil
}

func freePort(b testing.TB) string {
	b.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		b.Fatal(err)
	}
	defer l.Close()
	_, port, _ := net.SplitHostPort(l.Addr().String())
	return port
}

// fsyncTime is the median time that writing and syncing 4 KiB takes.
func fsyncTime(b testing.TB) time.Duration {
	b.Helper()
	f, err := os.Create(filepath.Join(b.TempDir(), "sync"))
	if err != nil {
		b.Fatal(err)
	}
	defer f.Close()
	var took []time.Duration
	for range 50 {
		start := time.Now()
		if _, err := f.Write(make([]byte, 4096)); err != nil {
			b.Fatal(err)
		}
		if err := f.Sync(); err != nil {
			b.Fatal(err)
		}
		took = append(took, time.Since(start))
	}
	return quantile(took, 0.5)
}

func quantile(d []time.Duration, q float64) time.Duration {
	sorted := slices.Sorted(slices.Values(d))
	return sorted[min(int(q*float64(len(sorted))), len(sorted)-1)]
}

func ms(d time.Duration) float64 { return float64(d.Microseconds()) / 1000 }

// residentMB reads a process's resident memory where /proc tells it, else 0.
func residentMB(pid int) float64 {
	status, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", pid))
	if err != nil {
		return 0
	}
	for line := range strings.Lines(string(status)) {
		if value, ok := strings.CutPrefix(line, "VmRSS:"); ok {
			kb, _ := strconv.ParseFloat(strings.Fields(value)[0], 64)
			return kb / 1024
		}
	}
	return 0
}
