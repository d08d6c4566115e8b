package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"sync"
	"testing"

	"packwright/internal/journal"
)

// Sync scenarios that are better told one by one than drawn from a seed. The
// numbers go on where those in TestSync leave gaps: a cursor read while others
// commit is 12, pages and their ends are 13.

func pushed(t *testing.T, s *server, body []byte) pushAnswer {
	t.Helper()
	w := send(s, "POST", "/api/v1/entries", bytes.NewReader(body))
	var answer pushAnswer
	if err := json.Unmarshal(w.Body.Bytes(), &answer); err != nil || w.Code != http.StatusOK {
		t.Fatalf("push: status %d, %s", w.Code, w.Body)
	}
	return answer
}

func pulled(t testing.TB, s *server, epoch string, after uint64, limit int) pullAnswer {
	t.Helper()
	w := send(s, "GET", fmt.Sprintf("/api/v1/entries?epoch=%s&after=%d&limit=%d", epoch, after, limit), nil)
	var page pullAnswer
	if err := json.Unmarshal(w.Body.Bytes(), &page); err != nil || w.Code != http.StatusOK {
		t.Fatalf("pull: status %d, %s", w.Code, w.Body)
	}
	return page
}

func statuses(a pushAnswer) string {
	var words []string
	for _, r := range a.Results {
		words = append(words, fmt.Sprintf("%s/%d", r.Status, r.Seq))
	}
	return strings.Join(words, " ")
}

// Scenario 3: overlapping batches give the union, and each id its own status.
func TestOverlappingBatches(t *testing.T) {
	s, _ := openTest(t)
	n := func(numbers ...int) []byte {
		var entries []journal.Entry
		for _, number := range numbers {
			entries = append(entries, note(number, fmt.Sprint(number)))
		}
		return push(entries...)
	}
	for _, c := range []struct {
		body []byte
		want string
	}{
		{n(1, 3, 7), "accepted/1 accepted/2 accepted/3"},
		{n(2, 7, 14), "accepted/4 duplicate/3 accepted/5"},
		{n(14, 1, 20, 20), "duplicate/5 duplicate/1 accepted/6 duplicate/6"},
	} {
		if got := statuses(pushed(t, s, c.body)); got != c.want {
			t.Errorf("%s, want %s", got, c.want)
		}
	}
}

// Scenario 4: other content under a known id changes nothing, harms no other
// entry and is seen in the log; the same content written another way is the same
// entry.
func TestIDUsedAgain(t *testing.T) {
	s, log := openTest(t)
	pushed(t, s, push(note(1, "as it was")))
	before := pulled(t, s, "", 0, 10).Entries[0].Entry
	a := pushed(t, s, push(note(2, "good"), note(1, "rewritten"), note(3, "good")))
	if got := statuses(a); got != "accepted/2 conflict/0 accepted/3" {
		t.Error(got)
	}
	if a.Results[1].Reason == "" || a.Results[1].Hint == "" {
		t.Errorf("the conflict is not explained: %+v", a.Results[1])
	}
	if said := log.String(); strings.Count(said, "other content") != 1 || !strings.Contains(said, a.Results[1].ID) {
		t.Errorf("the log says %q", said)
	}
	if after := pulled(t, s, "", 0, 10).Entries[0].Entry; !bytes.Equal(before, after) {
		t.Errorf("the stored entry changed to %s", after)
	}
	spaced := bytes.ReplaceAll(push(note(1, "as it was")), []byte(`":`), []byte(`" : `))
	if got := statuses(pushed(t, s, spaced)); got != "duplicate/1" {
		t.Errorf("the same with spaces: %s", got)
	}
}

