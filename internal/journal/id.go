package journal

import (
	"strings"

	"packwright/internal/problem"
)

// An entry's id is a ULID: 48 bits of unix ms and 80 random bits as 26
// characters of Crockford's base 32, in capitals. Making and reading one takes
// a few lines; the usual library would bring a tenth of all that the phone's
// program weighs beyond the Go runtime. The tests compare with that library.
const idLength, maxIDMS = 26, 1<<48 - 1

// NewID makes an id from the device's raw clock in unix ms and random bytes. A
// clock before 1970 is written as 1970.
func NewID(ms int64, random [10]byte) string {
	ms = min(max(ms, 0), maxIDMS)
	id := make([]byte, 0, idLength)
	for shift := 45; shift >= 0; shift -= 5 {
		id = append(id, codeChars[ms>>shift&31])
	}
	for from := 0; from < 8*len(random); from += 5 {
		id = append(id, codeChars[fiveBits(random[:], from)])
	}
	return string(id)
}

// IDTime is the device's raw clock when the id was made, in unix ms. An id has
// one spelling only: in capitals, and at most 7ZZZZZZZZZZZZZZZZZZZZZZZZZ.
func IDTime(id string) (ms int64, err error) {
	ok := len(id) == idLength && id[0] <= '7'
	for i := 0; ok && i < idLength; i++ {
		value := strings.IndexByte(codeChars, id[i])
		ok = value >= 0
		if i < 10 {
			ms = ms<<5 | int64(value)
		}
	}
	if !ok {
		return 0, problem.Invalidf("id", "", "%q is not a ULID in capitals", short(id))
	}
	return ms, nil
}
