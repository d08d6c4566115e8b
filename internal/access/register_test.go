package access

import (
	"bytes"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"testing"
	"testing/iotest"
	"time"

	"github.com/google/go-cmp/cmp"

	"packwright/internal/problem"
)

// clock is a time that the test sets.
type clock struct{ ms int64 }

func (c *clock) now() time.Time { return time.UnixMilli(c.ms) }

const start = 1764060000000

func openTest(t *testing.T, dir string) (*Register, *clock) {
	t.Helper()
	c := &clock{start}
	r, err := Open(dir, Options{Now: c.now})
	if err != nil {
		t.Fatal(err)
	}
	return r, c
}

func invite(t *testing.T, r *Register, role Role) Invitation {
	t.Helper()
	made, err := r.Invite(role)
	if err != nil {
		t.Fatal(err)
	}
	return made
}

func join(t *testing.T, r *Register, role Role, name string) (Device, string) {
	t.Helper()
	d, token, err := joinWith(r, invite(t, r, role).Code, name, "phone-1")
	if err != nil {
		t.Fatal(err)
	}
	return d, token
}

// joinWith asks from an address that only the test of addresses changes.
func joinWith(r *Register, code, name, journalID string) (Device, string, error) {
	return r.Join(Asking{Code: code, Name: name, JournalID: journalID, From: "192.168.1.9"})
}

func wantKind(t *testing.T, err error, kind problem.Kind, text string) {
	t.Helper()
	p, ok := problem.As(err)
	if !ok || p.Kind != kind || !strings.Contains(p.Text, text) || p.Hint == "" {
		t.Errorf("got %v (%+v), want kind %s, %q and a hint", err, p, kind, text)
	}
}

func TestJoin(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "made", "keys")
	r, c := openTest(t, dir)
	made := invite(t, r, Crew)
	if made.Role != Crew || made.ExpiresMS != start+10*60*1000 {
		t.Errorf("invitation %+v", made)
	}
	if len(made.Code) != 9 || made.Code[4] != '-' || strings.Trim(made.Code, codeChars+"-") != "" {
		t.Errorf("code %q", made.Code)
	}
	c.ms += 1000
	got, token, err := joinWith(r, strings.ToLower(strings.ReplaceAll(made.Code, "-", " ")), "  Pit phone ", "phone-1")
	if err != nil {
		t.Fatal(err)
	}
	want := Device{ID: got.ID, Name: "Pit phone", Role: Crew, JournalID: "phone-1", JoinedMS: c.ms, SeenMS: c.ms, Unsent: -1}
	if diff := cmp.Diff(want, got); diff != "" || len(got.ID) != idChars {
		t.Error(diff, got.ID)
	}
	if secret, err := base64.RawURLEncoding.DecodeString(token); err != nil || len(secret) != 32 {
		t.Errorf("a token of %d bytes, %v", len(secret), err)
	}
	if checked, err := r.Check(token); err != nil || checked != got {
		t.Errorf("checked %+v, %v", checked, err)
	}

	text, err := os.ReadFile(filepath.Join(dir, fileName))
	if err != nil {
		t.Fatal(err)
	}
	sum := sha256.Sum256([]byte(token))
	if !bytes.Contains(text, []byte(hex.EncodeToString(sum[:]))) {
		t.Error("the file does not hold the SHA-256 of the token")
	}
	if bytes.Contains(text, []byte(token)) || bytes.Contains(text, []byte(made.Code)) {
		t.Errorf("the file holds a secret: %s", text)
	}
	if runtime.GOOS != "windows" {
		for path, want := range map[string]os.FileMode{dir: 0o700, filepath.Join(dir, fileName): 0o600} {
			if info, err := os.Stat(path); err != nil || info.Mode().Perm() != want {
				t.Errorf("%s has mode %v, %v", path, info.Mode(), err)
			}
		}
	}
}

func TestJoinRefuses(t *testing.T) {
	r, _ := openTest(t, t.TempDir())
	code := invite(t, r, Lead).Code
	for _, c := range []struct{ code, name, device, text string }{
		{code, "", "d", "the name is empty"},
		{code, " \t", "d", "the name is empty"},
		{code, strings.Repeat("ä", 41), "d", "41 characters"},
		{code, "a\x00b", "d", "cannot be shown"},
		{code, "a\nb", "d", "cannot be shown"},
		{code, "a\u202eb", "d", "cannot be shown"},
		{code, "\xff", "d", "cannot be shown"},
		{code, "phone", strings.Repeat("d", 65), "65 characters"},
		{"", "phone", "d", "8 characters"},
		{code + "0", "phone", "d", "8 characters"},
		{strings.Repeat("0", 100_000), "phone", "d", "8 characters"},
		{"UUUU-UUUU", "phone", "d", "cannot be a code"},
		{"ÄÄÄÄ", "phone", "d", "cannot be a code"},
	} {
		for range maxWrong { // none of them counts as a try
			_, _, err := joinWith(r, c.code, c.name, c.device)
			wantKind(t, err, problem.Invalid, c.text)
		}
	}
	if _, _, err := joinWith(r, code, strings.Repeat("ä", 40), ""); err != nil {
		t.Error(err)
	}
	_, err := r.Invite("admin")
	wantKind(t, err, problem.Invalid, `"admin" is no role`)
	_, err = r.Invite("")
	wantKind(t, err, problem.Invalid, `"" is no role`)
}

