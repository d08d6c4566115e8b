package strictjson

import (
	"bytes"
	"math"
	"strconv"
	"strings"
	"unicode/utf16"
	"unicode/utf8"

	"packwright/internal/problem"
)

// maxDepth bounds the nesting of JSON that is read; entries need about four.
const maxDepth = 32

// scan walks over JSON text once, from left to right.
type scan struct {
	raw   []byte
	at    int
	depth int
}

func newScan(raw []byte) (*scan, error) {
	if !utf8.Valid(raw) {
		return nil, problem.New(problem.Invalid, "send the text as UTF-8", "the text is not valid UTF-8")
	}
	s := &scan{raw: raw}
	s.space()
	return s, nil
}

// skip steps over one value of any shape.
func (s *scan) skip() error {
	switch c := s.peek(); {
	case c == '{':
		return s.object(func([]byte) error { return s.skip() })
	case c == '[':
		return s.array(s.skip)
	case c == '"':
		return s.str()
	case c == '-' || (c >= '0' && c <= '9'):
		return s.number()
	case c == 't':
		return s.word("true")
	case c == 'f':
		return s.word("false")
	}
	return s.word("null")
}

// object steps over an object; member is called with each name, standing at its value.
func (s *scan) object(member func(name []byte) error) error {
	if s.peek() != '{' {
		return s.broken()
	}
	if err := s.enter(); err != nil {
		return err
	}
	var seen nameSet
	for first := true; ; first = false {
		if s.peek() == '}' && first {
			break
		}
		from := s.at
		if err := s.str(); err != nil {
			return err
		}
		name := unquote(s.raw[from:s.at])
		if !seen.add(name) {
			return problem.Invalidf(string(name), "", "this field is there twice")
		}
		s.space()
		if s.peek() != ':' {
			return s.broken()
		}
		s.at++
		s.space()
		if err := member(name); err != nil {
			return within(err, string(name))
		}
		s.space()
		if s.peek() != ',' {
			break
		}
		s.at++
		s.space()
	}
	return s.leave('}')
}

// array steps over an array; element is called standing at each element.
func (s *scan) array(element func() error) error {
	if s.peek() != '[' {
		return s.broken()
	}
	if err := s.enter(); err != nil {
		return err
	}
	for first := true; ; first = false {
		if s.peek() == ']' && first {
			break
		}
		if err := element(); err != nil {
			return err
		}
		s.space()
		if s.peek() != ',' {
			break
		}
		s.at++
		s.space()
	}
	return s.leave(']')
}

func (s *scan) enter() error {
	if s.depth++; s.depth > maxDepth {
		return problem.New(problem.Invalid, "", "the JSON is nested more than %d deep", maxDepth)
	}
	s.at++
	s.space()
	return nil
}

func (s *scan) leave(c byte) error {
	if s.peek() != c {
		return s.broken()
	}
	s.at++
	s.depth--
	return nil
}

// str steps over a string.
func (s *scan) str() error {
	if s.peek() != '"' {
		return s.broken()
	}
	for i := s.at + 1; i < len(s.raw); i++ {
		switch c := s.raw[i]; {
		case c == '"':
			s.at = i + 1
			return nil
		case c < ' ':
			s.at = i
			return s.broken()
		case c == '\\':
			n, err := s.escape(i)
			if err != nil {
				return err
			}
			i += n - 1
		}
	}
	s.at = len(s.raw)
	return s.broken()
}

// escape checks the escape sequence at i and gives its length in bytes; the
// two halves of a surrogate pair count as one.
func (s *scan) escape(i int) (int, error) {
	rest := s.raw[i+1:]
	if len(rest) == 0 {
		s.at = len(s.raw)
		return 0, s.broken()
	}
	if rest[0] != 'u' {
		if strings.IndexByte(`"\/bfnrt`, rest[0]) < 0 {
			s.at = i
			return 0, s.broken()
		}
		return 2, nil
	}
	r, ok := hex4(rest[1:])
	switch {
	case !ok:
		s.at = i
		return 0, s.broken()
	case r == 0:
		return 0, problem.New(problem.Invalid, "take it out", "the text holds the character U+0000")
	case r >= 0xD800 && r < 0xE000:
		if len(rest) > 6 && r < 0xDC00 && rest[5] == '\\' && rest[6] == 'u' {
			if low, ok := hex4(rest[7:]); ok && low >= 0xDC00 && low < 0xE000 {
				return 12, nil
			}
		}
		return 0, problem.New(problem.Invalid, "take it out", "the text holds half a character (a lone surrogate)")
	}
	return 6, nil
}

