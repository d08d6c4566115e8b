package main

import (
	"bytes"
	"encoding/pem"
	"io"
	"log"
	"log/slog"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"packwright/internal/access"
	"packwright/internal/ca"
	"packwright/internal/exchange"
	"packwright/internal/journal"
	"packwright/internal/problem"
)

// openFieldDoor is a server whose door for joined devices is open, and the file of
// its certificate's authority.
func openFieldDoor(t *testing.T) (s *server, url, root string) {
	t.Helper()
	s, _ = openTest(t)
	s.hosts = func(string) bool { return true }
	web := httptest.NewUnstartedServer(s.handler(doorField))
	web.Config.ErrorLog = log.New(io.Discard, "", 0) // handshakes fail on purpose
	web.StartTLS()
	t.Cleanup(web.Close)
	root = filepath.Join(t.TempDir(), "ca.crt")
	text := pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: web.Certificate().Raw})
	if err := os.WriteFile(root, text, 0o600); err != nil {
		t.Fatal(err)
	}
	return s, web.URL, root
}

// A server joins another one as a device, with what a person at both screens
// types, and exchanges until it is taken off; a new code lets it in again. Joined
// as crew it cannot pass on the team's settings, which is said and does not
// hold up the rest.
func TestJoinServer(t *testing.T) {
	up, url, root := openFieldDoor(t)
	data := filepath.Join(t.TempDir(), "data")
	join := func(role access.Role, flags ...string) (int, string) {
		t.Helper()
		invited, err := up.register.Invite(role)
		if err != nil {
			t.Fatal(err)
		}
		args := append([]string{"join", url, "--code", invited.Code, "--name", "workshop", "--data", data}, flags...)
		var said bytes.Buffer
		status := run(t.Context(), args, &said, &said)
		return status, said.String()
	}
	if status, said := join(access.Crew); status != exitFailed || !strings.Contains(said, "--fingerprint") {
		t.Errorf("without a pin: %d, %s", status, said)
	}
	if _, err := os.Stat(data + "-keys"); err == nil {
		t.Error("a join that failed left a folder of keys")
	}
	status, said := join(access.Crew, "--root", root)
	if status != exitDone || !strings.Contains(said, "joined "+url+" as crew") || !strings.Contains(said, "serve --data "+data+" --upstream "+url+"\n") || !strings.Contains(said, "settings") {
		t.Fatalf("%d, %s", status, said)
	}

	link, err := exchange.ReadLink(data + "-keys")
	if err != nil || link.Token == "" || strings.Contains(said, link.Token) {
		t.Fatalf("%+v, %v", link, err)
	}
	down := newNode(t)
	down.keys = data + "-keys"
	settings := note(2, "")
	limit := 0.11
	settings.Kind, settings.Body = journal.TeamChanged, mustJSON(journal.Team{CompetitionOhm: &limit})
	down.send(t, push(note(1, "one"), settings, note(3, "three")))
	x := down.newExchange(t, link, exchange.Options{})
	if err := x.Round(t.Context()); err != nil {
		t.Fatal(err)
	}
	s := x.Status()
	if head(t, up) != 2 || s.HeldBackTotal != 1 || s.HeldBack[0].ID != settings.ID || !strings.Contains(s.HeldBack[0].Reason, "lead") || s.Role != "crew" {
		t.Errorf("%d entries there, %+v", head(t, up), s)
	}
	for item, err := range up.store.All() {
		if err != nil || item.BroughtBy != link.DeviceID {
			t.Errorf("an entry is filed under %q, %v", item.BroughtBy, err)
		}
	}

	if err := up.register.Revoke(link.DeviceID); err != nil {
		t.Fatal(err)
	}
	down.send(t, push(note(4, "four")))
	err = x.Round(t.Context())
	if p, ok := problem.As(err); !ok || p.Kind != problem.NotJoined || !strings.Contains(p.Hint, "join") || head(t, up) != 2 {
		t.Errorf("taken off: %v", err)
	}
	if status, said := join(access.Lead, "--root", root); status != exitDone || !strings.Contains(said, "as lead") {
		t.Fatalf("%d, %s", status, said)
	}
	if link, err = exchange.ReadLink(data + "-keys"); err != nil {
		t.Fatal(err)
	}
	x = down.newExchange(t, link, exchange.Options{})
	if err := x.Round(t.Context()); err != nil {
		t.Fatal(err)
	}
	if s := x.Status(); head(t, up) != 4 || s.HeldBackTotal != 0 {
		t.Errorf("as lead: %d entries there, %+v", head(t, up), s)
	}
}

