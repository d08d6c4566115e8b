package store

import (
	"encoding/json"
	"reflect"
	"strings"
	"testing"

	"packwright/internal/problem"
)

func TestAppend(t *testing.T) {
	s := open(t, t.TempDir())
	reading := func(volt string) json.RawMessage {
		return json.RawMessage(`{"id":"` + noteID(3) + `","v":1,"kind":"later-kind","pack":"","device":"d","by":"","hlc":"1764060000003-0000","body":{"open_v":` + volt + `}}`)
	}
	spaced := strings.ReplaceAll(string(note(1)), `,"`, " ,\n\t\"")
	steps := []struct {
		name   string
		raw    json.RawMessage
		status Status
		seq    uint64
	}{
		{"new", note(1), Accepted, 1},
		{"again", note(1), Duplicate, 1},
		{"again with other spacing", json.RawMessage(spaced), Duplicate, 1},
		{"same id, other text", noteText(1, "other"), Conflict, 0},
		{"no entry", json.RawMessage(`{"id":"x"}`), Refused, 0},
		{"no JSON", json.RawMessage(`{"id":`), Refused, 0},
		{"lone surrogate", noteTextRaw(9, `"\ud800"`), Refused, 0},
		{"NUL", noteTextRaw(9, `"\u0000"`), Refused, 0},
		{"not a number", noteTextRaw(9, `NaN`), Refused, 0},
		{"another", note(2), Accepted, 2},
		{"a kind of later", reading("12.80"), Accepted, 3},
		{"the same number written otherwise", reading("12.8"), Duplicate, 3},
		{"another number", reading("12.81"), Conflict, 0},
	}
	var raws []json.RawMessage
	for _, step := range steps {
		raws = append(raws, step.raw)
	}
	together := open(t, t.TempDir())
	inOne := push(t, together, raws...)
	for i, step := range steps {
		alone := push(t, s, step.raw)[0]
		if alone.Status != step.status || alone.Seq != step.seq {
			t.Errorf("%s: %+v", step.name, alone)
		}
		if !reflect.DeepEqual(inOne[i], alone) {
			t.Errorf("%s: in one call %+v, alone %+v", step.name, inOne[i], alone)
		}
		if stored := alone.Status == Accepted || alone.Status == Duplicate; !stored && alone.Reason == "" {
			t.Errorf("%s: no reason", step.name)
		}
	}
	want := ledgerOf(note(1), note(2), reading("12.8"))
	want.check(t, s, nil)
	want.check(t, together, nil)
	item, err := s.Get(noteID(3))
	if err != nil || item.Seq != 3 || item.BroughtBy != "test" || item.ReceivedMS < 1764060000000 {
		t.Errorf("Get gives %+v, %v", item, err)
	}
	if _, err := s.Get("no such id"); kindOf(err) != problem.NotFound {
		t.Errorf("Get of nothing: %v", err)
	}
	if r := push(t, s); len(r) != 0 {
		t.Errorf("nothing sent: %v", r)
	}
}

func TestPage(t *testing.T) {
	s := open(t, t.TempDir())
	raws := append(notes(0, 9), noteText(9, strings.Repeat("long ", 400)), note(10), note(11))
	push(t, s, raws...)
	for _, limit := range []int{0, 1, 2, 3, 4, 5, 6, 11, 12, 13, 1000} {
		for _, maxBytes := range []int{0, 1, 300, 600, 1 << 20} {
			after, got := uint64(0), 0
			for pages := 0; ; pages++ {
				p, err := s.Page(after, limit, maxBytes)
				if err != nil {
					t.Fatal(err)
				}
				size := 0
				for _, item := range p.Items {
					if got++; item.Seq != uint64(got) || !sameJSON(item.Entry, raws[got-1]) {
						t.Fatalf("limit %d, %d bytes: item %d is %d", limit, maxBytes, got, item.Seq)
					}
					size += len(item.Entry)
				}
				if n := len(p.Items); n == 0 || n > max(limit, 1) || (n > 1 && size > maxBytes) {
					t.Fatalf("limit %d, %d bytes: a page of %d items and %d bytes", limit, maxBytes, n, size)
				}
				if after = p.Next; !p.More {
					break
				}
			}
			if got != len(raws) || after != uint64(len(raws)) {
				t.Fatalf("limit %d, %d bytes: %d entries, cursor %d", limit, maxBytes, got, after)
			}
		}
	}
	for _, after := range []uint64{12, 13, 1 << 63, ^uint64(0)} {
		p, err := s.Page(after, 10, 1000)
		if err != nil || p.More || p.Next != after || p.Items == nil || len(p.Items) > 0 {
			t.Errorf("after %d: %+v, %v", after, p, err)
		}
	}
}

