package journal

import (
	"bytes"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// Published vectors of ISO/IEC 7064 MOD 37,36. The first two stand in the test
// texts of the Python library stdnum (the first also in the standard for global
// release identifiers); the next group in the tests of a Go library of all
// ISO/IEC 7064 systems (jacoelho/go-iso7064); the last are release identifiers
// in public code.
func TestCheckCharPublished(t *testing.T) {
	for text, want := range map[string]byte{
		"A12425GABC1234002": 'M',

		"RABD": 'A', "X0H": 'X', "TBR": '1', "9": 'J', "B3739U6CR": 'K', "OW": 'N', "TRO": 'D', "1M": 'Q', "WP8Z0": '9',
		"EFWW032G2TI": 'U', "7LI6P5WTF2JHU": 'U', "KUHNOF8OA1NXCW": 'A', "KV0MFQXMAL4W5ICNH": 'P',
		"H0DJFUS8HHGZNEE9H6ZWW": 'O', "MM61BF7H6C2O86NNMW8ZY8V": '8', "B7Q3SFTUSH2QN7BIXBPMNZAM": 'I',
		"ROYL38YZ9TDGPNB5MT40CEWGURAOKF07XEYTV3M": '6',

		"A12425GXYZ9876008": '6', "A12425G1234567890": 'L', "A12589KCCC2586482": 'V', "A1134344343434434": '4',
	} {
		if got := checkChar(text); got != want {
			t.Errorf("%s: %c, want %c", text, got, want)
		}
	}
}

func TestReadCode(t *testing.T) {
	code, err := NewCode(bytes.Repeat([]byte{0x5a, 0xc3, 0x17}, 11))
	if err != nil {
		t.Fatal(err)
	}
	for _, text := range []string{
		code, strings.ToLower(code), " " + code + "\n", code[:3] + "-" + code[3:], code[:2] + " " + code[2:4] + " " + code[4:],
		"HTTPS://PIT.LOCAL/P/" + code, "https://pit.local/p/" + strings.ToLower(code), "http://127.0.0.1:8080/p/" + code + "?from=label",
		"https://pit.local/p/" + code + "/", "https://pit.local/p/" + code + "#test", "/p/" + code,
	} {
		if got, err := ReadCode(text); err != nil || got != code {
			t.Errorf("%q: %q, %v; want %s", text, got, err, code)
		}
	}
}

func TestReadCodeConfusableLetters(t *testing.T) {
	code := "10101" + string(checkChar("10101"))
	if !strings.ContainsRune(codeChars, rune(code[5])) {
		t.Fatalf("%s is no code; choose another example", code)
	}
	for _, text := range []string{"IOLOi" + code[5:], "lolol" + code[5:], "1o1O1" + code[5:]} {
		if got, err := ReadCode(text); err != nil || got != code {
			t.Errorf("%q: %q, %v; want %s", text, got, err, code)
		}
	}
}

func TestReadCodeProblems(t *testing.T) {
	for text, want := range map[string]string{
		"":                                   "no code was given",
		"7K3QX":                              "a code has 6 characters, and this has 5",
		"7K3QX99":                            "a code has 6 characters, and this has 7",
		"UK3QX9":                             "a code never holds the letter U",
		"7K3Q*9":                             `"*" cannot be part of a code`,
		"7K3QXÄ":                             `"Ä" cannot be part of a code`,
		"https://example.org/ticket":         `that is not the label of a pack: "https://example.org/ticket"`,
		"10102" + string(checkChar("10101")): "10102" + string(checkChar("10101")) + " is not a code: its last character, the check, does not fit the others",
	} {
		got, err := ReadCode(text)
		if err == nil || err.Error() != want {
			t.Errorf("%q: %q, %v; want the problem %q", text, got, err, want)
		}
	}
}

// One wrong character in a code is always noticed, and the standard promises it.
// Of swaps of neighbours the standard lets a few through.
func TestReadCodeNoticesSlips(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		random := rapid.SliceOfN(rapid.Byte(), 32, 32).Draw(t, "random")
		code, err := NewCode(random)
		if err != nil {
			t.Skip("no code in these bytes")
		}
		if read, err := ReadCode(code); err != nil || read != code {
			t.Fatalf("%s was read as %q, %v", code, read, err)
		}
		for i := range code {
			for _, c := range []byte(codeChars) {
				wrong := code[:i] + string(c) + code[i+1:]
				if _, err := ReadCode(wrong); err == nil && wrong != code {
					t.Fatalf("%s was taken for %s", wrong, code)
				}
			}
		}
	})
}

func TestNewCode(t *testing.T) {
	if code, err := NewCode(make([]byte, 15)[:3]); err == nil {
		t.Errorf("three bytes gave the code %q", code)
	}
	// Every first character comes up: the bits are used evenly.
	seen := map[byte]int{}
	for i := range 32 {
		code, err := NewCode(append([]byte{byte(i << 3)}, bytes.Repeat([]byte{0x42, 0x99, 0x07}, 12)...))
		if err != nil {
			t.Fatal(err)
		}
		seen[code[0]]++
	}
	if len(seen) < 28 {
		t.Errorf("only %d different first characters from 32 different starts", len(seen))
	}
}

func FuzzReadCode(f *testing.F) {
	f.Add("7K3QX9")
	f.Add("HTTPS://PIT.LOCAL/P/7K3QX9")
	f.Add("10101\u00a0\u2011-ü/P//")
	f.Fuzz(func(t *testing.T, text string) {
		code, err := ReadCode(text)
		if err != nil {
			return
		}
		if again, err := ReadCode(code); err != nil || again != code {
			t.Errorf("%q gave %q, which gave %q, %v", text, code, again, err)
		}
		if len(code) != codeLength || strings.ContainsAny(code, "ILOU") {
			t.Errorf("%q gave %q", text, code)
		}
	})
}
