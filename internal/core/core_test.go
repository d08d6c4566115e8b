package core

import (
	"encoding/json"
	"fmt"
	"reflect"
	"slices"
	"strings"
	"testing"

	"packwright/internal/fleet"
	"packwright/internal/journal"
	"packwright/internal/judge"
	"packwright/internal/problem"
)

// day0 is a morning in the season, in unix ms: 2026-09-01 08:00 UTC.
const day0 = 1_788_249_600_000

const goodTest = `{"method":"known-load","open_v":[12.84,12.84,12.83],"loaded_v":[12.33,12.33,12.32],"load_ohm":2.5,"load_uncertainty_ohm":0.005,"meter":{"reading_pct":0.5,"counts":2,"resolution_v":0.001},"charge":"full"}`

// ask calls the session and reads the answer.
func ask[Answer any](t testing.TB, s *Session, name, request string) Answer {
	t.Helper()
	raw, err := s.Call(name, []byte(request))
	if err != nil {
		t.Fatalf("%s %s: %v", name, request, err)
	}
	var a Answer
	if err := json.Unmarshal(raw, &a); err != nil {
		t.Fatalf("%s gave %s: %v", name, raw, err)
	}
	return a
}

// refused calls the session and wants a problem.
func refused(t *testing.T, s *Session, name, request string) *problem.Error {
	t.Helper()
	raw, err := s.Call(name, []byte(request))
	p, ok := problem.As(err)
	if !ok {
		t.Fatalf("%s %s gave %s, %v; want a problem", name, request, raw, err)
	}
	return p
}

// bytesFrom are n bytes as a JSON list.
func bytesFrom(start, n int) string {
	var list []string
	for i := range n {
		list = append(list, fmt.Sprint((start+37*i)%256))
	}
	return "[" + strings.Join(list, ",") + "]"
}

// record makes an entry and adds it, as the phone does.
func record(t testing.TB, s *Session, kind journal.Kind, pack string, nowMS int64, body string) journal.Entry {
	t.Helper()
	request := fmt.Sprintf(`{"kind":%q,"pack":%q,"by":"MK","device":"phone-1","now_ms":%d,"random":%s,"body":%s}`, kind, pack, nowMS, bytesFrom(s.fleet.Len(), 10), body)
	e := ask[MakeEntryAnswer](t, s, "make-entry", request).Entry
	raw, err := json.Marshal(e)
	if err != nil {
		t.Fatal(err)
	}
	if a := ask[AddEntriesAnswer](t, s, "add-entries", `{"entries":[`+string(raw)+`]}`); a.Added != 1 {
		t.Fatalf("added: %+v", a)
	}
	return e
}

// The whole way of one pack through the door.
func TestJourney(t *testing.T) {
	s := New()
	code := ask[CodeAnswer](t, s, "new-code", `{"random":`+bytesFrom(5, 32)+`}`).Code
	if a := ask[CodeAnswer](t, s, "read-code", `{"text":"HTTPS://PIT.LOCAL/P/`+code+`"}`); a.Code != code || a.Known {
		t.Errorf("before it is added: %+v", a)
	}
	record(t, s, journal.PackAdded, code, day0, `{"name":"Heron 1","capacity_ah":3,"cells":10,"fuse_a":20}`)
	if a := ask[CodeAnswer](t, s, "read-code", `{"text":"`+strings.ToLower(code)+`"}`); !a.Known {
		t.Errorf("after it is added: %+v", a)
	}
	ask[OpenCheckAnswer](t, s, "open-check", `{"pack":"`+code+`","open_v":12.84}`)
	before := ask[Assessment](t, s, "assess", `{"kind":"load-test","pack":"`+code+`","body":`+goodTest+`}`)
	if len(before.Working) == 0 || len(before.Budget) == 0 {
		t.Errorf("no working: %+v", before)
	}
	e := record(t, s, journal.LoadTest, code, day0+1000, goodTest)
	after := ask[fleet.Test](t, s, "test", `{"entry":"`+e.ID+`","now_ms":1788249700000}`)
	if !reflect.DeepEqual(before.Result, *after.Result) || !reflect.DeepEqual(before.Decision, after.Decision) {
		t.Errorf("assessed before it was saved:\n%+v\nand after:\n%+v", before, after)
	}

	record(t, s, journal.Inspected, code, day0+2000, `{"finding":"hot"}`)
	unsafe := ask[Assessment](t, s, "assess", `{"kind":"load-test","pack":"`+code+`","body":`+goodTest+`}`)
	if unsafe.Outcome != judge.SetAside || !slices.Equal(unsafe.Safety, []string{"hot"}) {
		t.Errorf("a hot pack: %s %v", unsafe.Outcome, unsafe.Safety)
	}
	o := ask[fleet.Overview](t, s, "overview", `{"now_ms":1788249700000}`)
	p := ask[fleet.Pack](t, s, "pack", `{"code":"`+code+`","now_ms":1788249700000}`)
	if len(o.Packs) != 1 || o.Packs[0].Outcome != judge.SetAside || !reflect.DeepEqual(o.Packs[0], p.Row) || len(p.Tests) != 1 || len(p.Findings) != 1 {
		t.Errorf("%+v\n%+v", o, p)
	}
}