func TestSubscribe(t *testing.T) {
	s := open(t, t.TempDir())
	slow, _ := s.Subscribe()
	gone, cancel := s.Subscribe()
	cancel()
	cancel()
	if _, more := <-gone; more {
		t.Error("a cancelled channel is not closed")
	}
	for n := range 10 {
		push(t, s, note(n))
		push(t, s, note(n)) // a duplicate is no news
	}
	if head := <-slow; head != 10 {
		t.Errorf("the slow one hears %d, want the newest head 10", head)
	}
	select {
	case head := <-slow:
		t.Errorf("heard %d again", head)
	default:
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	if _, more := <-slow; more {
		t.Error("not closed by Close")
	}
	late, cancel := s.Subscribe()
	if _, more := <-late; more {
		t.Error("open after Close")
	}
	cancel()
}

// A canonical number can be longer than the one that was sent.
func TestLargeEntries(t *testing.T) {
	dir := t.TempDir()
	s := open(t, dir)
	numbers := func(n, count int) json.RawMessage {
		raw := strings.Replace(string(note(n)), `"kind":"note"`, `"kind":"later-kind"`, 1)
		at := strings.Index(raw, `"body":`) + len(`"body":`)
		return json.RawMessage(raw[:at] + `{"x":[` + strings.TrimSuffix(strings.Repeat("1e20,", count), ",") + "]}}")
	}
	l := ledger{}
	for i, c := range []struct {
		count  int
		status Status
	}{{10, Accepted}, {11_000, Accepted}, {12_500, Refused}, {20_000, Refused}, {11_500, Accepted}} {
		raws := []json.RawMessage{numbers(i, c.count)}
		results := push(t, s, raws...)
		l.add(raws, results)
		if results[0].Status != c.status || (c.status == Refused) != (results[0].Reason != "") || results[0].ID != noteID(i) {
			t.Errorf("%d numbers: %+v", c.count, results[0])
		}
	}
	l.check(t, s, nil)
	crash(s)
	l.check(t, open(t, dir), nil)
}

// The example of RFC 8785, sections 3.2.2 and 3.2.3 (input and result as its
// implementations keep them in their test data).
func TestCanonicalForm(t *testing.T) {
	const input = `{
		"numbers": [333333333.33333329, 1E30, 4.50, 2e-3, 0.000000000000000000000000001],
		"string": "\u20ac$\u000F\u000aA'\u0042\u0022\u005c\\\"\/",
		"literals": [null, true, false]
	}`
	const want = `{"literals":[null,true,false],"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27],"string":"€$\u000f\nA'B\"\\\\\"/"}`
	raw := strings.Replace(string(note(1)), `"kind":"note"`, `"kind":"later-kind"`, 1)
	raw = strings.Replace(raw, `{"text":"note 1"}`, input, 1)
	entry, result := canonical(json.RawMessage(raw))
	if result.Status == Refused || !strings.HasPrefix(string(entry), `{"body":`+want+`,"by":`) {
		t.Errorf("got %s, %+v", entry, result)
	}
}
