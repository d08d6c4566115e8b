package store

import (
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"sync"
	"testing"
	"time"
)

// Phones push and pull without pause while commits are delayed between giving
// numbers and storing: whoever pulls page after page gets every entry once.
func TestCursorRace(t *testing.T) {
	t.Parallel()
	s := openWith(t, t.TempDir(), Options{at: func(point string) error {
		time.Sleep(time.Duration(rand.IntN(300)) * time.Microsecond)
		return nil
	}})
	const phones, each = 20, 24
	var writers, readers sync.WaitGroup
	done := make(chan struct{})
	for p := range phones {
		writers.Go(func() {
			for n := 0; n < each; n += 3 {
				from := p*each + n
				push(t, s, append(notes(from, from+3), note(rand.IntN(phones*each)))...)
			}
		})
		readers.Go(func() {
			seen := map[uint64]bool{}
			last := false
			for after := uint64(0); ; {
				page, err := s.Page(after, 1+p, 4000)
				if err != nil {
					t.Error(err)
					return
				}
				for _, item := range page.Items {
					if item.Seq != uint64(len(seen))+1 {
						t.Errorf("seq %d after %d entries", item.Seq, len(seen))
						return
					}
					seen[item.Seq] = true
				}
				if after = page.Next; last && !page.More {
					break
				}
				select {
				case <-done:
					last = true
				default:
				}
			}
			if len(seen) != phones*each {
				t.Errorf("a puller got %d of %d entries", len(seen), phones*each)
			}
		})
	}
	writers.Wait()
	close(done)
	readers.Wait()
	ledgerOf(notes(0, phones*each)...).check(t, s, nil)
	if s.index.memory {
		t.Error("a reader took the index for bad: it saw a head before its entries")
	}
}

// Any sequence of pushes, stops, crashes and restarts leaves what a plain list
// of the first entry per id would hold.
func TestAnySequence(t *testing.T) {
	t.Parallel()
	for range 20 {
		seed := rand.Uint64()
		if !t.Run(fmt.Sprint("seed ", seed), func(t *testing.T) { anySequence(t, rand.New(rand.NewPCG(seed, 0))) }) {
			return
		}
	}
}

func anySequence(t *testing.T, r *rand.Rand) {
	dir := t.TempDir()
	s := open(t, dir)
	epoch, _ := s.Head()
	want, texts := ledger{}, map[int]string{}
	for range 12 {
		switch r.IntN(8) {
		case 0:
			crash(s)
			s = open(t, dir)
		case 1:
			if err := s.Close(); err != nil {
				t.Fatal(err)
			}
			s = open(t, dir)
		default:
			var raws []json.RawMessage
			var expect []Status
			for range r.IntN(12) {
				n, text := r.IntN(60), []string{"a", "a", "b", "\u0000"}[r.IntN(4)]
				raws = append(raws, noteText(n, text))
				before, known := texts[n]
				switch {
				case text == "\u0000":
					expect = append(expect, Refused)
				case known && before == text:
					expect = append(expect, Duplicate)
				case known:
					expect = append(expect, Conflict)
				default:
					texts[n], want[noteID(n)] = text, noteText(n, text)
					expect = append(expect, Accepted)
				}
			}
			for i, result := range push(t, s, raws...) {
				if result.Status != expect[i] {
					t.Fatalf("%s is %s, want %s", raws[i], result.Status, expect[i])
				}
			}
		}
		want.check(t, s, nil)
		if now, _ := s.Head(); now != epoch || s.Report().Doubt != "" {
			t.Fatalf("epoch %s, now %s: %+v", epoch, now, s.Report())
		}
	}
}
