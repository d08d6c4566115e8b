package main

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"packwright/internal/store"
)

// A season's file is more than one request may hold, in entries and in bytes; a line
// that is too long for any entry is passed over, and so is text that a browser would
// escape.
func TestTakeInLarge(t *testing.T) {
	dir := t.TempDir()
	var file bytes.Buffer
	file.WriteString("\xef\xbb\xbf")
	const count = 1200
	for n := range count {
		if n == 700 {
			fmt.Fprintf(&file, "%q\r\n", strings.Repeat("x", 3*maxBodyBytes))
		}
		file.Write(mustJSON(note(n+1, fmt.Sprint(n, strings.Repeat("<&>", 500)))))
		file.WriteString("\r\n")
	}
	phone := filepath.Join(dir, "phone.jsonl")
	if err := os.WriteFile(phone, file.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	take := func(data string) (int, string, string) {
		var out, said bytes.Buffer
		status := run(t.Context(), []string{"take-in", phone, "--data", data}, &out, &said)
		return status, out.String(), said.String()
	}
	closed := filepath.Join(dir, "closed")
	for _, want := range []string{"new: 1200, known already: 0, refused: 1\n", "new: 0, known already: 1200, refused: 1\n"} {
		if status, out, said := take(closed); status != exitFailed || out != want || !strings.Contains(said, "line 701: the line is too long") {
			t.Errorf("%d, %s%s", status, out, said)
		}
	}
	for item, err := range store.ReadFile(closed) {
		if err != nil || item.BroughtBy != here.ID {
			t.Fatalf("%+v, %v", item, err)
		}
	}

	running := filepath.Join(dir, "running")
	stop := serveHere(t, running)
	status, out, said := take(running)
	if status != exitFailed || out != "new: 1200, known already: 0, refused: 1\n" {
		t.Errorf("%d, %s%s", status, out, said)
	}
	stop()
}

// serveHere runs packwright serve on a folder, for this machine only.
func serveHere(t *testing.T, data string) (stop func()) {
	t.Helper()
	ctx, cancel := context.WithCancel(t.Context())
	ended := make(chan int, 1)
	var said bytes.Buffer
	go func() {
		ended <- run(ctx, []string{"serve", "--data", data, "--listen", "127.0.0.1:0"}, &said, &said)
	}()
	for range 400 {
		if address, locked := store.Locked(data); locked && address != "" && answers(address) == nil {
			return func() {
				cancel()
				if status := <-ended; status != exitDone {
					t.Error(said.String())
				}
			}
		}
		time.Sleep(25 * time.Millisecond)
	}
	cancel()
	t.Fatal("no server came up")
	return nil
}
