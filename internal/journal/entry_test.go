package journal

import (
	"encoding/json"
	"fmt"
	"strings"
	"testing"

	"packwright/internal/problem"
)

const goodEntry = `{"id":"01ARYZ6S41TSV4RRFFQ69G5FAV","v":1,"kind":"note","pack":"","device":"phone-1","by":"MK","hlc":"1469918176385-0000","body":{"text":"all labels printed"}}`

// edited is goodEntry with one text replaced by another.
func edited(t *testing.T, old, new string) string {
	t.Helper()
	if strings.Count(goodEntry, old) != 1 {
		t.Fatalf("%q is not once in the good entry", old)
	}
	return strings.Replace(goodEntry, old, new, 1)
}

func TestParseEntry(t *testing.T) {
	e, err := ParseEntry([]byte(" " + goodEntry + "\n"))
	if err != nil {
		t.Fatal(err)
	}
	if back, err := json.Marshal(e); err != nil || string(back) != goodEntry {
		t.Errorf("written back: %s, %v", back, err)
	}
	if err := e.Check(); err != nil {
		t.Error(err)
	}
}

func TestParseEntryKeepsBodyOfItsOwn(t *testing.T) {
	raw := []byte(goodEntry)
	e, err := ParseEntry(raw)
	if err != nil {
		t.Fatal(err)
	}
	for i := range raw {
		raw[i] = 'x'
	}
	if want := `{"text":"all labels printed"}`; string(e.Body) != want {
		t.Errorf("the body changed with the caller's bytes: %s", e.Body)
	}
}

