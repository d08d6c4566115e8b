package access

import (
	"crypto/subtle"
	"io"
	"slices"
	"time"

	"packwright/internal/journal"
	"packwright/internal/problem"
)

// Invitation is a code that lets one device in.
type Invitation struct {
	Code      string `json:"code"`       // as ABCD-EFGH
	Role      Role   `json:"role"`       // of whoever joins with it
	ExpiresMS int64  `json:"expires_ms"` // unix ms; from then on it is worth nothing
}

// invitation is one that was made, with what became of it.
type invitation struct {
	Invitation
	wrong map[string]int // tries with another code since it was made, by who made them
	tries int            // all of them
	end   ending
}

// ending says why an invitation is over. Ended ones are remembered for a while, so
// that whoever types the code hears why it fails.
type ending string

const (
	open     ending = ""
	used     ending = "this code was used already"
	guessed  ending = "this code is no longer good: too many wrong ones were tried"
	replaced ending = "this code was replaced by newer ones"
	expired  ending = "this code has expired"
	// withdrawn is for codes that somebody may have kept for his own way back in.
	withdrawn ending = "this code was withdrawn, since a lead was taken off the list"
)

const (
	codeChars = "0123456789ABCDEFGHJKMNPQRSTVWXYZ" // Crockford's base 32
	codeLen   = 8                                  // 40 random bits

	lifetime = 10 * time.Minute
	// maxWrong tries from one address, and the codes that were open are no longer
	// good from there: enough for slips of the thumb. Others are not held up by it.
	maxWrong = 5
	// maxWrongInAll tries end a code for everybody. It takes 2⁴⁰ to try them all; a
	// hundred failures are what NIST SP 800-63B allows (from memory).
	maxWrongInAll = 100
	// maxOpen invitations may be waiting; the oldest gives way.
	maxOpen = 5
	// maxKept bounds how many are remembered, ended ones included.
	maxKept = 50
)

// Invite makes a code for one device. It is only in memory: a restart drops it.
// Several may be open at once; a sixth ends the oldest. Errors: Invalid for what is
// no role, or a fault of the random source.
func (r *Register) Invite(role Role) (Invitation, error) {
	if err := role.check(); err != nil {
		return Invitation{}, err
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	code, err := randomText(r.o.Rand, codeLen)
	if err != nil {
		return Invitation{}, err
	}
	now := r.nowMS()
	waiting := 0
	for _, i := range slices.Backward(r.invitations) {
		if i.state(now) != open {
			continue
		}
		if waiting++; waiting >= maxOpen {
			i.end = replaced
		}
	}
	made := &invitation{Invitation: Invitation{
		Code: code[:codeLen/2] + "-" + code[codeLen/2:], Role: role, ExpiresMS: now + lifetime.Milliseconds()}}
	r.invitations = append(r.invitations, made)
	if over := len(r.invitations) - maxKept; over > 0 {
		r.invitations = slices.Delete(r.invitations, 0, over)
	}
	return made.Invitation, nil
}

// invited finds the open invitation with a code, or says why there is none. A code
// that fits none is a wrong try for all that are open. Those that are closed to
// from are left out: a right guess must look like a wrong one.
func (r *Register) invited(code, from string, nowMS int64) (*invitation, error) {
	var (
		found  *invitation
		tried  []*invitation // open, and by this code wrongly
		closed bool
	)
	for _, i := range r.invitations {
		isOpen := i.state(nowMS) == open
		if isOpen && i.wrong[from] >= maxWrong {
			closed = true
			continue
		}
		if isOpen {
			tried = append(tried, i)
		}
		written, _ := readCode(i.Code)
		if subtle.ConstantTimeCompare([]byte(written), []byte(code)) == 1 {
			found = i
		}
	}
	if found != nil {
		if why := found.state(nowMS); why != open {
			return nil, problem.New(problem.NotAllowed, "ask a lead for a new code", "%s", string(why))
		}
		return found, nil
	}
	if closed && len(tried) == 0 {
		return nil, problem.New(problem.NotAllowed,
			"ask a lead for a new code; those shown so far are no longer good here", "too many wrong codes were tried here")
	}
	for _, i := range tried {
		i.miss(from)
	}
	return nil, problem.New(problem.NotAllowed,
		"compare it with the screen that shows it; after a few wrong tries a new one is needed", "this is not the code")
}

// miss counts a wrong try.
func (i *invitation) miss(from string) {
	if i.wrong == nil {
		i.wrong = map[string]int{}
	}
	i.wrong[from]++
	if i.tries++; i.tries >= maxWrongInAll {
		i.end, i.wrong = guessed, nil
	}
}

// state says whether the invitation is open at a time, and if not, why.
func (i *invitation) state(nowMS int64) ending {
	if i.end == open && nowMS >= i.ExpiresMS {
		return expired
	}
	return i.end
}

// readCode takes a typed code: in any case, with or without its hyphen, I and L
// for 1 and O for 0. An error of kind Invalid says that it cannot be one.
func readCode(text string) (string, error) {
	code := journal.BareCode(text)
	if len(code) != codeLen {
		return "", problem.Invalidf("code", "it is on the screen of whoever invited you", "a code to join with has %d characters", codeLen)
	}
	for _, c := range []byte(code) {
		if !slices.Contains([]byte(codeChars), c) {
			return "", problem.Invalidf("code", "a code has digits and letters, and never the letter U", "this cannot be a code to join with")
		}
	}
	return code, nil
}

// randomText draws characters of Crockford's base 32, five bits each.
func randomText(from io.Reader, chars int) (string, error) {
	text := make([]byte, chars)
	if _, err := io.ReadFull(from, text); err != nil {
		return "", err
	}
	for i, b := range text {
		text[i] = codeChars[b&31]
	}
	return string(text), nil
}
