package core

import (
	"packwright/internal/journal"
	"packwright/internal/problem"
)

// newCode makes a code that no pack here has.
func (s *Session) newCode(r *NewCodeRequest) (*CodeAnswer, error) {
	random, err := bytesOf("random", r.Random)
	if err != nil {
		return nil, err
	}
	for {
		code, err := journal.NewCode(random)
		if err != nil {
			return nil, err
		}
		if !s.fleet.Has(code) {
			return &CodeAnswer{Code: code}, nil
		}
		random = random[1:]
	}
}

// readCode reads a code; where the check character does not fit it looks for a
// pack whose code is one slip away.
func (s *Session) readCode(r *ReadCodeRequest) (*CodeAnswer, error) {
	code, err := journal.ReadCode(r.Text)
	if err == nil {
		return &CodeAnswer{Code: code, Known: s.fleet.Has(code)}, nil
	}
	if p, ok := problem.As(err); ok {
		if near := s.near(r.Text); near != "" {
			hint := *p
			hint.Hint = "did you mean " + near + "? " + p.Hint
			err = &hint
		}
	}
	return nil, err
}

// near names the one known pack whose code differs from the typed text by one
// character or by a swap of neighbours; empty where there is none or a choice.
func (s *Session) near(text string) string {
	typed := journal.BareCode(text)
	found := ""
	for code := range s.fleet.Codes() {
		if !oneSlip(typed, code) {
			continue
		}
		if found != "" {
			return ""
		}
		found = code
	}
	return found
}

// oneSlip says whether a and b differ in one character, or in two neighbours
// that are swapped.
func oneSlip(a, b string) bool {
	if len(a) != len(b) {
		return false
	}
	var at []int
	for i := range len(a) {
		if a[i] != b[i] {
			at = append(at, i)
		}
	}
	switch len(at) {
	case 1:
		return true
	case 2:
		i, j := at[0], at[1]
		return j == i+1 && a[i] == b[j] && a[j] == b[i]
	}
	return false
}