func hex4(b []byte) (rune, bool) {
	if len(b) < 4 {
		return 0, false
	}
	n, err := strconv.ParseUint(string(b[:4]), 16, 16)
	return rune(n), err == nil && b[0] != '+' && b[0] != '-'
}

// number steps over a number by the grammar of RFC 8259, section 6.
func (s *scan) number() error {
	from := s.at
	if s.peek() == '-' {
		s.at++
	}
	if whole := s.digits(); whole == 0 || (whole > 1 && s.raw[s.at-whole] == '0') {
		return s.broken()
	}
	if s.peek() == '.' {
		s.at++
		if s.digits() == 0 {
			return s.broken()
		}
	}
	exponent := s.peek() == 'e' || s.peek() == 'E'
	if exponent {
		s.at++
		if c := s.peek(); c == '+' || c == '-' {
			s.at++
		}
		if s.digits() == 0 {
			return s.broken()
		}
	}
	// Only an exponent or three hundred digits can leave a float64's range.
	if exponent || s.at-from > 300 {
		if f, err := strconv.ParseFloat(string(s.raw[from:s.at]), 64); err != nil || math.IsInf(f, 0) {
			return problem.New(problem.Invalid, "", "this number is too large")
		}
	}
	return nil
}

func (s *scan) digits() int {
	from := s.at
	for s.at < len(s.raw) && s.raw[s.at] >= '0' && s.raw[s.at] <= '9' {
		s.at++
	}
	return s.at - from
}

func (s *scan) word(w string) error {
	if !bytes.HasPrefix(s.raw[s.at:], []byte(w)) {
		return s.broken()
	}
	s.at += len(w)
	return nil
}

func (s *scan) space() {
	for s.at < len(s.raw) {
		switch s.raw[s.at] {
		case ' ', '\t', '\n', '\r':
			s.at++
		default:
			return
		}
	}
}

// end says whether nothing but white space is left.
func (s *scan) end() error {
	s.space()
	if s.at < len(s.raw) {
		return s.broken()
	}
	return nil
}

// peek is the byte at hand, 0 at the end (which is no JSON either).
func (s *scan) peek() byte {
	if s.at < len(s.raw) {
		return s.raw[s.at]
	}
	return 0
}

func (s *scan) broken() error {
	if s.at >= len(s.raw) {
		return problem.New(problem.Invalid, "it may have been cut off on its way", "the JSON ends too early")
	}
	return problem.New(problem.Invalid, "", "this is not JSON from byte %d on", s.at+1)
}

// nameSet notices repeated names: a list while short, a map when long.
type nameSet struct {
	few  [16][]byte
	n    int
	many map[string]bool
}

func (s *nameSet) add(name []byte) bool {
	for _, old := range s.few[:s.n] {
		if bytes.Equal(old, name) {
			return false
		}
	}
	if s.n < len(s.few) {
		s.few[s.n] = name
		s.n++
		return true
	}
	if s.many == nil {
		s.many = map[string]bool{}
	}
	if s.many[string(name)] {
		return false
	}
	s.many[string(name)] = true
	return true
}

// unquote gives the text of a string literal that str has stepped over.
func unquote(literal []byte) []byte {
	inside := literal[1 : len(literal)-1]
	if bytes.IndexByte(inside, '\\') < 0 {
		return inside
	}
	text := make([]byte, 0, len(inside))
	for i := 0; i < len(inside); i++ {
		c := inside[i]
		if c != '\\' {
			text = append(text, c)
			continue
		}
		i++
		if short := strings.IndexByte(`"\/bfnrt`, inside[i]); short >= 0 {
			text = append(text, "\"\\/\b\f\n\r\t"[short])
			continue
		}
		r, _ := hex4(inside[i+1:]) // str has checked it
		i += 4
		if utf16.IsSurrogate(r) {
			low, _ := hex4(inside[i+3:])
			r = utf16.DecodeRune(r, low)
			i += 6
		}
		text = utf8.AppendRune(text, r)
	}
	return text
}
