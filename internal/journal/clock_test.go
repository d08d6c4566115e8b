package journal

import (
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// step is one event: a local one, or a stamp received.
type step struct {
	nowMS   int64
	receive *Stamp
	want    Stamp
}

func received(ms int64, counter int) *Stamp { return &Stamp{ms, counter} }

// The inputs are those of CockroachDB's TestHLCClock, the results computed by
// hand from the rules of Kulkarni, Demirbas, Madeppa, Avva and Leone (2014; the
// paper's text from memory). That test's own results differ in three rows,
// because receiving does not count as an event there.
func TestClockPaperRules(t *testing.T) {
	steps := []step{
		{5, nil, Stamp{5, 0}},
		{6, nil, Stamp{6, 0}},
		{10, received(10, 5), Stamp{10, 6}},
		{7, nil, Stamp{10, 7}}, // the clock went back
		{8, received(10, 4), Stamp{10, 8}},
		{10, received(10, 99), Stamp{10, 100}},
		{11, received(10, 31), Stamp{11, 0}},
		{11, nil, Stamp{11, 1}},
	}
	var c Clock
	for i, s := range steps {
		got := c.tick(s)
		if got != s.want {
			t.Errorf("row %d: %v, want %v", i+1, got, s.want)
		}
	}
}

func (c *Clock) tick(s step) Stamp {
	if s.receive != nil {
		return c.Receive(*s.receive, s.nowMS)
	}
	return c.Tick(s.nowMS)
}

// Three phones with wrong clocks, worked out by hand from the same rules.
func TestClockThreePhones(t *testing.T) {
	var a, b, c Clock
	check := func(name string, got, want Stamp) Stamp {
		t.Helper()
		if got != want {
			t.Errorf("%s: %v, want %v", name, got, want)
		}
		return got
	}
	e1 := check("A e1", a.Tick(100), Stamp{100, 0})
	e2 := check("B e2", b.Tick(40), Stamp{40, 0})
	check("B receives e1", b.Receive(e1, 41), Stamp{100, 1})
	e3 := check("B e3", b.Tick(42), Stamp{100, 2})
	e4 := check("C e4", c.Tick(10), Stamp{10, 0})
	check("C receives e3", c.Receive(e3, 11), Stamp{100, 3})
	e5 := check("C e5, clock mended", c.Tick(150), Stamp{150, 0})
	check("A receives e5", a.Receive(e5, 101), Stamp{150, 1})
	e6 := check("A e6, clock set back", a.Tick(90), Stamp{150, 2})

	for i, pair := range [][2]Stamp{{e1, e3}, {e3, e5}, {e5, e6}, {e2, e1}, {e4, e1}} {
		if pair[0].Compare(pair[1]) >= 0 {
			t.Errorf("pair %d: %v is not before %v", i, pair[0], pair[1])
		}
	}
}

func TestClockWrongClocks(t *testing.T) {
	const now, in2099 = 1_795_600_000_000, 4_070_908_800_000
	var fast, right Clock
	bad := fast.Tick(in2099)
	if bad.MS != in2099 {
		t.Fatalf("a clock at 2099 is not taken as it is: %v", bad)
	}
	right.Receive(bad, now)
	if answer := right.Tick(now); answer.Compare(bad) <= 0 {
		t.Errorf("the answer %v does not come after %v", answer, bad)
	}
	for _, ms := range []int64{0, -1, -1 << 62, 1, now, now - 3*3600_000, 1 << 62} {
		var c Clock
		first := c.Tick(ms)
		again := c.Tick(ms - 1)
		if again.Compare(first) <= 0 || !wellFormed(first) || !wellFormed(again) {
			t.Errorf("clock at %d: %v, then %v", ms, first, again)
		}
	}
}

func TestClockFullCounter(t *testing.T) {
	var c Clock
	if got, want := c.Receive(Stamp{10, 0xffff}, 5), (Stamp{11, 0}); got != want {
		t.Errorf("after a full counter: %v, want %v", got, want)
	}
	if got, want := c.Receive(Stamp{11, 0xfffe}, 5), (Stamp{11, 0xffff}); got != want {
		t.Errorf("before a full counter: %v, want %v", got, want)
	}
	if got, want := c.Tick(5), (Stamp{12, 0}); got != want {
		t.Errorf("local event at a full counter: %v, want %v", got, want)
	}
	end := Stamp{maxStampMS, maxCounter}
	if got := c.Receive(end, 5); got != end || !wellFormed(got) {
		t.Errorf("at the end of the format: %v", got)
	}
}

func wellFormed(s Stamp) bool {
	back, err := ParseStamp(s.String())
	return err == nil && back == s
}

func TestParseStamp(t *testing.T) {
	const good = "1795600000000-00ff"
	if s, err := ParseStamp(good); err != nil || s != (Stamp{1_795_600_000_000, 255}) || s.String() != good {
		t.Errorf("%s: %v, %v", good, s, err)
	}
	for _, bad := range []string{"", "1795600000000-00FF", "179560000000-000ff", "1795600000000_00ff", "1795600000000-00f",
		"1795600000000-00ff ", "-795600000000-00ff", "+795600000000-00ff", "1795600000000-+0ff", "179560000000a-00ff", strings.Repeat("1", 13) + "-00g0"} {
		if s, err := ParseStamp(bad); err == nil {
			t.Errorf("%q was read as %v", bad, s)
		}
	}
}

// Whatever the clock of a device does, its stamps go up, are never behind what
// it has received, and sort as text as they do as numbers.
func TestClockAlwaysForward(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		ms := rapid.OneOf(rapid.Int64(), rapid.Int64Range(0, 50), rapid.Int64Range(1_795_000_000_000, 1_796_000_000_000))
		var c Clock
		last := Stamp{}
		for range rapid.IntRange(1, 40).Draw(t, "events") {
			now := ms.Draw(t, "now")
			var got Stamp
			if rapid.Bool().Draw(t, "receives") {
				from := Stamp{rapid.OneOf(rapid.Int64Range(0, 50), rapid.Int64Range(0, maxClockMS)).Draw(t, "ms"), rapid.SampledFrom([]int{0, 1, 0xfffe, 0xffff}).Draw(t, "counter")}
				got = c.Receive(from, now)
				if got.Compare(from) <= 0 {
					t.Fatalf("%v is not after the received %v", got, from)
				}
			} else {
				got = c.Tick(now)
			}
			if got.Compare(last) <= 0 || got.MS < clamp(now) || !wellFormed(got) {
				t.Fatalf("%v after %v at clock %d", got, last, now)
			}
			if strings.Compare(got.String(), last.String()) <= 0 {
				t.Fatalf("texts %s and %s do not sort", got, last)
			}
			last = got
		}
	})
}
