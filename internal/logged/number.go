package logged

import (
	"bytes"
	"strconv"
)

// tens are the powers of ten that a float64 holds exactly.
var tens = [...]float64{1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22}

var minusSign = []byte("\u2212")

// number reads a number with that decimal sign. A million rows have three
// million of them, so the usual case is read here: up to fifteen digits over a
// power of ten, both exact, so the quotient is the nearest float64. All
// else goes to strconv, but no hexadecimal, infinity or underscore.
func number(b []byte, decimal byte) (float64, bool) {
	if rest, found := bytes.CutPrefix(b, minusSign); found {
		v, ok := number(rest, decimal)
		return -v, ok && rest[0] != '-' && rest[0] != '+'
	}
	i, negative := 0, false
	if i < len(b) && (b[i] == '-' || b[i] == '+') {
		negative = b[i] == '-'
		i++
	}
	var mantissa uint64
	digits, decimals, point := 0, 0, false
	for ; i < len(b); i++ {
		switch c := b[i]; {
		case c >= '0' && c <= '9':
			if digits < 19 {
				mantissa = mantissa*10 + uint64(c-'0')
			}
			digits++
			if point {
				decimals++
			}
		case c == decimal && !point:
			point = true
		case (c == 'e' || c == 'E') && digits > 0:
			return slowNumber(b, decimal)
		default:
			return 0, false
		}
	}
	if digits == 0 {
		return 0, false
	}
	if digits > 15 {
		return slowNumber(b, decimal)
	}
	v := float64(mantissa) / tens[decimals]
	if negative {
		v = -v
	}
	return v, true
}

func slowNumber(b []byte, decimal byte) (float64, bool) {
	text := make([]byte, len(b))
	for i, c := range b {
		switch {
		case c == decimal:
			c = '.'
		case c >= '0' && c <= '9', c == '+', c == '-', c == 'e', c == 'E':
		default:
			return 0, false
		}
		text[i] = c
	}
	v, err := strconv.ParseFloat(string(text), 64)
	return v, err == nil
}
