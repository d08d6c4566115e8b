package main

import (
	"bytes"
	"fmt"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"packwright/internal/ca"
)

// wantFinding checks that one finding has the grade and says so.
func wantFinding(t *testing.T, got []finding, grade grade, text string) {
	t.Helper()
	for _, f := range got {
		if f.grade == grade && strings.Contains(f.text, text) {
			if grade != fine && f.todo == "" {
				t.Errorf("%q says not what to do", f.text)
			}
			return
		}
	}
	t.Errorf("no finding %q with %q among %+v", grade, text, got)
}

func TestDoctorAddresses(t *testing.T) {
	wantFinding(t, addressFindings(nil), bad, "in no private network")
	wantFinding(t, addressFindings([]string{"169.254.3.4"}), look, "169.254.3.4")
	wantFinding(t, addressFindings([]string{"169.254.3.4", "192.168.1.10", "fd00::1"}), fine, "at 192.168.1.10, fd00::1")
}

func TestDoctorPorts(t *testing.T) {
	busy, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer busy.Close()
	address := busy.Addr().String()
	ports := []port{{"https", address, ":9443"}, {"welcome", "127.0.0.1:0", ":9088"}, {"listen", "nowhere", ":1"}}
	got := checkPorts(ports, whoNobody)
	wantFinding(t, got, bad, address+" is in use by another program")
	wantFinding(t, got, fine, "127.0.0.1:0 is free (--welcome)")
	wantFinding(t, got, bad, `"nowhere" is not an address`)
	if !strings.Contains(got[0].todo, "if it is a packwright with another folder, name that with --data") {
		t.Errorf("%+v", got[0])
	}
	wantFinding(t, checkPorts(ports, whoThis), fine, address+" is in use, by the running server")
	wantFinding(t, checkPorts(ports, whoOther), look, address+" is in use, by the packwright with other data")
}

// Without the --data of the server that runs, it is recognised all the same, and
// nobody is told to stop another program.
func TestDoctorElsewhere(t *testing.T) {
	s, _ := openTest(t)
	web := httptest.NewServer(s.handler(doorHere))
	defer web.Close()
	address := web.Listener.Addr().String()
	if !isPackwright(t.Context(), address) || isPackwright(t.Context(), "127.0.0.1:0") || isPackwright(t.Context(), "192.168.1.1:80") {
		t.Error("it is not recognised, or something else is")
	}
	stranger := httptest.NewServer(http.NotFoundHandler())
	defer stranger.Close()
	if isPackwright(t.Context(), stranger.Listener.Addr().String()) {
		t.Error("a stranger is taken for a packwright")
	}
	wantFinding(t, checkRunning("", address, whoOther), look, "a packwright with other data is running at http://"+address)
	var out, said bytes.Buffer
	run(t.Context(), []string{"doctor", "--data", filepath.Join(t.TempDir(), "d"), "--listen", address, "--https", "127.0.0.1:0", "--welcome", "127.0.0.1:0"}, &out, &said)
	if text := out.String(); strings.Contains(text, "another program") || !strings.Contains(text, "name its folder with --data") {
		t.Error(text)
	}
	if text := out.String(); strings.Contains(text, "in no private network") && strings.Contains(text, "leads to this machine") {
		t.Error(text)
	}
}

func TestDoctorFirewall(t *testing.T) {
	ports := []port{{"listen", "127.0.0.1:8080", ""}, {"https", ":8443", ""}, {"welcome", ":8088", ""}}
	for _, c := range []struct {
		goos, file string
		grade      grade
		todo       string
	}{
		{"linux", "", fine, ""},
		{"linux", "/etc/ufw/ufw.conf", look, "sudo ufw allow 8443,8088/tcp && sudo ufw allow 5353/udp"},
		{"linux", "/etc/firewalld", look, "sudo firewall-cmd --add-port=8443/tcp --add-port=8088/tcp --add-service=mdns"},
		{"windows", "", look, "localport=8443,8088"},
		{"darwin", "", look, "allow incoming connections"},
		{"plan9", "", look, "let TCP 8443,8088 and UDP 5353 in"},
	} {
		got := checkFirewall(c.goos, func(path string) bool { return path == c.file }, ports)
		if len(got) != 1 || got[0].grade != c.grade || !strings.Contains(got[0].todo, c.todo) || strings.Contains(got[0].todo, "8080") {
			t.Errorf("%s %s: %+v", c.goos, c.file, got)
		}
	}
}

func TestDoctorClock(t *testing.T) {
	at := func(text string) time.Time {
		moment, err := time.Parse(time.DateOnly, text)
		if err != nil {
			t.Fatal(err)
		}
		return moment
	}
	var none time.Time
	now := at("2026-11-25")
	wantFinding(t, checkClock(now, none, none), fine, "2026-11-25 00:00 UTC")
	wantFinding(t, checkClock(now, at("2026-11-01"), at("2026-11-24")), fine, "2026-11-25")
	wantFinding(t, checkClock(at("1970-01-01"), at("2026-11-01"), none), bad, "the program was made on 2026-11-01")
	wantFinding(t, checkClock(now, none, at("2026-11-26")), bad, "the journal was written on 2026-11-26")
	wantFinding(t, checkClock(at("2036-01-01"), at("2026-11-01"), none), look, "years after")
}