func TestCodeEnds(t *testing.T) {
	wrongFor := func(code string) string { // differs in the last character
		last := codeChars[(strings.IndexByte(codeChars, code[8])+1)%len(codeChars)]
		return code[:8] + string(last)
	}
	t.Run("used", func(t *testing.T) {
		r, _ := openTest(t, t.TempDir())
		code := invite(t, r, Crew).Code
		if _, _, err := joinWith(r, code, "one", "d"); err != nil {
			t.Fatal(err)
		}
		_, _, err := joinWith(r, code, "two", "d")
		wantKind(t, err, problem.NotAllowed, "used already")
		if len(r.List()) != 1 {
			t.Errorf("%d devices", len(r.List()))
		}
	})
	t.Run("expired", func(t *testing.T) {
		for after, good := range map[int64]bool{0: true, 599_999: true, 600_000: false, 600_001: false} {
			r, c := openTest(t, t.TempDir())
			made := invite(t, r, Crew)
			c.ms += after
			_, _, err := joinWith(r, made.Code, "one", "d")
			if good != (err == nil) || good != (c.ms < made.ExpiresMS) {
				t.Errorf("after %d ms: %v", after, err)
			}
			if !good {
				wantKind(t, err, problem.NotAllowed, "expired")
			}
		}
	})
	t.Run("guessed", func(t *testing.T) {
		for wrong := range 8 {
			r, _ := openTest(t, t.TempDir())
			one, two := invite(t, r, Crew).Code, invite(t, r, Lead).Code
			for n := range wrong {
				want := "this is not the code"
				if n >= maxWrong {
					want = "too many wrong codes were tried here"
				}
				_, _, err := joinWith(r, wrongFor(one), "x", "d")
				wantKind(t, err, problem.NotAllowed, want)
			}
			for _, code := range []string{one, two} {
				_, _, err := joinWith(r, code, "x", "d")
				if (err == nil) != (wrong < maxWrong) {
					t.Errorf("after %d wrong tries: %v", wrong, err)
				}
				if err != nil {
					wantKind(t, err, problem.NotAllowed, "too many wrong codes were tried here")
				}
			}
			if _, _, err := joinWith(r, invite(t, r, Crew).Code, "x", "d"); err != nil {
				t.Errorf("a new code after %d wrong tries: %v", wrong, err)
			}
		}
	})
	t.Run("replaced", func(t *testing.T) {
		r, _ := openTest(t, t.TempDir())
		var codes []string
		for range 2 * maxKept {
			codes = append(codes, invite(t, r, Crew).Code)
		}
		good := 0
		for _, code := range codes {
			if _, _, err := joinWith(r, code, "x", "d"); err == nil {
				good++
			}
		}
		// The oldest are forgotten, and count as wrong tries for those still open.
		if good != 0 {
			t.Errorf("%d codes are good after many forgotten ones were tried", good)
		}
		first := invite(t, r, Crew).Code
		for range maxOpen - 1 {
			invite(t, r, Crew)
		}
		last := invite(t, r, Crew).Code
		_, _, err := joinWith(r, first, "x", "d")
		wantKind(t, err, problem.NotAllowed, "replaced")
		if _, _, err := joinWith(r, last, "x", "d"); err != nil {
			t.Error(err)
		}
		if len(r.invitations) > maxKept {
			t.Errorf("%d invitations are kept", len(r.invitations))
		}
	})
}

