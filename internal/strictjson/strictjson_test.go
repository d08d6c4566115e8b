package strictjson

import (
	"encoding/json"
	"math"
	"reflect"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"packwright/internal/problem"
)

type kind string

type part struct {
	Ohm  float64 `json:"ohm"`
	Name string  `json:"name,omitempty"`
}

type base struct {
	Code string `json:"code"`
	N    int    `json:"n"`
}

// all holds every sort of field that crosses the door.
type all struct {
	base
	Kind    kind              `json:"kind"`
	Volts   []float64         `json:"volts"`
	Perhaps *float64          `json:"perhaps,omitempty"`
	Null    *float64          `json:"null"`
	Count   *int              `json:"count,omitempty"`
	Big     int64             `json:"big"`
	Yes     bool              `json:"yes,omitempty"`
	Part    part              `json:"part"`
	Parts   []part            `json:"parts"`
	PartPtr *part             `json:"part_ptr,omitempty"`
	Words   []string          `json:"words,omitempty"`
	Raw     json.RawMessage   `json:"raw"`
	Raws    []json.RawMessage `json:"raws"`
	Zero    float64           `json:"zero,omitempty"`
}

func TestDecode(t *testing.T) {
	const text = ` {"code":"7K3QXX", "n":-3,"kind":"x","volts":[12.84,1e-7,-0],"perhaps":0.5,"null":null,"count":7,"big":1788249600000,
		"yes":true,"part":{"ohm":2.5,"name":"Ω \u00e9\ud83d\udd0b\n"},"parts":[{"ohm":1},{"ohm":2}],"part_ptr":{"ohm":3},"words":["a","b"],
		"raw":{"any": [null,{}]},"raws":[1,"x"],"zero":0}`
	var got, want all
	if err := Decode([]byte(text), &got); err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal([]byte(text), &want); err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(want, got, cmp.AllowUnexported(all{})); diff != "" {
		t.Error(diff)
	}
}

func TestDecodeInAnyOrder(t *testing.T) {
	var got all
	if err := Decode([]byte(`{"zero":1,"big":2,"code":"a","parts":[],"n":3,"kind":"k","yes":false}`), &got); err != nil {
		t.Fatal(err)
	}
	if got.Zero != 1 || got.Big != 2 || got.Code != "a" || got.Parts == nil || got.N != 3 || got.Kind != "k" {
		t.Errorf("%+v", got)
	}
}

func TestDecodeRefuses(t *testing.T) {
	for text, want := range map[string]string{
		`{"volt":[1]}`:               "volt: this field is not known",
		`{"Volts":[1]}`:              "Volts: this field is not known",
		`{"base":{}}`:                "base: this field is not known",
		`{"n":1,"n":1}`:              "n: this field is there twice",
		`{"part":{"ohm":1,"ohm":1}}`: "part.ohm: this field is there twice",
		`{"raw":{"a":1,"a":1}}`:      "raw.a: this field is there twice",
		`{"raw":{"a":1,"\u0061":1}}`: "raw.a: this field is there twice",
		`{"part":{"ohms":1}}`:        "part.ohms: this field is not known",
		`{"volts":[null]}`:           "volts: null does not fit here",
		`{"volts":null}`:             "volts: null does not fit here",
		`{"volts":12}`:               "volts: a number does not fit here",
		`{"volts":["12"]}`:           "volts: a text does not fit here",
		`{"n":1.5}`:                  "n: 1.5 is not a whole number that fits here",
		`{"n":1e3}`:                  "n: 1e3 is not a whole number that fits here",
		`{"n":"1"}`:                  "n: a text does not fit here",
		`{"n":12345678901234567890}`: "n: 12345678901234567890 is not a whole number that fits here",
		`{"yes":1}`:                  "yes: a number does not fit here",
		`{"code":true}`:              "code: true or false does not fit here",
		`{"part":[]}`:                "part: a list does not fit here",
		`{"part_ptr":7}`:             "part_ptr: a number does not fit here",
		`{"zero":{}}`:                "zero: an object does not fit here",
		`{"zero":1e999}`:             "zero: this number is too large",
		`{"zero":-1e999}`:            "zero: this number is too large",
		`{"code":"\u0000"}`:          "code: the text holds the character U+0000",
		`{"\u0000":1}`:               "the text holds the character U+0000",
		`{"code":"\ud800"}`:          "code: the text holds half a character (a lone surrogate)",
		`{"code":"\ud800\u0041"}`:    "code: the text holds half a character (a lone surrogate)",
		"{\"code\":\"\xc3\x28\"}":    "the text is not valid UTF-8",
		``:                           "the JSON ends too early",
		`{`:                          "the JSON ends too early",
		`{"n":1`:                     "the JSON ends too early",
		`{"n":1}}`:                   "this is not JSON from byte 8 on",
		`{"n":1,}`:                   "this is not JSON from byte 8 on",
		`{,}`:                        "this is not JSON from byte 2 on",
		`{"n" 1}`:                    "this is not JSON from byte 6 on",
		`{n:1}`:                      "this is not JSON from byte 2 on",
		`{"n":+1}`:                   "n: this is not JSON from byte 6 on",
		`{"n":tru}`:                  "n: this is not JSON from byte 6 on",
		`[]`:                         "a list does not fit here",
		`{"raw":` + strings.Repeat("[", 33) + strings.Repeat("]", 33) + `}`: "raw: the JSON is nested more than 32 deep",
		`{"` + strings.Repeat("é", 200) + `":1}`:                            strings.Repeat("é", 80) + "…: this field is not known",
	} {
		err := Decode([]byte(text), &all{})
		if err == nil || err.Error() != want {
			t.Errorf("%s:\n got %v\nwant %s", text, err, want)
			continue
		}
		if _, ok := problem.As(err); !ok {
			t.Errorf("%s: %v is not for people", text, err)
		}
	}
}