func TestSetupCheck(t *testing.T) {
	a := ask[map[string]any](t, New(), "setup-check", `{"meter":{"reading_pct":0.5,"counts":2,"resolution_v":0.01},"load":{"ohm":10,"tolerance_pct":5,"lead_ohm":0,"rating_w":25,"on_heat_sink":false},"fuse_a":20,"open_v":12.8,"limit_ohm":0.1,"repeats":3,"read_after_s":5}`)
	if a["ok"] != true || a["refusals"] == nil || a["share_of_limit_pct"].(float64) <= 0 {
		t.Errorf("%v", a)
	}
}

func TestReadNumber(t *testing.T) {
	if a := ask[NumberAnswer](t, New(), "read-number", `{"text":"12,84","quantity":"voltage"}`); a.Value != 12.84 || a.Shown != "12.84 V" || a.Doubt != "" {
		t.Errorf("%+v", a)
	}
	refused(t, New(), "read-number", `{"text":"twelve","quantity":"voltage"}`)
	refused(t, New(), "read-number", `{"text":"12","quantity":"mood"}`)
}

// Entries follow all that was seen, also from a phone whose clock runs ahead.
func TestEntriesFollowWhatWasSeen(t *testing.T) {
	s := New()
	const ahead = `{"id":"01M1DZRPK005QPWS8000000000","v":1,"kind":"note","pack":"","device":"other","by":"","hlc":"4070908800000-0007","body":{"text":"from 2099"}}`
	if a := ask[AddEntriesAnswer](t, s, "add-entries", `{"entries":[`+ahead+`]}`); a.Added != 1 || a.Total != 1 {
		t.Errorf("%+v", a)
	}
	first := record(t, s, journal.Noted, "", day0, `{"text":"one"}`)
	second := record(t, s, journal.Noted, "", day0-5000, `{"text":"two"}`)
	if first.HLC <= "4070908800000-0007" || second.HLC <= first.HLC {
		t.Errorf("%s, %s", first.HLC, second.HLC)
	}
	if ms, err := journal.IDTime(second.ID); err != nil || ms != day0-5000 {
		t.Errorf("the raw clock is not kept: %d, %v", ms, err)
	}
	// A refused entry does not move the clock.
	refused(t, s, "make-entry", `{"kind":"note","pack":"","by":"MK","device":"d","now_ms":1,"random":`+bytesFrom(1, 10)+`,"body":{"text":""}}`)
	if third := record(t, s, journal.Noted, "", day0, `{"text":"three"}`); third.HLC[:13] != second.HLC[:13] || third.HLC <= second.HLC {
		t.Errorf("%s after %s", third.HLC, second.HLC)
	}
}

