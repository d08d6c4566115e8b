// Package journal holds what happens to a fleet of packs as entries that are
// made once and never edited.
//
// Use ParseEntry for anything that comes from outside and Entry.Check before an
// entry is stored for the first time. New entries need a NewID, a stamp of the
// device's Clock and, for a new pack, a NewCode. What the entries add up to is
// the business of package fleet.
//
// An entry of an unknown kind or a newer version is a good entry: it is kept
// and passed on as it came, so that an old phone never loses a new one's work.
package journal

import (
	"bytes"
	"slices"
	"strconv"
	"unicode/utf8"

	"packwright/internal/problem"
	"packwright/internal/strictjson"
)

// MaxEntryBytes bounds the JSON of one entry.
const MaxEntryBytes = 64 << 10

const (
	maxDeviceChars = 64
	maxByChars     = 8
	maxKindChars   = 40
	maxVersion     = 1_000_000
)

// members are the names of an entry's envelope. The last two may be left out,
// which is the same as empty; the others are required.
var members = [...]string{"id", "v", "kind", "device", "hlc", "body", "pack", "by"}

const requiredMembers = 6

// ParseEntry reads one entry and checks its envelope, whatever its kind and
// version. A newer version may have more members than this program knows; they
// are not in the Entry, so keep raw to pass it on. Errors are *problem.Error.
func ParseEntry(raw []byte) (Entry, error) {
	if len(raw) > MaxEntryBytes {
		return Entry{}, problem.New(problem.TooLarge, "shorten the note, or the log", "the entry has %d bytes, and %d are allowed", len(raw), MaxEntryBytes)
	}
	var e Entry
	var found uint    // a bit for each of members
	var unknown error // the first member that is none
	err := strictjson.Object(raw, func(name, value []byte) error {
		i := slices.Index(members[:], string(name))
		if i < 0 {
			if unknown == nil {
				unknown = problem.Invalidf(string(name), "leave it out", "%q is not part of an entry", short(string(name)))
			}
			return nil
		}
		found |= 1 << i
		return e.set(members[i], value)
	})
	if err != nil {
		return Entry{}, err
	}
	for i, name := range members[:requiredMembers] {
		if found&(1<<i) == 0 {
			return Entry{}, problem.Invalidf(name, "every entry needs it", "the entry has no %q", name)
		}
	}
	if err := e.checkEnvelope(); err != nil {
		return Entry{}, err
	}
	if unknown != nil && e.V <= Version {
		return Entry{}, unknown
	}
	return e, nil
}

// set fills in one member from its JSON.
func (e *Entry) set(name string, value []byte) error {
	switch name {
	case "body":
		e.Body = bytes.Clone(value)
		return nil
	case "v":
		v, err := strconv.Atoi(string(value))
		if err != nil {
			return problem.New(problem.Invalid, "", "%s is not a whole number", short(string(value)))
		}
		e.V = v
		return nil
	}
	text, ok := strictjson.Text(value)
	if !ok {
		return problem.New(problem.Invalid, "", "it is not a text")
	}
	switch name {
	case "id":
		e.ID = text
	case "kind":
		e.Kind = Kind(text)
	case "pack":
		e.Pack = text
	case "device":
		e.Device = text
	case "by":
		e.By = text
	case "hlc":
		e.HLC = text
	}
	return nil
}

// checkEnvelope checks what every entry has, whatever its kind and version.
func (e Entry) checkEnvelope() error {
	if _, err := IDTime(e.ID); err != nil {
		return err
	}
	if e.V < 1 || e.V > maxVersion {
		return problem.Invalidf("v", "", "%d is no version", e.V)
	}
	if !validKind(string(e.Kind)) {
		return problem.Invalidf("kind", "use lower-case words joined by hyphens, at most 40 characters", "%q is no kind of entry", short(string(e.Kind)))
	}
	if e.Pack != "" && !plainCode(e.Pack) {
		return problem.Invalidf("pack", "write it as on the label, in capitals, without spaces", "%q is no pack code", short(e.Pack))
	}
	if e.Device == "" || !printable(e.Device, maxDeviceChars) {
		return problem.Invalidf("device", "use 1 to 64 printable characters", "%q is no device id", short(e.Device))
	}
	if !printable(e.By, maxByChars) {
		why := "holds a character that cannot be printed"
		if utf8.RuneCountInString(e.By) > maxByChars {
			why = "is too long for initials"
		}
		return problem.Invalidf("by", "give initials only, at most 8 characters", "%q %s", short(e.By), why)
	}
	if _, err := ParseStamp(e.HLC); err != nil {
		return err
	}
	if len(e.Body) == 0 || e.Body[0] != '{' {
		return problem.Invalidf("body", "", "the body is not a JSON object")
	}
	return nil
}

// validKind says whether kind is lower-case words joined by hyphens.
func validKind(kind string) bool {
	if len(kind) > maxKindChars {
		return false
	}
	start := true // of a word
	for i, c := range []byte(kind) {
		switch {
		case c >= 'a' && c <= 'z':
			start = false
		case c >= '0' && c <= '9' && i > 0:
			start = false
		case c == '-' && !start:
			start = true
		default:
			return false
		}
	}
	return !start
}

// printable says whether text is a single line of at most limit characters.
func printable(text string, limit int) bool {
	if utf8.RuneCountInString(text) > limit {
		return false
	}
	for _, r := range text {
		if !strconv.IsPrint(r) {
			return false
		}
	}
	return true
}

// short cuts what someone sent to a length fit for a sentence.
//
//go:noinline
func short(text string) string {
	if r := []rune(text); len(r) > 60 {
		return string(r[:60]) + "…"
	}
	return text
}