// Whoever joins again leaves no second lead behind: the entry of before is ended, or,
// where that cannot be known to be his, he is told of it.
func TestJoinServerAgain(t *testing.T) {
	up, url, root := openFieldDoor(t)
	var log bytes.Buffer
	up.log = slog.New(slog.NewTextHandler(&log, nil))
	folder := t.TempDir()
	join := func(data string) string {
		t.Helper()
		invited, err := up.register.Invite(access.Lead)
		if err != nil {
			t.Fatal(err)
		}
		var said bytes.Buffer
		if status := run(t.Context(), []string{"join", url, "--code", invited.Code, "--name", "workshop", "--root", root, "--data", filepath.Join(folder, data)}, &said, &said); status != exitDone {
			t.Fatal(said.String())
		}
		return said.String()
	}
	inside := func() (names []string) {
		for _, d := range answerOf[devicesAnswer](t, ask{method: "GET", path: "/api/v1/devices"}.to(t, up), 200).Devices {
			if d.RevokedMS == 0 {
				names = append(names, d.Name)
			}
			if !d.Server {
				t.Errorf("%+v is not marked as a server", d)
			}
		}
		return names
	}
	if said := join("d"); strings.Contains(said, "former") || strings.Contains(said, "another server") {
		t.Error(said)
	}
	if said := join("d"); !strings.Contains(said, `its former entry on the list of devices of `+url+`, "workshop", was ended`) || strings.Contains(said, "another server") {
		t.Error(said)
	}
	if got := inside(); len(got) != 1 {
		t.Errorf("%q may come in", got)
	}
	if said := join("elsewhere"); !strings.Contains(said, `holds another server named "workshop"`) {
		t.Error(said)
	}
	if got := inside(); len(got) != 2 || !strings.Contains(log.String(), "a server of the same name is on the list already") {
		t.Errorf("%q may come in, log %s", got, log.String())
	}

	// A phone is no server, and its name says nothing.
	invited, err := up.register.Invite(access.Crew)
	if err != nil {
		t.Fatal(err)
	}
	if _, _, err := up.register.Join(access.Asking{Code: invited.Code, Name: "workshop", JournalID: "phone-1", From: "x"}); err != nil {
		t.Fatal(err)
	}
	list := answerOf[devicesAnswer](t, ask{method: "GET", path: "/api/v1/devices"}.to(t, up), 200).Devices
	if last := list[len(list)-1]; last.Server {
		t.Errorf("%+v", last)
	}
}

// What is printed after joining serves the same folders, and phones as before.
func TestServeLine(t *testing.T) {
	data := filepath.Join(t.TempDir(), "our data")
	cmd := joinCmd{Data: data, Keys: data + "/k"}
	if _, err := ca.Open(cmd.Keys, ca.Options{Host: "pit.local"}); err != nil {
		t.Fatal(err)
	}
	want := `packwright serve --lan --name pit --data "` + data + `" --keys "` + data + `/k" --upstream https://w.local:8443`
	if got := cmd.serveLine("https://w.local:8443"); got != want {
		t.Errorf("%s", got)
	}
	if got := (&joinCmd{Data: defaultDataDir()}).serveLine("https://w.local:8443"); !strings.HasSuffix(got, " --upstream https://w.local:8443") || strings.Contains(got, "--data") {
		t.Errorf("%s", got)
	}
}

// A server starts with an upstream only if it has joined it, and says how otherwise.
func TestStartUpstream(t *testing.T) {
	s, _ := openTest(t)
	keys, none := filepath.Join(t.TempDir(), "keys"), filepath.Join(t.TempDir(), "keys")
	if err := (exchange.Link{URL: "https://pit.local:8443", Token: "t"}).Save(keys); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ address, keys, want string }{
		{"https://pit.local:8443", none, "has not joined https://pit.local:8443"},
		{"https://other.local:8443", keys, "but https://pit.local:8443"},
		{"http://pit.local:8088", keys, "not encrypted"},
		{"nonsense", keys, "is not the address"},
	} {
		if err := s.linkUpstream(c.address, c.keys); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v", c.address, err)
		}
	}
	up := newNode(t)
	if err := (exchange.Link{URL: up.url}).Save(keys); err != nil {
		t.Fatal(err)
	}
	if err := s.linkUpstream(up.url, keys); err != nil {
		t.Fatal(err)
	}
	stop := s.runUpstream(t.Context())
	up.send(t, push(note(1, "x")))
	awaitSame(t, []*node{up, {server: s}}, 1)
	stop()
	stop() // once more does nothing
}
