package labels

import (
	"strings"
	"testing"
)

// TestTerminalQR turns what the terminal shows into pixels and reads it with an
// independent reader (zbar): white where a block is drawn, black elsewhere.
func TestTerminalQR(t *testing.T) {
	zbarimg := tool(t, "zbarimg")
	for _, text := range []string{"https://pit.local:8443/join#7K3Q-X9TW", "http://192.168.178.123:8088", "x"} {
		for _, colours := range []bool{false, true} {
			var b strings.Builder
			if err := TerminalQR(&b, text, colours); err != nil {
				t.Fatal(err)
			}
			if strings.Contains(b.String(), "\x1b") != colours {
				t.Errorf("colours %v: %q", colours, b.String()[:40])
			}
			shown := strings.NewReplacer("\x1b[38;5;231;48;5;16m", "", "\x1b[0m", "").Replace(b.String())
			if got := scan(t, zbarimg, []pgm{screenshot(shown)}); got[0] != text {
				t.Errorf("read %q, want %q\n%s", got[0], text, shown)
			}
		}
	}
	if err := TerminalQR(&strings.Builder{}, strings.Repeat("x", 5000), false); err == nil {
		t.Error("a text too long for any QR was drawn")
	}
}

// screenshot draws lines of block characters, each half a character 4 × 4 pixels.
func screenshot(text string) pgm {
	const half = 4
	lines := strings.Split(strings.TrimSuffix(text, "\n"), "\n")
	img := pgm{w: half * len([]rune(lines[0])), h: 2 * half * len(lines)}
	img.pix = make([]byte, img.w*img.h)
	for row, line := range lines {
		for column, r := range []rune(line) {
			for y := range 2 * half {
				if upper := y < half; r == '█' || r == '▀' && upper || r == '▄' && !upper {
					at := (2*half*row+y)*img.w + half*column
					copy(img.pix[at:at+half], "\xff\xff\xff\xff")
				}
			}
		}
	}
	return img
}
