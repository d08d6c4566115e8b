package labels

import (
	"fmt"
	"io"
	"strings"

	"github.com/skip2/go-qrcode"
)

// TerminalQR draws a QR symbol of text with block characters, two modules to a
// line's height, for a camera in front of the screen. Light modules are drawn and
// dark ones left out, which is right on a dark background; with colours the
// symbol brings its own black and white (ANSI escapes) and is right on any.
func TerminalQR(w io.Writer, text string, colours bool) error {
	q, err := qrcode.New(text, qrcode.Low) // the smallest: a screen does not get scratched
	if err != nil {
		return fmt.Errorf("encode QR: %w", err)
	}
	rows := q.Bitmap() // with the quiet zone; true is dark
	dark := func(y, x int) bool { return y < len(rows) && rows[y][x] }
	before, after := "", ""
	if colours {
		before, after = "\x1b[38;5;231;48;5;16m", "\x1b[0m" // white on black, whatever the theme
	}
	var b strings.Builder
	for y := 0; y < len(rows); y += 2 {
		b.WriteString(before)
		for x := range rows[y] {
			switch {
			case dark(y, x) && dark(y+1, x):
				b.WriteRune(' ')
			case dark(y, x):
				b.WriteRune('▄')
			case dark(y+1, x):
				b.WriteRune('▀')
			default:
				b.WriteRune('█')
			}
		}
		b.WriteString(after + "\n")
	}
	_, err = io.WriteString(w, b.String())
	return err
}