func TestParseEntryRefuses(t *testing.T) {
	swap := func(old, new string) string { return edited(t, old, new) }
	for _, c := range []struct{ name, raw, want string }{
		{"nothing", ``, "the JSON ends too early"},
		{"cut off", goodEntry[:90], "by: the JSON ends too early"},
		{"not an object", `[1]`, "this is not JSON from byte 1 on"},
		{"something after it", goodEntry + `{}`, fmt.Sprintf("this is not JSON from byte %d on", len(goodEntry)+1)},
		{"unknown member", swap(`"v":1,`, `"v":1,"seq":7,`), `"seq" is not part of an entry`},
		{"member in another case", swap(`"by":`, `"By":`), `"By" is not part of an entry`},
		{"member twice", swap(`"v":1,`, `"v":1,"v":1,`), "v: this field is there twice"},
		{"member twice in disguise", swap(`"v":1,`, `"v":1,"\u0076":1,`), "v: this field is there twice"},
		{"name twice inside the body", swap(`"text":`, `"text":"x","text":`), "body.text: this field is there twice"},
		{"lower-case id", swap(`01ARYZ6S41TS`, `01aryz6s41ts`), `"01aryz6s41tsV4RRFFQ69G5FAV" is not a ULID in capitals`},
		{"id too great", swap(`01ARYZ6S41TSV4RRFFQ69G5FAV`, `80000000000000000000000000`), `"80000000000000000000000000" is not a ULID in capitals`},
		{"id a number", swap(`"01ARYZ6S41TSV4RRFFQ69G5FAV"`, `7`), "id: it is not a text"},
		{"version 0", swap(`"v":1`, `"v":0`), "0 is no version"},
		{"version a fraction", swap(`"v":1`, `"v":1.0`), "v: 1.0 is not a whole number"},
		{"version huge", swap(`"v":1`, `"v":1000001`), "1000001 is no version"},
		{"no kind", swap(`"note"`, `""`), `"" is no kind of entry`},
		{"kind in capitals", swap(`"note"`, `"Note"`), `"Note" is no kind of entry`},
		{"kind too long", swap(`"note"`, `"`+strings.Repeat("a", 41)+`"`), `"` + strings.Repeat("a", 41) + `" is no kind of entry`},
		{"kind with a gap", swap(`"note"`, `"load--test"`), `"load--test" is no kind of entry`},
		{"kind with a loose end", swap(`"note"`, `"load-"`), `"load-" is no kind of entry`},
		{"pack not a code", swap(`"pack":""`, `"pack":"the red one"`), `"the red one" is no pack code`},
		{"pack too long", swap(`"pack":""`, `"pack":"0123456789ABCDEFG"`), `"0123456789ABCDEFG" is no pack code`},
		{"pack in lower case", swap(`"pack":""`, `"pack":"7k3qxx"`), `"7k3qxx" is no pack code`},
		{"no device", swap(`"phone-1"`, `""`), `"" is no device id`},
		{"device too long", swap(`"phone-1"`, `"`+strings.Repeat("d", 65)+`"`), ``},
		{"device not printable", swap(`"phone-1"`, `"phone\n1"`), `"phone\n1" is no device id`},
		{"a name for initials", swap(`"MK"`, `"Somebody X"`), `"Somebody X" is too long for initials`},
		{"initials not printable", swap(`"MK"`, `"M\tK"`), `"M\tK" holds a character that cannot be printed`},
		{"stamp too short", swap(`1469918176385-0000`, `1469918176385-000`), `"1469918176385-000" is not a clock stamp of 13 digits, a hyphen and 4 hex digits`},
		{"body a list", swap(`{"text":"all labels printed"}`, `[]`), "the body is not a JSON object"},
		{"body null", swap(`{"text":"all labels printed"}`, `null`), "the body is not a JSON object"},
		{"U+0000", swap("printed", `\u0000`), "body.text: the text holds the character U+0000"},
		{"half a character, high", swap("printed", `\ud83d`), "body.text: the text holds half a character (a lone surrogate)"},
		{"half a character, low", swap("printed", `\udd0b`), "body.text: the text holds half a character (a lone surrogate)"},
		{"two high halves", swap("printed", `\ud83d\ud83d`), "body.text: the text holds half a character (a lone surrogate)"},
		{"not UTF-8", swap("printed", "\xff"), "the text is not valid UTF-8"},
		{"bare control character", swap("printed", "\x01"), ``},
		{"bad escape", swap("printed", `\x`), ``},
		{"bad hex", swap("printed", `\u+123`), ``},
		{"number out of range", swap(`"text":`, `"n":1e400,"text":`), "body.n: this number is too large"},
		{"number with leading zero", swap(`"text":`, `"n":01,"text":`), ``},
		{"number without fraction", swap(`"text":`, `"n":1.,"text":`), ``},
		{"NaN", swap(`"text":`, `"n":NaN,"text":`), ``},
		{"trailing comma", swap(`printed"}`, `printed",}`), ``},
		{"too deep", swap(`"text":`, `"n":`+strings.Repeat("[", 40)+strings.Repeat("]", 40)+`,"text":`), "body.n: the JSON is nested more than 32 deep"},
		{"too large", swap("printed", strings.Repeat("x", MaxEntryBytes)), fmt.Sprintf("the entry has %d bytes, and 65536 are allowed", len(goodEntry)-7+MaxEntryBytes)},
	} {
		e, err := ParseEntry([]byte(c.raw))
		if err == nil {
			t.Errorf("%s: taken as %+v", c.name, e)
			continue
		}
		if _, ok := problem.As(err); !ok {
			t.Errorf("%s: %v is not for people", c.name, err)
		}
		if c.want != "" && err.Error() != c.want {
			t.Errorf("%s: %q, want %q", c.name, err, c.want)
		}
		namesFieldOnce(t, err)
	}
}

// Whole characters outside the basic plane, escaped or not, are good text.
func TestParseEntryKeepsText(t *testing.T) {
	for _, text := range []string{`\ud83d\udd0b`, "🔋", `\\u0000`, `\"\/\b\f\n\r\t\u00e9`, "ÅΩ漢字", " "} {
		e, err := ParseEntry([]byte(edited(t, "printed", text)))
		if err != nil || !strings.Contains(string(e.Body), text) {
			t.Errorf("%s: %s, %v", text, e.Body, err)
		}
	}
}

func TestParseEntryMissingMembers(t *testing.T) {
	for _, name := range members {
		var m map[string]json.RawMessage
		if err := json.Unmarshal([]byte(goodEntry), &m); err != nil {
			t.Fatal(err)
		}
		delete(m, name)
		raw, err := json.Marshal(m)
		if err != nil {
			t.Fatal(err)
		}
		_, err = ParseEntry(raw)
		if name == "pack" || name == "by" {
			if err != nil {
				t.Errorf("without %s: %v", name, err)
			}
			continue
		}
		if err == nil || err.Error() != fmt.Sprintf("the entry has no %q", name) {
			t.Errorf("without %s: %v", name, err)
		}
	}
}

