// Package access keeps the devices that may use this server over the network:
// who was invited, who joined, in which role, and who was taken off again.
//
// Use Open, then Invite for a code that one device may Join with, and Check for
// the token of every request. A Register knows no HTTP; the server decides what
// each role may.
//
//   - A code has 40 random bits, lives ten minutes in memory only, and lets one
//     device in. Five wrong tries from one address close every open code to that
//     address, a hundred from wherever end it.
//   - A token has 256 random bits and is known to its device alone: the file
//     holds its SHA-256. A hash made for passwords would add nothing, since there
//     is nothing to guess from.
//   - What the file says is so before anything is answered: a device that was told
//     it is in, stays in; one that was taken off, stays off.
package access

import (
	"slices"
	"unicode"
	"unicode/utf8"

	"packwright/internal/problem"
)

// Role is what a device may do. The texts are part of the API.
type Role string

// The roles.
const (
	Crew Role = "crew" // record, read, print
	Lead Role = "lead" // that, and devices, team settings, restore, import
)

// May reports whether the role is enough where need is asked for. No role is
// enough for one that is not known, and everybody, joined or not, may do what asks
// for none.
func (r Role) May(need Role) bool {
	switch need {
	case "":
		return true
	case Crew:
		return r == Crew || r == Lead
	case Lead:
		return r == Lead
	}
	return false
}

// check refuses what is no role; kind Invalid.
func (r Role) check() error {
	if r != Crew && r != Lead {
		return problem.Invalidf("role", "use crew or lead", "%q is no role", short(string(r)))
	}
	return nil
}

// Device is one that joined.
type Device struct {
	ID        string `json:"id"`                   // given here; entries it brings are filed under it
	Name      string `json:"name"`                 // chosen by its user, such as Pit phone 2
	Role      Role   `json:"role"`                 // at this time
	JournalID string `json:"journal_id"`           // the device id in the entries it makes; empty for another server
	JoinedMS  int64  `json:"joined_ms"`            // unix ms
	SeenMS    int64  `json:"seen_ms"`              // unix ms of its last request
	Unsent    int    `json:"unsent"`               // entries it had still to send, as it said last; -1 unknown
	RevokedMS int64  `json:"revoked_ms,omitempty"` // unix ms when it was taken off; absent while it may come in
}

// IsServer says whether the device is another server, which makes no entries.
func (d Device) IsServer() bool { return d.JournalID == "" }

const (
	maxNameChars      = 40
	maxJournalIDChars = 64 // as in package journal
)

// checkText refuses a text that is too long or cannot be shown; kind Invalid.
func checkText(field, text string, least, most int) error {
	n := utf8.RuneCountInString(text)
	switch {
	case n < least:
		return problem.Invalidf(field, "such as Pit phone 2", "the %s is empty", field)
	case n > most:
		return problem.Invalidf(field, "shorten it", "the %s has %d characters, and %d are allowed", field, n, most)
	case !utf8.ValidString(text) || slices.ContainsFunc([]rune(text), func(r rune) bool { return !unicode.IsPrint(r) }):
		return problem.Invalidf(field, "use letters, digits and spaces", "the %s holds a character that cannot be shown", field)
	}
	return nil
}

// short keeps what a stranger sent from filling a message.
func short(text string) string {
	const most = 20
	if runes := []rune(text); len(runes) > most {
		return string(runes[:most]) + "…"
	}
	return text
}