func TestMakeEntryRefuses(t *testing.T) {
	const good = `{"kind":"note","pack":"","by":"MK","device":"d","now_ms":1788249600000,"random":[1,2,3,4,5,6,7,8,9,10],"body":{"text":"x"}}`
	ask[MakeEntryAnswer](t, New(), "make-entry", good)
	for _, c := range []struct{ old, new, field string }{
		{`"note"`, `"charge-started"`, "kind"},
		{`"note"`, `"load-test"`, "pack"},
		{`"by":"MK"`, `"by":"Somebody X"`, "by"},
		{`"device":"d"`, `"device":""`, "device"},
		{`,10]`, `]`, "random"},
		{`,10]`, `,10,11]`, "random"},
		{`,10]`, `,256]`, "random"},
		{`,10]`, `,-1]`, "random"},
		{`"text":"x"`, `"text":"x","more":1`, "more"},
		{`"text":"x"`, `"text":"\ud800"`, "body.text"},
		{`{"text":"x"}`, `null`, "body"},
		{`{"text":"x"}`, `"text"`, "body"},
	} {
		if p := refused(t, New(), "make-entry", strings.Replace(good, c.old, c.new, 1)); p.Field != c.field {
			t.Errorf("%s: field %q (%s), want %q", c.new, p.Field, p.Text, c.field)
		}
	}
}

// One entry that cannot be read harms no other.
func TestAddEntriesOneByOne(t *testing.T) {
	note := func(id, kind, body string) string {
		return fmt.Sprintf(`{"id":%q,"v":1,"kind":%q,"pack":"","device":"d","by":"","hlc":"1788249600000-0000","body":%s}`, id, kind, body)
	}
	a := ask[AddEntriesAnswer](t, New(), "add-entries", `{"entries":[`+strings.Join([]string{
		note("01M1DZRPK005QPWS8000000001", "note", `{"text":"x"}`),
		`{"id":"nonsense"}`,
		note("01M1DZRPK005QPWS8000000002", "charge-started", `{"a":1}`),
		`7`,
		note("01M1DZRPK005QPWS8000000001", "note", `{"text":"x"}`),
		note("01M1DZRPK005QPWS8000000003", "note", `{"text":"x"}`),
	}, ",")+`]}`)
	if a.Added != 3 || a.Known != 1 || a.Unknown != 1 || a.Total != 3 || len(a.Refused) != 2 || a.Refused[0].Index != 1 || a.Refused[1].Index != 3 || a.Refused[0].Reason == "" {
		t.Errorf("%+v", a)
	}
}

// What is only checked meets the whole check of a store, and nothing is added.
func TestCheckEntriesAddsNone(t *testing.T) {
	s := New()
	entry := func(n int, kind, pack, body string) string {
		return fmt.Sprintf(`{"id":"01M1DZRPK005QPWS80000000%02d","v":1,"kind":%q,"pack":%q,"device":"d","by":"","hlc":"1788249600000-0000","body":%s}`, n, kind, pack, body)
	}
	a := ask[AddEntriesAnswer](t, s, "add-entries", `{"check":true,"entries":[`+strings.Join([]string{
		entry(1, "note", "", `{"text":"x"}`),
		entry(2, "note", "", `{}`), // a body that no store takes
		entry(3, "charge-started", "", `{"a":1}`),
		`7`,
		entry(4, "pack-added", "7K3QX8", `{}`), // the check character is another
	}, ",")+`]}`)
	var refused []int
	for _, r := range a.Refused {
		refused = append(refused, r.Index)
	}
	if !reflect.DeepEqual(refused, []int{1, 3, 4}) || a.Added != 0 || a.Total != 0 || s.fleet.Len() != 0 {
		t.Errorf("%+v", a)
	}
}

func TestNewCodeIsNew(t *testing.T) {
	s := New()
	random := `{"random":` + bytesFrom(5, 32) + `}`
	code := ask[CodeAnswer](t, s, "new-code", random).Code
	record(t, s, journal.PackAdded, code, day0, `{}`)
	if again := ask[CodeAnswer](t, s, "new-code", random); again.Code == code || again.Known {
		t.Errorf("the code of a pack was given again: %+v", again)
	}
	refused(t, s, "new-code", `{"random":[1,2,3]}`)
	refused(t, s, "new-code", `{"random":[1.5]}`)
}

