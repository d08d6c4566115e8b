package labels

import (
	"encoding/json"
	"fmt"
	"os"
	"strings"
	"testing"
)

// TestQRSize checks which text needs which version against the table of
// characters in alphanumeric mode at levels Q and H (ISO/IEC 18004, from two
// independent transcriptions of it): the longest text of each version, and one
// character more. It fails where the library leaves alphanumeric mode or where
// its names of the levels are taken at their word.
func TestQRSize(t *testing.T) {
	for _, c := range []struct {
		level   string
		longest []int // of versions 1 to 5
	}{{"Q", []int{16, 29, 47, 67, 87}}, {"H", []int{10, 20, 35, 50, 64}}} {
		for i, n := range c.longest {
			modules := 17 + 4*(i+1)
			for _, check := range []struct{ chars, modules int }{{n, modules}, {n + 1, modules + 4}} {
				q, err := newQR(strings.Repeat("A:", check.chars)[:check.chars], c.level)
				if err != nil {
					t.Fatal(err)
				}
				if q.modules() != check.modules {
					t.Errorf("%d characters at level %s: %d modules, want %d", check.chars, c.level, q.modules(), check.modules)
				}
			}
		}
	}
}

// TestQRLevel reads the level back from the symbol: the first two bits of its
// format information, right of the top left finder's corner, under the mask
// 101010000010010 (ISO/IEC 18004, from memory).
func TestQRLevel(t *testing.T) {
	bit := map[bool]int{true: 1}
	for level, want := range map[string]int{"Q": 0b11, "H": 0b10} {
		q, err := newQR("HTTPS://PIT.LOCAL/P/7K3QX9", level)
		if err != nil {
			t.Fatal(err)
		}
		if got := (bit[q.rows[8][0]]<<1 | bit[q.rows[8][1]]) ^ 0b10; got != want {
			t.Errorf("level %s: the symbol says %02b, want %02b", level, got, want)
		}
	}
}

// TestQRTypical: the usual address gives 25 modules at level Q, 29 at H.
func TestQRTypical(t *testing.T) {
	for level, want := range map[string]int{"Q": 25, "H": 29} {
		q, err := newQR(payloadOf("HTTPS://PIT.LOCAL", "7K3QX9"), level)
		if err != nil {
			t.Fatal(err)
		}
		if q.modules() != want {
			t.Errorf("level %s: %d modules, want %d", level, q.modules(), want)
		}
	}
}

func TestBaseAddress(t *testing.T) {
	for typed, want := range map[string]string{
		"https://pit.local":        "HTTPS://PIT.LOCAL",
		" https://pit.local/ ":     "HTTPS://PIT.LOCAL",
		"http://127.0.0.1:8080":    "HTTP://127.0.0.1:8080",
		"HTTPS://Pit.Local:8443//": "HTTPS://PIT.LOCAL:8443",
		"https://a-b.example":      "HTTPS://A-B.EXAMPLE",
	} {
		if got, err := baseAddress(typed); err != nil || got != want {
			t.Errorf("%q: got %q, %v, want %q", typed, got, err, want)
		}
	}
	for _, typed := range []string{
		"", "  ", "/", "pit.local", "pit.local:8080", "ftp://pit.local", "https://", "https:///p", "https://pit.local/app",
		"https://pit.local?x", "https://pit.local?", "https://pit.local#x", "https://me@pit.local", "https://pit_1.local",
		"https://bücher.example", "https://[fe80::1]:8080", "https://pit local", "https://pit.local\x00", "https://pit.local%41",
	} {
		got, err := baseAddress(typed)
		if err == nil {
			t.Errorf("%q was taken as %q", typed, got)
			continue
		}
		wantProblem(t, err, "base_url")
	}
}

// The addresses that a team may enter are those that labels can carry: the table
// is also checked by package journal.
func TestBaseAddressTable(t *testing.T) {
	raw, err := os.ReadFile("../testdata/base-url.json")
	if err != nil {
		t.Fatal(err)
	}
	var table struct{ Accepted, Refused []string }
	if err := json.Unmarshal(raw, &table); err != nil || len(table.Accepted) == 0 || len(table.Refused) == 0 {
		t.Fatalf("%+v, %v", table, err)
	}
	for _, address := range table.Accepted {
		if _, err := baseAddress(address); err != nil {
			t.Errorf("%q: %v", address, err)
		}
	}
	for _, address := range table.Refused {
		if got, err := baseAddress(address); err == nil {
			t.Errorf("%q was taken as %q", address, got)
		}
	}
}

func TestShortLived(t *testing.T) {
	for base, want := range map[string]string{
		"HTTPS://PIT.LOCAL":     "",
		"HTTPS://10.EXAMPLE":    "",
		"HTTP://LOCALHOST:8080": "this computer only",
		"HTTP://127.0.0.1:8080": "this computer only",
		"HTTP://192.168.1.7":    "a name lasts longer",
		"HTTP://PIT.LOCAL:8088": "begins with http",
	} {
		if got := shortLived(base); (want == "") != (got == "") || !strings.Contains(got, want) {
			t.Errorf("%s: got %q, want %q", base, got, want)
		}
	}
}

// TestLongestAddress: on every size, the longest address prints with modules of
// 0.5 mm or more, one character more is refused, and the hint names the limit.
func TestLongestAddress(t *testing.T) {
	for _, size := range Sizes() {
		for _, level := range []string{"Q", "H"} {
			n := longestBase("7K3QX9", level, size.content(size.label(0)))
			if n < len("https://packs.our-school.example:8443") {
				t.Errorf("%s level %s takes only %d characters", size.Key, level, n)
			}
			o := SheetOptions{Size: size.Key, Level: level, BaseURL: address(n)}
			d := layOut(t, func(ts *typesetter) (*drawing, error) { return layoutSheet(ts, somePacks()[:1], o) })
			for _, it := range d.pages[0].items {
				if s, ok := it.(symbol); ok && s.moduleMM < 0.5 {
					t.Errorf("%s level %s: modules of %g mm", size.Key, level, s.moduleMM)
				}
			}
			ts, err := newTypesetter()
			if err != nil {
				t.Fatal(err)
			}
			o.BaseURL = address(n + 1)
			_, err = layoutSheet(ts, somePacks()[:1], o)
			p := wantProblem(t, err, "base_url")
			if !strings.Contains(p.Hint, fmt.Sprintf("at most %d characters", n)) {
				t.Errorf("hint %q does not name %d", p.Hint, n)
			}
		}
	}
}

// address makes a web address of n characters.
func address(n int) string {
	const head, tail = "https://", ".example"
	return head + strings.Repeat("k", n-len(head)-len(tail)) + tail
}
