package sheet

import (
	"strings"
	"unicode"

	"packwright/internal/journal"
)

// findPack finds the pack that a cell names: by its code, by its name, or by the
// number in its name where only one pack has that; the last is a guess.
func findPack(text string, known []Known) (pack *Known, guessed bool) {
	if code, err := journal.ReadCode(text); err == nil {
		for i := range known {
			if known[i].Code == code {
				return &known[i], false
			}
		}
	}
	want := plainName(text)
	if want == "" {
		return nil, false
	}
	var byNumber *Known
	several := false
	for i := range known {
		if plainName(known[i].Code) == want { // a code that no label can carry
			return &known[i], false
		}
		name := plainName(known[i].Name)
		if name == want {
			if pack != nil {
				return nil, false // two packs of one name
			}
			pack = &known[i]
		}
		if number := strings.TrimLeft(want, "0"); number != "" && onlyDigits(want) && lastNumber(name) == number {
			several = several || byNumber != nil
			byNumber = &known[i]
		}
	}
	if pack == nil && !several && byNumber != nil {
		return byNumber, true
	}
	return pack, false
}

// plainName writes a name without what people vary: case, accents, spaces, signs.
func plainName(text string) string {
	return strings.Join(strings.FieldsFunc(plainLetters(text), func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) }), "")
}

// lastNumber is the number at the end of a name, without leading zeros.
func lastNumber(name string) string {
	return strings.TrimLeft(name[len(strings.TrimRight(name, "0123456789")):], "0")
}