// Who guesses holds up nobody but himself, and cannot learn that he guessed right.
func TestGuesserElsewhere(t *testing.T) {
	const intruder, phone, wrong = "192.168.1.66", "192.168.1.9", "0000-0000"
	r, _ := openTest(t, t.TempDir())
	try := func(from, code string) error {
		_, _, err := r.Join(Asking{Code: code, Name: "x", From: from})
		return err
	}
	older := invite(t, r, Lead).Code
	for n := range 10 * maxWrongInAll {
		want := "this is not the code"
		if n >= maxWrong {
			want = "too many wrong codes were tried here"
		}
		wantKind(t, try(intruder, wrong), problem.NotAllowed, want)
	}
	if right, miss := try(intruder, older), try(intruder, wrong); right.Error() != miss.Error() {
		t.Errorf("a right guess is told %q, a wrong one %q", right, miss)
	}
	newer := invite(t, r, Crew).Code // lets him try again, but not the older one
	wantKind(t, try(intruder, older), problem.NotAllowed, "this is not the code")
	if err := errors.Join(try(phone, older), try(intruder, newer)); err != nil {
		t.Error(err)
	}

	// From many addresses a hundred tries end the codes, and memory is bounded.
	older = invite(t, r, Crew).Code
	for n := range 3 * maxWrongInAll {
		if n == maxWrongInAll-1 {
			newer = invite(t, r, Crew).Code
		}
		wantKind(t, try(fmt.Sprint(n), wrong), problem.NotAllowed, "this is not the code")
		for _, i := range r.invitations {
			if len(i.wrong) >= maxWrongInAll {
				t.Fatalf("%d addresses are remembered", len(i.wrong))
			}
		}
	}
	for _, code := range []string{older, newer} {
		wantKind(t, try(phone, code), problem.NotAllowed, "too many wrong ones were tried")
	}
	if err := try(phone, invite(t, r, Crew).Code); err != nil {
		t.Error(err)
	}
}

// Many devices with one code at the same time: one gets in.
func TestJoinAtOnce(t *testing.T) {
	r, _ := openTest(t, t.TempDir())
	code := invite(t, r, Crew).Code
	var (
		wait sync.WaitGroup
		mu   sync.Mutex
		in   int
	)
	for range 20 {
		wait.Go(func() {
			_, token, err := joinWith(r, code, "phone", "d")
			if err != nil {
				return
			}
			if _, err := r.Check(token); err != nil {
				t.Error(err)
			}
			mu.Lock()
			in++
			mu.Unlock()
		})
	}
	wait.Wait()
	if in != 1 || len(r.List()) != 1 {
		t.Errorf("%d got in, %d are on the list", in, len(r.List()))
	}
}

func TestCheckRefuses(t *testing.T) {
	r, c := openTest(t, t.TempDir())
	d, token := join(t, r, Lead, "phone")
	for _, wrong := range []string{"", "x", token[1:], token + "A", token[:42] + "!", strings.Repeat("A", 43), strings.ToLower(token), strings.Repeat("A", 1<<20)} {
		_, err := r.Check(wrong)
		wantKind(t, err, problem.NotJoined, "has not joined")
	}
	c.ms += 5
	if err := r.Revoke(d.ID); err != nil { // the only lead
		t.Fatal(err)
	}
	_, err := r.Check(token)
	wantKind(t, err, problem.NotJoined, "taken off")
	c.ms += 5
	if err := r.Revoke(d.ID); err != nil {
		t.Error(err)
	}
	if got := r.List()[0].RevokedMS; got != start+5 {
		t.Errorf("revoked at %d", got)
	}
}

func TestChanges(t *testing.T) {
	r, _ := openTest(t, t.TempDir())
	d, token := join(t, r, Crew, "phone")
	if err := errors.Join(r.Rename(d.ID, " Scale 2 "), r.SetRole(d.ID, Lead)); err != nil {
		t.Fatal(err)
	}
	d.Name, d.Role = "Scale 2", Lead
	if got, err := r.Check(token); err != nil || got != d {
		t.Errorf("%+v, %v", got, err)
	}
	wantKind(t, r.Rename(d.ID, ""), problem.Invalid, "empty")
	wantKind(t, r.SetRole(d.ID, "boss"), problem.Invalid, "no role")
	for _, err := range []error{r.Rename("nobody", "x"), r.SetRole("nobody", Crew), r.Revoke(""), r.Revoke("here")} {
		wantKind(t, err, problem.NotFound, "no device")
	}
	if got, err := r.Device(d.ID); err != nil || got != d {
		t.Errorf("%+v, %v", got, err)
	}
	_, err := r.Device("x")
	wantKind(t, err, problem.NotFound, "no device")
}

func TestRoles(t *testing.T) {
	for _, c := range []struct {
		has, need Role
		want      bool
	}{
		{"", "", true}, {Crew, "", true}, {Lead, "", true},
		{"", Crew, false}, {Crew, Crew, true}, {Lead, Crew, true},
		{"", Lead, false}, {Crew, Lead, false}, {Lead, Lead, true},
		{"root", Crew, false}, {"root", Lead, false}, {Lead, "root", false}, {"root", "root", false},
	} {
		if got := c.has.May(c.need); got != c.want {
			t.Errorf("%q may what needs %q: %v", c.has, c.need, got)
		}
	}
}