func TestUnknownKindsAndVersionsPass(t *testing.T) {
	for name, raw := range map[string]string{
		"unknown kind":           edited(t, `"note"`, `"capacity-check2"`),
		"newer version":          edited(t, `"v":1`, `"v":2`),
		"newer version, members": edited(t, `"v":1`, `"v":2,"sealed":{"by":"x"}`),
		"newer version, body":    strings.Replace(edited(t, `"v":1`, `"v":2`), `"text"`, `"words"`, 1),
	} {
		e, err := ParseEntry([]byte(raw))
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if err := e.Check(); err != nil {
			t.Errorf("%s: %v", name, err)
		}
		if e.Known() {
			t.Errorf("%s: this program claims to know it", name)
		}
	}
}

// A wrong clock is never a reason to refuse an entry.
func TestAnyClockPasses(t *testing.T) {
	for _, ms := range []int64{0, 1, 4_070_908_800_000, 1<<48 - 1} {
		var c Clock
		e := Entry{ID: NewID(ms, [10]byte{1}), V: 1, Kind: Noted, Device: "d", HLC: c.Tick(ms).String(), Body: json.RawMessage(`{"text":"x"}`)}
		raw, err := json.Marshal(e)
		if err != nil {
			t.Fatal(err)
		}
		parsed, err := ParseEntry(raw)
		if err != nil {
			t.Errorf("clock at %d: %v", ms, err)
			continue
		}
		if err := parsed.Check(); err != nil {
			t.Errorf("clock at %d: %v", ms, err)
		}
	}
}

// The scanner agrees with encoding/json on what is JSON; beyond that it only refuses.
func FuzzParseEntry(f *testing.F) {
	f.Add([]byte(goodEntry))
	f.Add([]byte(strings.Replace(goodEntry, `"v":1`, `"v":2,"x":[1e5,-0.5,true,null,"\ud83d\udd0b"]`, 1)))
	for _, c := range seasonBodies {
		raw, err := json.Marshal(made(c.kind, c.pack, c.body))
		if err != nil {
			f.Fatal(err)
		}
		f.Add(raw)
	}
	f.Add([]byte(`{"id":"","v":1e9,"body":{"a":[{}],"a":"\u12"}}`))
	f.Fuzz(func(t *testing.T, raw []byte) {
		e, err := ParseEntry(raw)
		if err != nil {
			if _, ok := problem.As(err); !ok {
				t.Errorf("%v is not for people", err)
			}
			return
		}
		if !json.Valid(raw) {
			t.Fatalf("not JSON, but taken: %q", raw)
		}
		_ = e.Check()
		again, err := json.Marshal(e)
		if err != nil {
			t.Fatal(err)
		}
		if e.V > Version {
			return // members that are not in Entry are not written back
		}
		// What may be left out is the same as empty.
		before, after := map[string]any{"pack": "", "by": ""}, map[string]any{}
		if json.Unmarshal(raw, &before) != nil || json.Unmarshal(again, &after) != nil || fmt.Sprint(before) != fmt.Sprint(after) {
			t.Errorf("%s came back as %s", raw, again)
		}
	})
}

func BenchmarkParseEntry(b *testing.B) {
	raw := []byte(strings.Replace(goodEntry, `{"text":"all labels printed"}`, `{"method":"known-load","open_v":[12.84,12.84,12.83],"loaded_v":[12.71,12.70,12.71],"load_ohm":10,"load_tolerance_pct":5,"meter":{"reading_pct":0.5,"counts":2,"resolution_v":0.01},"read_after_s":5,"temperature_c":21,"charge":"full","rested_min":90}`, 1))
	b.SetBytes(int64(len(raw)))
	b.ReportAllocs()
	for b.Loop() {
		if _, err := ParseEntry(raw); err != nil {
			b.Fatal(err)
		}
	}
}
