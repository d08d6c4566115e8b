package journal

import (
	"testing"

	"github.com/oklog/ulid/v2"
	"pgregory.net/rapid"
)

func TestIDTime(t *testing.T) {
	// The example of the ULID specification's reference implementation (from
	// memory): 1469918176385 ms is written 01ARYZ6S41.
	if ms, err := IDTime("01ARYZ6S41TSV4RRFFQ69G5FAV"); err != nil || ms != 1_469_918_176_385 {
		t.Errorf("%d, %v", ms, err)
	}
	// The greatest ULID of the specification; anything larger must be refused.
	if ms, err := IDTime("7ZZZZZZZZZZZZZZZZZZZZZZZZZ"); err != nil || ms != 1<<48-1 {
		t.Errorf("the greatest id: %d, %v", ms, err)
	}
	for _, bad := range []string{"", "8ZZZZZZZZZZZZZZZZZZZZZZZZZ", "80000000000000000000000000", "01arYZ6S41TSV4RRFFQ69G5FAV",
		"01ARYZ6S41TSV4RRFFQ69G5FA", "01ARYZ6S41TSV4RRFFQ69G5FAVA", "01ARYZ6S41TSV4RRFFQ69G5FA!", "01ARYZ6S41TSV4RRFFQ69G5FAU", "O1ARYZ6S41TSV4RRFFQ69G5FAV"} {
		if ms, err := IDTime(bad); err == nil {
			t.Errorf("%q was read, at %d ms", bad, ms)
		}
	}
}

func TestNewID(t *testing.T) {
	ten := [10]byte{1, 2, 3, 4, 5, 6, 7, 8, 9, 10}
	if id := NewID(-5, ten); id[:10] != "0000000000" {
		t.Errorf("a clock before 1970: %s", id)
	}
	if id := NewID(1<<62, ten); id[:10] != "7ZZZZZZZZZ" {
		t.Errorf("a clock beyond the format: %s", id)
	}
}

// Ids are written and read as a general ULID library does. What it takes is
// compared with what it writes, since it also takes lower case.
func TestIDAgainstLibrary(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		ms := rapid.Uint64Range(0, ulid.MaxTime()).Draw(t, "ms")
		var want ulid.ULID
		if err := want.SetTime(ms); err != nil {
			t.Fatal(err)
		}
		random := [10]byte(rapid.SliceOfN(rapid.Byte(), 10, 10).Draw(t, "random"))
		copy(want[6:], random[:])
		id := NewID(int64(ms), random)
		if id != want.String() {
			t.Fatalf("%s, want %s", id, want)
		}
		if read, err := IDTime(id); err != nil || read != int64(ms) {
			t.Fatalf("%s was read as %d ms, %v; want %d", id, read, err, ms)
		}
		// One character changed: both take it, or neither.
		at := rapid.IntRange(0, len(id)-1).Draw(t, "at")
		changed := id[:at] + string(rapid.SampledFrom([]byte("089ZabIiLlOoUu-!_ ")).Draw(t, "character")) + id[at+1:]
		parsed, err := ulid.ParseStrict(changed)
		takes := err == nil && parsed.String() == changed
		if _, err := IDTime(changed); takes != (err == nil) {
			t.Fatalf("%s: the library takes it: %v; here: %v", changed, takes, err)
		}
	})
}