// A slip in a typed code is told from the packs that there are.
func TestReadCodeNearMiss(t *testing.T) {
	s := New()
	for i, code := range []string{"7K3QXX", "10101W"} {
		record(t, s, journal.PackAdded, code, day0+int64(i), `{}`)
	}
	for text, hint := range map[string]string{
		"7k3qx8":  "did you mean 7K3QXX? look at the label again: one character is wrong, or two are swapped",
		"7K3XQX":  "did you mean 7K3QXX? look at the label again: one character is wrong, or two are swapped",
		"9K3QXY":  "look at the label again: one character is wrong, or two are swapped",
		"7U3QXX":  "did you mean 7K3QXX? look at the label again: it may be a V",
		"7K3-QXY": "did you mean 7K3QXX? look at the label again: one character is wrong, or two are swapped",
	} {
		if p := refused(t, s, "read-code", `{"text":"`+text+`"}`); p.Hint != hint {
			t.Errorf("%s: %q, want %q", text, p.Hint, hint)
		}
	}
}

func TestCallRefuses(t *testing.T) {
	s := New()
	if p := refused(t, s, "explode", `{}`); p.Kind != problem.Unsupported {
		t.Errorf("%+v", p)
	}
	for _, sig := range Signatures() {
		for _, request := range []string{``, `null`, `[]`, `{"surprise":1}`, `{"now_ms":1`} {
			if p := refused(t, s, sig.Name, request); p.Kind != problem.Invalid {
				t.Errorf("%s %s: %+v", sig.Name, request, p)
			}
		}
	}
	if p := refused(t, s, "pack", `{"code":"7K3QXX","now_ms":0}`); p.Kind != problem.NotFound {
		t.Errorf("%+v", p)
	}
	if p := refused(t, s, "assess", `{"kind":"note","pack":"","body":{}}`); p.Field != "kind" {
		t.Errorf("%+v", p)
	}
	if p := refused(t, s, "assess", `{"kind":"load-test","pack":"","body":{"method":"guess"}}`); p.Field == "" {
		t.Errorf("%+v", p)
	}
}

// A fault inside comes out as a problem, and the session lives on.
func TestPanicBecomesProblem(t *testing.T) {
	broken := &Session{} // no fleet: every call on it faults
	if p := refused(t, broken, "overview", `{"now_ms":1}`); p.Kind != Internal || !strings.Contains(p.Text, "overview failed") {
		t.Errorf("%+v", p)
	}
	ask[NumberAnswer](t, broken, "read-number", `{"text":"12.84","quantity":"voltage"}`)
}

// No list is null, so that nobody has to ask before walking over it.
func TestListsAreNeverNull(t *testing.T) {
	s := New()
	record(t, s, journal.PackAdded, "7K3QXX", day0, `{}`)
	e := record(t, s, journal.LoadTest, "7K3QXX", day0, goodTest)
	for name, request := range map[string]string{
		"overview": `{"now_ms":1}`, "pack": `{"code":"7K3QXX","now_ms":1}`, "test": `{"entry":"` + e.ID + `"}`,
		"assess": `{"kind":"load-test","pack":"","body":` + goodTest + `}`, "add-entries": `{"entries":[]}`,
	} {
		raw, err := s.Call(name, []byte(request))
		if err != nil {
			t.Fatal(err)
		}
		for _, list := range []string{"packs", "notes", "clones", "entry_ids", "tests", "findings", "history", "budget", "warnings", "working", "next", "safety", "refused"} {
			if strings.Contains(string(raw), `"`+list+`":null`) {
				t.Errorf("%s: %s is null", name, list)
			}
		}
	}
}

func BenchmarkAssess(b *testing.B) {
	s := New()
	request := []byte(`{"kind":"load-test","pack":"","body":` + goodTest + `}`)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := s.Call("assess", request); err != nil {
			b.Fatal(err)
		}
	}
}

// Ten thousand entries in one call, and the overview of them.
func BenchmarkAddEntries10000(b *testing.B) {
	s := New()
	var list []string
	for i := range 10_000 {
		e := record(b, s, journal.LoadTest, []string{"7K3QXX", "10101W"}[i%2], day0+int64(i)*60_000, goodTest)
		raw, err := json.Marshal(e)
		if err != nil {
			b.Fatal(err)
		}
		list = append(list, string(raw))
	}
	request := []byte(`{"entries":[` + strings.Join(list, ",") + `]}`)
	b.SetBytes(int64(len(request)))
	for b.Loop() {
		s := New()
		if _, err := s.Call("add-entries", request); err != nil {
			b.Fatal(err)
		}
		if _, err := s.Call("overview", []byte(`{"now_ms":1788849600000}`)); err != nil {
			b.Fatal(err)
		}
	}
}