func TestRestart(t *testing.T) {
	dir := t.TempDir()
	r, c := openTest(t, dir)
	one, token := join(t, r, Crew, "one")
	two, gone := join(t, r, Lead, "two")
	code := invite(t, r, Lead).Code
	if err := r.Revoke(two.ID); err != nil {
		t.Fatal(err)
	}
	c.ms += 1000
	r.Seen(one.ID, 7)
	r.Seen(one.ID, -1) // says nothing of them
	r.Seen("nobody", 1)
	if err := r.Close(); err != nil {
		t.Fatal(err)
	}
	want := r.List()
	if want[0].Unsent != 7 || want[0].SeenMS != c.ms {
		t.Errorf("%+v", want[0])
	}

	r, _ = openTest(t, dir)
	if diff := cmp.Diff(want, r.List()); diff != "" {
		t.Error(diff)
	}
	if got, err := r.Check(token); err != nil || got.ID != one.ID {
		t.Errorf("%+v, %v", got, err)
	}
	_, err := r.Check(gone)
	wantKind(t, err, problem.NotJoined, "taken off")
	_, _, err = joinWith(r, code, "x", "d")
	wantKind(t, err, problem.NotAllowed, "not the code")
}

// What was seen is written down at most every five minutes.
func TestSeenIsWrittenNowAndThen(t *testing.T) {
	dir := t.TempDir()
	r, c := openTest(t, dir)
	d, _ := join(t, r, Crew, "phone")
	c.ms += seenEvery.Milliseconds() - 1
	r.Seen(d.ID, 3)
	if again, _ := openTest(t, dir); again.List()[0].Unsent != -1 {
		t.Error("written too soon")
	}
	c.ms++
	r.Seen(d.ID, 3)
	if again, _ := openTest(t, dir); again.List()[0].Unsent != 3 {
		t.Error("not written")
	}
}

func TestFullList(t *testing.T) {
	r, c := openTest(t, t.TempDir())
	var ids []string
	for n := range maxDevices {
		r.devices = append(r.devices, member{Token: tokenHash{byte(n), byte(n >> 8), 1},
			Device: Device{ID: "ID" + string(rune('A'+n/26)) + string(rune('A'+n%26)), Name: "x", Role: Crew}})
		ids = append(ids, r.devices[n].ID)
	}
	code := invite(t, r, Crew).Code
	_, _, err := joinWith(r, code, "one more", "d")
	wantKind(t, err, problem.Conflict, "full")
	for _, i := range []int{7, 3} {
		if err := r.Revoke(ids[i]); err != nil {
			t.Fatal(err)
		}
		c.ms++
	}
	if _, _, err := joinWith(r, code, "one more", "d"); err != nil { // the code is still good
		t.Fatal(err)
	}
	if r.index(ids[7]) >= 0 || r.index(ids[3]) < 0 || len(r.List()) != maxDevices {
		t.Error("not the one taken off first was forgotten")
	}
}

func TestNoRandomness(t *testing.T) {
	dir := t.TempDir()
	r, err := Open(dir, Options{Rand: iotest.ErrReader(errors.New("no entropy"))})
	if err != nil {
		t.Fatal(err)
	}
	if made, err := r.Invite(Crew); err == nil {
		t.Errorf("invitation %+v", made)
	}
	good, _ := openTest(t, dir)
	code := invite(t, good, Crew).Code
	for _, give := range []int{0, idChars, idChars + tokenBytes - 1} {
		good.o.Rand = bytes.NewReader(make([]byte, give))
		if _, token, err := joinWith(good, code, "x", "d"); err == nil || token != "" || len(good.List()) != 0 {
			t.Errorf("with %d random bytes: %q, %v", give, token, err)
		}
	}
}

// Whoever was lead does not come back by a code made before.
func TestCodesEndWithTheirMaker(t *testing.T) {
	for what, c := range map[string]struct {
		role Role
		do   func(r *Register, id string) error
		good bool
	}{
		"revoked":          {Lead, (*Register).Revoke, false},
		"lead no more":     {Lead, func(r *Register, id string) error { return r.SetRole(id, Crew) }, false},
		"crew revoked":     {Crew, (*Register).Revoke, true},
		"still crew":       {Crew, func(r *Register, id string) error { return r.SetRole(id, Crew) }, true},
		"another name":     {Lead, func(r *Register, id string) error { return r.Rename(id, "x") }, true},
		"still lead":       {Lead, func(r *Register, id string) error { return r.SetRole(id, Lead) }, true},
		"nobody, in truth": {Lead, func(r *Register, _ string) error { _ = r.Revoke("nobody"); return nil }, true},
	} {
		r, _ := openTest(t, t.TempDir())
		d, _ := join(t, r, c.role, "one")
		code := invite(t, r, Lead).Code
		if err := c.do(r, d.ID); err != nil {
			t.Fatal(err)
		}
		_, _, err := joinWith(r, code, "two", "d")
		if c.good != (err == nil) {
			t.Errorf("%s: %v", what, err)
		}
		if !c.good {
			wantKind(t, err, problem.NotAllowed, "withdrawn")
		}
	}
}