func TestRepeatedNamesInLongObjects(t *testing.T) {
	var names []string
	for i := range 40 {
		names = append(names, `"`+strings.Repeat("x", i+1)+`":0`)
	}
	if err := Decode([]byte(`{"raw":{`+strings.Join(names, ",")+`}}`), &all{}); err != nil {
		t.Error(err)
	}
	for _, twice := range []int{0, 15, 16, 39} {
		text := `{"raw":{` + strings.Join(append(names[:40:40], names[twice]), ",") + `}}`
		if err := Decode([]byte(text), &all{}); err == nil || !strings.HasSuffix(err.Error(), "twice") {
			t.Errorf("name %d twice: %v", twice, err)
		}
	}
}

func TestEncode(t *testing.T) {
	half := 0.5
	got, err := Encode(&all{base: base{"a", 1}, Perhaps: &half, Raw: json.RawMessage(`{"a":1}`), Part: part{Name: "\"\\\x01<é\u2028"}})
	if err != nil {
		t.Fatal(err)
	}
	want := `{"code":"a","n":1,"kind":"","volts":[],"perhaps":0.5,"null":null,"big":0,"part":{"ohm":0,"name":"\"\\\u0001<é` + "\u2028" + `"},"parts":[],"raw":{"a":1},"raws":[]}`
	if string(got) != want {
		t.Errorf("\n got %s\nwant %s", got, want)
	}
	for _, bad := range []any{&part{Ohm: math.NaN()}, &part{Ohm: math.Inf(-1)}, &struct{ M map[string]int }{}} {
		if out, err := Encode(bad); err == nil {
			t.Errorf("%+v was written as %s", bad, out)
		}
	}
}

// Numbers are written as encoding/json writes them, which is as JavaScript does.
func TestNumbersAgainstLibrary(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := rapid.OneOf(rapid.Float64(), rapid.SampledFrom([]float64{0, math.Copysign(0, -1), 1e-6, 9.99e-7, 1e21, 9.99e20, 1e-9, 1e-10, 1e100, math.MaxFloat64, math.SmallestNonzeroFloat64})).Draw(t, "f")
		got, err := Encode(&part{Ohm: f})
		if err != nil {
			t.Fatal(err)
		}
		want, err := json.Marshal(part{Ohm: f})
		if err != nil {
			t.Fatal(err)
		}
		if string(got) != string(want) {
			t.Fatalf("%s, want %s", got, want)
		}
	})
}

