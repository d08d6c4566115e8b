// Package problem holds the one error a person may read.
//
// Use New, or Invalidf for one field of the input, wherever something the user did or can
// mend went wrong: a sentence that says what was wrong, and a hint that says
// what to try. Every other error is a fault of the program and is shown only
// as "internal error". The kind is mapped once to an HTTP status (server) and
// once to an exit code (command line), and crosses the bridge to the phone.
package problem

import (
	"errors"
	"fmt"
)

// Kind sorts problems for machines.
type Kind string

// The kinds. Their text is part of the API and never changes meaning.
const (
	Invalid     Kind = "invalid"     // the input cannot be used as it is
	NotFound    Kind = "not_found"   // no such pack, entry or route
	Conflict    Kind = "conflict"    // it contradicts what is already there
	TooLarge    Kind = "too_large"   // more than a stated limit
	InUse       Kind = "in_use"      // another process holds the resource
	NoSpace     Kind = "no_space"    // the disk is full
	Damaged     Kind = "damaged"     // stored data does not check out
	Unsupported Kind = "unsupported" // made for another version or place
	NotJoined   Kind = "not_joined"  // no device that may come in: join first
	NotAllowed  Kind = "not_allowed" // known, but this is not for its role or its way in
	TooMany     Kind = "too_many"    // asked too often: later
)

// Error is a problem that a person may read.
type Error struct {
	Kind  Kind   `json:"kind"`
	Text  string `json:"text"`            // what was wrong: lower case, no full stop
	Hint  string `json:"hint,omitempty"`  // what to try
	Field string `json:"field,omitempty"` // the input it is about, by its JSON name
}

// New makes an Error of the given kind; hint may be empty. It and Invalidf are
// called in a hundred places, and a phone downloads every copy that is inlined.
//
//go:noinline
func New(kind Kind, hint, format string, args ...any) *Error {
	return &Error{Kind: kind, Text: fmt.Sprintf(format, args...), Hint: hint}
}

// Invalidf makes an Invalid error about one field.
//
//go:noinline
func Invalidf(field, hint, format string, args ...any) *Error {
	return &Error{Kind: Invalid, Field: field, Hint: hint, Text: fmt.Sprintf(format, args...)}
}

// Error gives the sentence alone; the hint is shown on a line of its own.
func (e *Error) Error() string { return e.Text }

// As finds the first Error in err's chain.
func As(err error) (*Error, bool) {
	return errors.AsType[*Error](err)
}