// Scenario 5: a bad entry at the head, in the middle and at the tail.
func TestPoison(t *testing.T) {
	for i, bad := range []string{
		`{}`, `null`, `[]`, `"text"`, `7`, `true`,
		`{"id":"01KAXW5Y00000000000000000A"}`,
		`{"id":"not-an-id","v":1,"kind":"note","pack":"","device":"d","by":"","hlc":"1764060000000-0000","body":{"text":"x"}}`,
		`{"id":"01KAXW5Y00000000000000000A","v":1,"kind":"note","pack":"","device":"d","by":"","hlc":"1764060000000-0000","body":{"text":"a\u0000b"}}`,
		`{"id":"01KAXW5Y00000000000000000A","v":1,"kind":"note","pack":"","device":"d","by":"","hlc":"1764060000000-0000","body":{"text":"a\ud800b"}}`,
		`{"id":"01KAXW5Y00000000000000000A","v":1,"kind":"note","pack":"","device":"d","by":"","hlc":"1764060000000-0000","body":{"text":5}}`,
		`{"id":"01KAXW5Y00000000000000000A","v":1,"kind":"note","pack":"","device":"d","by":"","hlc":"1764060000000-0000","body":{"text":"` + strings.Repeat("x", 900_000) + `"}}`,
		`{"id":"01KAXW5Y00000000000000000A","v":1,"kind":"note","pack":"","device":"d","by":"","hlc":"noon","body":{"text":"x"}}`,
		`{"id":"01KAXW5Y00000000000000000A","v":1,"v":2,"kind":"note","pack":"","device":"d","by":"","hlc":"1764060000000-0000","body":{"text":"x"}}`,
	} {
		t.Run(fmt.Sprint(i), func(t *testing.T) {
			s, _ := openTest(t)
			number := 0
			for place := range 3 {
				var elements []string
				for range 2 {
					number++
					elements = append(elements, string(mustJSON(note(number, "good"))))
				}
				elements = slices.Insert(elements, place, bad)
				a := pushed(t, s, []byte(`{"entries":[`+strings.Join(elements, ",")+`]}`))
				for j, r := range a.Results {
					if want := map[bool]string{true: "refused", false: "accepted"}[j == place]; string(r.Status) != want || r.Index != j {
						t.Errorf("bad entry at %d: result %d is %+v, want %s", place, j, r, want)
					}
				}
				if len(a.Results) != 3 || a.Results[place].Reason == "" {
					t.Errorf("bad entry at %d: %+v", place, a.Results)
				}
			}
			if head(t, s) != 6 {
				t.Errorf("head %d, want 6", head(t, s))
			}
		})
	}
}

// Scenario 12: writers and pullers all at once; every puller's pages, put
// together, are everything, without a gap or a repeat.
func TestPullWhilePushing(t *testing.T) {
	s, _ := openTest(t)
	const writers, pullers, each = 20, 20, 15
	epoch, _ := s.store.Head()
	var wait sync.WaitGroup
	for writer := range writers {
		wait.Go(func() {
			for i := range each {
				w := send(s, "POST", "/api/v1/entries", bytes.NewReader(push(note(writer*each+i, "x"))))
				if w.Code != http.StatusOK {
					t.Errorf("push: status %d", w.Code)
				}
			}
		})
	}
	for range pullers {
		wait.Go(func() {
			ids := map[string]bool{}
			for after := uint64(0); after < writers*each && !t.Failed(); {
				page := pulled(t, s, epoch, after, 7)
				for _, item := range page.Entries {
					if after++; item.Seq != after {
						t.Errorf("number %d where %d comes next", item.Seq, after)
						return
					}
					ids[idOf(item.Entry)] = true
				}
			}
			if len(ids) != writers*each {
				t.Errorf("a puller saw %d entries, want %d", len(ids), writers*each)
			}
		})
	}
	wait.Wait()
}

// Scenario 13: pages of one, of two, of exactly everything, with an entry of the
// largest size in the way: the cursor moves on each time and it ends. Pages that
// end because of their bytes are in TestPageBytes; an entry larger than a whole
// page cannot be stored.
func TestPageBoundaries(t *testing.T) {
	s, _ := openTest(t)
	var batch []journal.Entry
	for i := range 6 {
		batch = append(batch, note(i, "x"))
	}
	pushed(t, s, push(batch...))
	unknown := note(6, "")
	unknown.Kind, unknown.Body = "logged-run", mustJSON(map[string]string{"samples": strings.Repeat("9", journal.MaxEntryBytes-500)})
	pushed(t, s, push(unknown))
	epoch, all := s.store.Head()
	for _, limit := range []int{1, 2, 3, 6, 7, 1000} {
		after, pages := uint64(0), 0
		for more := true; more; pages++ {
			page := pulled(t, s, epoch, after, limit)
			if page.Next <= after || page.Head != all {
				t.Fatalf("limit %d: next %d after %d, head %d", limit, page.Next, after, page.Head)
			}
			after, more = page.Next, page.More
		}
		if want := (7 + limit - 1) / limit; after != all || pages != want {
			t.Errorf("limit %d: ended at %d in %d pages, want %d in %d", limit, after, pages, all, want)
		}
	}
	if page := pulled(t, s, epoch, all, 10); len(page.Entries) != 0 || page.More || page.Next != all {
		t.Errorf("beyond the last page: %+v", page)
	}
}