// What is written is read back as it was, and encoding/json agrees on both ways.
func TestThereAndBackAgainstLibrary(t *testing.T) {
	text := rapid.OneOf(rapid.String(), rapid.SampledFrom([]string{"", "<&>", "\u2028", "🔋", "\x01\t\"\\"}))
	number := rapid.Float64()
	rapid.Check(t, func(t *rapid.T) {
		in := all{
			base: base{text.Draw(t, "code"), rapid.Int().Draw(t, "n")}, Kind: kind(text.Draw(t, "kind")),
			Volts: rapid.SliceOf(number).Draw(t, "volts"), Perhaps: rapid.Ptr(number, true).Draw(t, "perhaps"),
			Null: rapid.Ptr(number, true).Draw(t, "null"), Count: rapid.Ptr(rapid.Int(), true).Draw(t, "count"),
			Big: rapid.Int64().Draw(t, "big"), Yes: rapid.Bool().Draw(t, "yes"), Part: part{number.Draw(t, "ohm"), text.Draw(t, "name")},
			Parts: []part{{Ohm: 1}}, Words: rapid.SliceOfN(text, 1, 3).Draw(t, "words"), Raw: json.RawMessage(`[1,{"a":"b"}]`), Raws: []json.RawMessage{json.RawMessage(`null`)},
		}
		if strings.ContainsRune(in.Code+string(in.Kind)+in.Part.Name+strings.Join(in.Words, ""), 0) {
			t.Skip("U+0000 is refused")
		}
		out, err := Encode(&in)
		if err != nil {
			t.Fatal(err)
		}
		var back, library all
		if err := Decode(out, &back); err != nil {
			t.Fatal(err)
		}
		if err := json.Unmarshal(out, &library); err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(in, back, cmp.AllowUnexported(all{})); diff != "" {
			t.Fatal(diff)
		}
		if !reflect.DeepEqual(back, library) {
			t.Fatal(cmp.Diff(library, back, cmp.AllowUnexported(all{})))
		}
		theirs, err := json.Marshal(in)
		if err != nil {
			t.Fatal(err)
		}
		var again all
		if err := Decode(theirs, &again); err != nil || !reflect.DeepEqual(again, in) {
			t.Fatalf("what the library wrote: %v\n%s", err, cmp.Diff(in, again, cmp.AllowUnexported(all{})))
		}
	})
}

func TestText(t *testing.T) {
	if text, ok := Text([]byte(`"a\u00e9\n\ud83d\udd0b"`)); !ok || text != "aé\n🔋" {
		t.Errorf("%q, %v", text, ok)
	}
	for _, no := range []string{`1`, `null`, `{}`} {
		if text, ok := Text([]byte(no)); ok {
			t.Errorf("%s is the text %q", no, text)
		}
	}
}

// Everything that is taken is JSON, and reads the same with encoding/json.
func FuzzDecode(f *testing.F) {
	f.Add([]byte(`{"code":"\ud83d\udd0b","n":-0,"volts":[1e5,0.5E-3],"raw":[{}],"part":{"ohm":1}}`))
	f.Add([]byte(`{"volts":[01],"null":null}`))
	f.Fuzz(func(t *testing.T, raw []byte) {
		var got, want all
		if err := Decode(raw, &got); err != nil {
			return
		}
		if err := json.Unmarshal(raw, &want); err != nil {
			t.Fatalf("taken, but %v", err)
		}
		// encoding/json keeps the bytes of raw values as they are, too.
		if diff := cmp.Diff(want, got, cmp.AllowUnexported(all{})); diff != "" {
			t.Fatal(diff)
		}
	})
}

func BenchmarkDecode(b *testing.B) {
	raw := []byte(`{"code":"7K3QXX","n":3,"kind":"x","volts":[12.84,12.83,12.84],"part":{"ohm":2.5,"name":"bench"},"words":["a","b"],"raw":{"any":[1]}}`)
	b.SetBytes(int64(len(raw)))
	for b.Loop() {
		var a all
		if err := Decode(raw, &a); err != nil {
			b.Fatal(err)
		}
	}
}

// A struct's own fields, which have no name in JSON, are neither written nor
// read, whatever the text calls them.
func TestOwnFieldsStayInside(t *testing.T) {
	type mixed struct {
		inner []int
		A     int `json:"a"`
		cache *mixed
	}
	raw, err := Encode(&mixed{inner: []int{1}, A: 2, cache: &mixed{}})
	if err != nil || string(raw) != `{"a":2}` {
		t.Errorf("%s, %v", raw, err)
	}
	for _, text := range []string{`{"a":2,"":[1]}`, `{"a":2,"inner":[1]}`, `{"cache":null}`} {
		var m mixed
		if err := Decode([]byte(text), &m); err == nil || m.inner != nil || m.cache != nil {
			t.Errorf("%s was read as %+v", text, m)
		}
	}
}
