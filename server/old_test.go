package main

import (
	"bytes"
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"maps"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"packwright/internal/core"
	"packwright/internal/exchange"
	"packwright/internal/store"
)

// oldFolder is a data folder as the first released format left it, without index
// and mark. Its file is never made anew: it stands for what is out there. Of its six
// entries one is of a kind and one of a version that this program does not know.
func oldFolder(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	if err := os.CopyFS(dir, os.DirFS(filepath.Join("testdata", "old"))); err != nil {
		t.Fatal(err)
	}
	return dir
}

// A database of the first format stays usable: every entry is there as it was,
// they add up, new ones go behind them, and they pass through two servers and a
// phone unchanged, those included that nobody here understands.
func TestOldDatabase(t *testing.T) {
	dir := oldFolder(t)
	want := map[string]string{}
	for item, err := range store.ReadFile(dir) {
		if err != nil {
			t.Fatal(err)
		}
		want[idOf(item.Entry)] = string(item.Entry)
	}
	if len(want) != 6 {
		t.Fatalf("%d entries in the old file", len(want))
	}
	kept, err := store.Open(dir, store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer kept.Close()
	first, second := newNode(t), newNode(t)
	first.store = kept
	check := func(what string, got map[string]string) {
		t.Helper()
		if !maps.Equal(got, want) {
			t.Errorf("%s holds %v, want %v", what, got, want)
		}
	}
	check("the old server", first.held(t))
	state, err := fold(kept.All())
	if err != nil {
		t.Fatal(err)
	}
	if pack, err := state.Pack("191VCY", 1764060000000); err != nil || pack.Name != "Pack 7" || len(pack.History) == 0 {
		t.Errorf("the pack is %+v, %v", pack, err)
	}

	// The second server fetches them; a phone of the second makes one more of each sort.
	x := second.newExchange(t, exchange.Link{URL: first.url}, exchange.Options{})
	if err := x.Round(t.Context()); err != nil {
		t.Fatal(err)
	}
	check("the other server", second.held(t))
	for _, raw := range []string{
		`{"body":{"a":[1,{"b":null}]},"device":"phone-3","hlc":"1764060000009-0000","id":"01KAXW5Y00000000000000001A","kind":"of-tomorrow","v":1}`,
		`{"body":{},"device":"phone-3","hlc":"1764060000009-0001","id":"01KAXW5Y00000000000000001B","kind":"note","more":{"x":1},"v":9}`,
	} {
		second.send(t, []byte(`{"entries":[`+raw+`]}`))
		want[idOf([]byte(raw))] = raw
	}
	if err := x.Round(t.Context()); err != nil {
		t.Fatal(err)
	}
	check("the old server", first.held(t))

	phone := core.New() // what a phone of the old server makes of all that
	var raws []json.RawMessage
	for _, item := range pulled(t, first.server, "", 0, 100).Entries {
		raws = append(raws, item.Entry)
	}
	answer, err := phone.Call("add-entries", mustJSON(map[string]any{"entries": raws}))
	var added core.AddEntriesAnswer
	if err == nil {
		err = json.Unmarshal(answer, &added)
	}
	if err != nil || added.Added != len(want) || len(added.Refused) > 0 {
		t.Errorf("a phone takes %+v, %v", added, err)
	}
}

// A database of a format that this program does not know is refused in words, by
// every command that would open it, before anything in it is touched.
func TestDatabaseOfAnotherFormat(t *testing.T) {
	for _, format := range []int{2, 99} {
		dir := oldFolder(t)
		body := fmt.Sprintf(`{"packwright":"journal","format":%d,"epoch":"e","made_ms":1,"about":""`, format)
		text := fmt.Sprintf("%s,\"sha256\":\"%x\"}\nlines of another time\n", body, sha256.Sum256([]byte(body)))
		if err := os.WriteFile(filepath.Join(dir, "journal.jsonl"), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		before := filesIn(t, dir)
		for _, args := range [][]string{{"serve", "--listen", "127.0.0.1:0"}, {"journal"}, {"demo"}, {"labels", "--out", filepath.Join(t.TempDir(), "labels.pdf")}} {
			var said bytes.Buffer
			status := run(t.Context(), append(args, "--data", dir), &said, &said)
			if status != exitFailed || !strings.Contains(said.String(), fmt.Sprintf("format %d", format)) || !strings.Contains(said.String(), "update packwright") {
				t.Errorf("format %d, %s: status %d, %s", format, args[0], status, &said)
			}
			if after := filesIn(t, dir); !maps.Equal(before, after) {
				t.Errorf("format %d, %s: the folder changed to %v", format, args[0], slices.Sorted(maps.Keys(after)))
			}
		}
		if _, err := os.Stat(dir + "-keys"); err == nil {
			t.Errorf("format %d: a folder of keys was made", format)
		}
	}
}

// filesIn gives the content of the files in a folder, but for the lock.
func filesIn(t *testing.T, dir string) map[string]string {
	t.Helper()
	files := map[string]string{}
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, entry := range entries {
		if entry.Name() == "lock" {
			continue
		}
		content, err := os.ReadFile(filepath.Join(dir, entry.Name()))
		if err != nil {
			t.Fatal(err)
		}
		files[entry.Name()] = string(content)
	}
	return files
}

// A phone app learns from every answer to its probe which version the server
// speaks and which app is too old for it; the app's side is in webapp/unit/sync.spec.ts
// and the other server's in package exchange.
func TestVersionsTold(t *testing.T) {
	s, _ := openTest(t)
	w := send(s, http.MethodGet, "/api/v1/health", nil)
	var health healthAnswer
	if err := json.Unmarshal(w.Body.Bytes(), &health); err != nil || health.API != exchange.API || health.MinClient != minClientAPI || minClientAPI > apiVersion {
		t.Errorf("%s", w.Body)
	}
}
