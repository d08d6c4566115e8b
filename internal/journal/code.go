package journal

import (
	"strings"

	"packwright/internal/problem"
)

// A pack code is five characters of Crockford's base 32 and a check character
// by ISO/IEC 7064 MOD 37,36. Codes whose check character is none of the 32 are
// not used, so a code never holds I, L, O or U, and a typed I, L or O can only
// mean 1, 1 or 0.
const (
	codeLength = 6
	codeChars  = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
	checkChars = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"
)

// NewCode makes a pack code from random bytes; 16 bytes or more are needed. A
// draw of 25 bits fails with a chance of 1 in 9 and the next bits are used, so
// with 32 bytes it fails about once in 10¹⁰ calls.
func NewCode(random []byte) (string, error) {
	const drawBits = 5 * (codeLength - 1)
	for from := 0; from+drawBits <= 8*len(random); from += drawBits {
		code := make([]byte, codeLength-1, codeLength)
		for i := range code {
			code[i] = codeChars[fiveBits(random, from+5*i)]
		}
		if check := checkChar(string(code)); strings.IndexByte(codeChars, check) >= 0 {
			return string(append(code, check)), nil
		}
	}
	return "", problem.Invalidf("random", "try again with 32 fresh random bytes", "%d random bytes did not give a code", len(random))
}

// fiveBits reads five bits of b, from the given bit on.
func fiveBits(b []byte, from int) (value int) {
	for bit := from; bit < from+5; bit++ {
		value = value<<1 | int(b[bit/8]>>(7-bit%8))&1
	}
	return value
}

// ReadCode takes a typed code or any text scanned from a label, ".../P/CODE" on
// any host, in any case and with spaces or hyphens, and gives the code as it is
// written on the label.
func ReadCode(text string) (string, error) {
	code := BareCode(text)
	if strings.Contains(code, "/") {
		return "", codeProblem("scan the square on a pack's label, or type its code", "that is not the label of a pack: %q", short(text))
	}
	for _, r := range code {
		switch {
		case r == 'U':
			return "", codeProblem("look at the label again: it may be a V", "a code never holds the letter U")
		case !strings.ContainsRune(codeChars, r):
			return "", codeProblem("a code has digits and capital letters only", "%q cannot be part of a code", string(r))
		}
	}
	switch last := codeLength - 1; {
	case code == "":
		return "", codeProblem("type the six characters under the square on the label", "no code was given")
	case len(code) != codeLength:
		return "", codeProblem("look at the label again", "a code has %d characters, and this has %d", codeLength, len(code))
	case checkChar(code[:last]) != code[last]:
		return "", codeProblem("look at the label again: one character is wrong, or two are swapped",
			"%s is not a code: its last character, the check, does not fit the others", code)
	}
	return code, nil
}

// BareCode takes what may be a code out of typed or scanned text: the part
// after /P/, in capitals, without spaces and hyphens, with 1 for I and L and 0
// for O. It checks nothing.
func BareCode(text string) string {
	text = strings.ToUpper(strings.TrimSpace(text))
	if _, after, ok := strings.Cut(text, "/P/"); ok {
		if end := strings.IndexAny(after, "/?#"); end >= 0 {
			after = after[:end]
		}
		text = after
	}
	return strings.Map(func(r rune) rune {
		switch r {
		case ' ', '-', '\u00a0', '\u2010', '\u2011', '\u2013':
			return -1
		case 'I', 'L':
			return '1'
		case 'O':
			return '0'
		}
		return r
	}, text)
}

// validCode says whether code is a pack code exactly as written on a label.
func validCode(code string) bool {
	read, err := ReadCode(code)
	return err == nil && read == code
}

// plainCode says whether an entry may name its pack so. It asks less than
// validCode, which is for what people type and cameras read: a record that was
// made must never be lost to a later rule for codes.
func plainCode(code string) bool {
	const most = 16
	return len(code) <= most && strings.Trim(code, checkChars) == ""
}

func codeProblem(hint, format string, args ...any) *problem.Error {
	return problem.Invalidf("code", hint, format, args...)
}

// checkChar computes the check character of ISO/IEC 7064 MOD 37,36 over
// 0–9 and A–Z. Every wrong character is noticed, and nearly every swap of
// neighbours. Own code, for want of a kept library.
func checkChar(text string) byte {
	const m = len(checkChars)
	p := m
	for _, c := range []byte(text) {
		sum := (p + strings.IndexByte(checkChars, c)) % m
		if sum == 0 {
			sum = m
		}
		p = 2 * sum % (m + 1)
	}
	return checkChars[(m+1-p)%m]
}