func TestDoctorCertificate(t *testing.T) {
	dir := t.TempDir()
	now := time.Now()
	own := &doctorCmd{Data: filepath.Join(dir, "d"), fieldChoices: fieldChoices{Lan: true, Name: "pit"}}
	wantFinding(t, own.checkCertificate(wayOwn, now), fine, "no certificate authority yet")
	if exists(own.keysDir(own.Data)) {
		t.Error("the doctor made the keys folder")
	}
	if _, err := ca.Open(own.keysDir(own.Data), ca.Options{Host: "pit.local"}); err != nil {
		t.Fatal(err)
	}
	wantFinding(t, own.checkCertificate(wayOwn, now), fine, "pit.local is good until")
	wantFinding(t, own.checkCertificate(wayOwn, now.AddDate(10, 0, -30)), look, "expires on")
	wantFinding(t, own.checkCertificate(wayOwn, now.AddDate(10, 0, 30)), bad, "expired")
	other := *own
	other.Name = "other"
	wantFinding(t, other.checkCertificate(wayOwn, now), bad, "made for pit.local, not for other.local")

	files := &doctorCmd{fieldChoices: writeCertificate(t, dir, "a.example", 1)}
	wantFinding(t, files.checkCertificate(wayFiles, now), look, "expires on") // within the hour
	wantFinding(t, files.checkCertificate(wayFiles, now.Add(2*time.Hour)), bad, "expired on")
	files.Key = filepath.Join(dir, "none.pem")
	wantFinding(t, files.checkCertificate(wayFiles, now), bad, "none.pem")
}

func TestDoctorFolders(t *testing.T) {
	dir := t.TempDir()
	wantFinding(t, checkFolder(dir), fine, "can be written")
	wantFinding(t, checkFolder(filepath.Join(dir, "a", "b")), fine, "can be made")
	if entries, err := os.ReadDir(dir); err != nil || len(entries) != 0 {
		t.Errorf("the doctor left %v", entries)
	}
	file := filepath.Join(dir, "file")
	if err := os.WriteFile(file, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	wantFinding(t, checkFolder(file), bad, "nothing can be written into "+file)
	if runtime.GOOS != "windows" && os.Getuid() != 0 {
		if err := os.Chmod(dir, 0o500); err != nil {
			t.Fatal(err)
		}
		wantFinding(t, checkFolder(dir), bad, "nothing can be written into")
	}

	for free, want := range map[uint64]grade{0: bad, 99 << 20: bad, 100 << 20: look, 999 << 20: look, 5000 << 20: fine} {
		if got := spaceFinding(free); got.grade != want {
			t.Errorf("%d bytes free: %+v", free, got)
		}
	}
	if got := checkSpace(t.TempDir()); len(got) != 1 || !strings.Contains(got[0].text, "free on the disk") {
		t.Errorf("%+v", got)
	}
}

func TestDoctorKeys(t *testing.T) {
	data := t.TempDir()
	keys := data + "-keys"
	wantFinding(t, checkKeys(keys, data), fine, "not made yet")
	if err := os.Mkdir(keys, 0o700); err != nil {
		t.Fatal(err)
	}
	defer os.RemoveAll(keys)
	wantFinding(t, checkKeys(keys, data), fine, "keys folder")
	inside := filepath.Join(data, "keys")
	wantFinding(t, checkKeys(inside, data), look, "inside the data folder")
	if runtime.GOOS == "windows" {
		t.Skip("rights are not in the mode there")
	}
	secret := filepath.Join(keys, "authority.pem")
	if err := os.WriteFile(secret, nil, 0o644); err != nil {
		t.Fatal(err)
	}
	wantFinding(t, checkKeys(keys, data), bad, secret+" may be used by others")
	if err := os.Chmod(secret, 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.Chmod(keys, 0o755); err != nil {
		t.Fatal(err)
	}
	wantFinding(t, checkKeys(keys, data), bad, "may be used by others")
}

func TestDoctorName(t *testing.T) {
	own := []string{"192.168.1.10", "fe80::1"}
	for _, c := range []struct {
		answer  string
		running bool
		want    grade
	}{{"192.168.1.10", true, fine}, {"fe80::1", true, fine}, {"192.168.1.11", true, bad}, {"192.168.1.11", false, bad}, {"", true, look}, {"", false, fine}} {
		if got := nameFinding("pit.local", c.answer, own, c.running); got.grade != c.want || (got.grade != fine) != (got.todo != "") {
			t.Errorf("%+v: %+v", c, got)
		}
	}
}

// The whole visit: a line for each check, exit status 1 if one is bad.
func TestDoctor(t *testing.T) {
	busy, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer busy.Close()
	dir := filepath.Join(t.TempDir(), "d")
	args := func(https string) []string {
		return []string{"doctor", "--data", dir, "--name", "pit-test-" + fmt.Sprint(os.Getpid()), "--listen", "127.0.0.1:0", "--https", https, "--welcome", "127.0.0.1:0"}
	}
	var out, said bytes.Buffer
	if status := run(t.Context(), args(busy.Addr().String()), &out, &said); status != exitFailed {
		t.Errorf("exit status %d", status)
	}
	for _, want := range []string{"bad   " + busy.Addr().String() + " is in use by another program\n      → stop it", "ok    127.0.0.1:0 is free (--welcome)",
		"the clock says", "no certificate authority yet", "can be made", "free on the disk", "is not made yet"} {
		if !strings.Contains(out.String(), want) {
			t.Errorf("%q is not in\n%s", want, out.String())
		}
	}
	if !strings.Contains(said.String(), "bad") || exists(dir) || exists(dir+"-keys") {
		t.Errorf("said %q; made a folder: %v", said.String(), exists(dir))
	}
}
