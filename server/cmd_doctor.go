package main

import (
	"context"
	"fmt"
	"net"
	"net/netip"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"time"

	"packwright/internal/ca"
	"packwright/internal/problem"
	"packwright/internal/store"
	"packwright/webapp"
)

type doctorCmd struct {
	Data   string `default:"${data}" type:"path" placeholder:"DIR" help:"Folder of the database (${default})."`
	Listen string `default:"127.0.0.1:8080" placeholder:"ADDRESS" help:"Address and port for this machine itself (${default})."`
	fieldChoices
}

// grade is how much a finding matters.
type grade string

const (
	fine grade = "ok"
	look grade = "look" // may be right; a person should know
	bad  grade = "bad"  // something will not work
)

// finding is one line of the doctor.
type finding struct {
	grade grade
	text  string
	todo  string // what to do; empty where it is fine
}

func found(g grade, todo, format string, args ...any) finding {
	return finding{g, fmt.Sprintf(format, args...), todo}
}

// Run looks at what usually breaks and says what to do. It changes nothing. The
// flags are those of serve; without any it looks at serve --lan.
func (cmd *doctorCmd) Run(con *console) error {
	if chosen := cmd.Cert + cmd.Domain + cmd.BehindProxy; chosen == "" {
		cmd.Lan = true
	}
	way, err := cmd.way()
	if err != nil {
		return err
	}
	at, running := store.Locked(cmd.Data)
	who := whoNobody
	if running {
		who = whoThis
	} else if isPackwright(con.ctx, cmd.Listen) {
		who = whoOther
	}
	checks := []func() []finding{
		func() []finding { return checkRunning(at, cmd.Listen, who) },
		checkAddresses,
		func() []finding { return checkPorts(cmd.ports(way), who) },
		func() []finding { return checkFirewall(runtime.GOOS, exists, cmd.ports(way)) },
		func() []finding { return checkClock(con.now(), buildTime(), lastWritten(cmd.Data)) },
		func() []finding { return cmd.checkCertificate(way, con.now()) },
		func() []finding { return checkFolder(cmd.Data) },
		func() []finding { return checkSpace(cmd.Data) },
		func() []finding { return checkKeys(cmd.keysDir(cmd.Data), cmd.Data) },
		func() []finding { return cmd.checkName(con.ctx, way, running) },
		checkApp,
	}
	count := 0
	for _, check := range checks {
		for _, f := range check() {
			if f.grade == bad {
				count++
			}
			line := fmt.Sprintf("%-4s  %s\n", f.grade, f.text)
			if f.todo != "" {
				line += fmt.Sprintf("      → %s\n", f.todo)
			}
			if _, err := fmt.Fprint(con.stdout, line); err != nil {
				return err
			}
		}
	}
	switch count {
	case 0:
		return nil
	case 1:
		return problem.New(problem.Conflict, "", "one thing is bad")
	}
	return problem.New(problem.Conflict, "", "%d things are bad", count)
}

func checkAddresses() []finding {
	addrs, err := ca.Addresses()
	if err != nil {
		return []finding{found(bad, "look at the network settings", "the machine's addresses cannot be read: %v", err)}
	}
	return addressFindings(texts(addrs))
}

func addressFindings(addrs []string) []finding {
	given := slices.DeleteFunc(slices.Clone(addrs), func(addr string) bool { return strings.HasPrefix(addr, "169.254.") })
	switch {
	case len(addrs) == 0:
		return []finding{found(bad, "join a Wi-Fi, or start this machine's own hotspot", "this machine is in no private network, so no phone can reach it")}
	case len(given) == 0:
		return []finding{found(look, "no router gave out an address; a hotspot of this machine or a small router helps", "the only address is %s", addrs[0])}
	}
	return []finding{found(fine, "", "phones on the same network reach this machine at %s", strings.Join(given, ", "))}
}

func texts[T fmt.Stringer](values []T) []string {
	var all []string
	for _, v := range values {
		all = append(all, v.String())
	}
	return all
}

// port is an address that serve listens on.
type port struct{ flag, address, instead string }

func (cmd *doctorCmd) ports(w way) []port {
	ports := []port{{"listen", cmd.Listen, "127.0.0.1:8081"}}
	if w == wayProxy {
		return append(ports, port{"behind-proxy", cmd.BehindProxy, "127.0.0.1:8091"})
	}
	return append(ports, port{"https", cmd.httpsAddress(), ":9443"}, port{"welcome", cmd.welcomeAddress(), ":9088"})
}

func checkPorts(ports []port, who runner) []finding {
	var findings []finding
	for _, p := range ports {
		listener, err := listen(p.flag, p.address, p.instead)
		told, _ := problem.As(err)
		switch {
		case err == nil:
			listener.Close()
			findings = append(findings, found(fine, "", "%s is free (--%s)", p.address, p.flag))
		case told != nil && told.Kind == problem.InUse && who == whoThis:
			findings = append(findings, found(fine, "", "%s is in use, by the running server as it seems (--%s)", p.address, p.flag))
		case told != nil && told.Kind == problem.InUse && who == whoOther:
			findings = append(findings, found(look, "name its folder with --data; or "+told.Hint,
				"%s is in use, by the packwright with other data as it seems (--%s)", p.address, p.flag))
		case told != nil && told.Kind == problem.InUse:
			findings = append(findings, found(bad, told.Hint+"; if it is a packwright with another folder, name that with --data", "%s", told.Text))
		case told != nil:
			findings = append(findings, found(bad, told.Hint, "%s", told.Text))
		default:
			findings = append(findings, found(bad, "", "%v", err))
		}
	}
	return findings
}

func exists(path string) bool { _, err := os.Stat(path); return err == nil }

// checkClock compares the clock with what must be earlier: the program and the
// journal. Zero times are not known. A wrong clock makes certificates that phones
// refuse, and records that sort wrongly.
func checkClock(now, built, written time.Time) []finding {
	const layout, todo = "2006-01-02 15:04 MST", "set the clock; a machine without network has to be told the time"
	switch {
	case now.Before(built):
		return []finding{found(bad, todo, "the clock says %s, but the program was made on %s", now.Format(layout), built.Format(layout))}
	case written.Sub(now) > time.Hour:
		return []finding{found(bad, todo, "the clock says %s, but the journal was written on %s", now.Format(layout), written.Format(layout))}
	case !built.IsZero() && now.Sub(built) > 5*365*24*time.Hour:
		return []finding{found(look, "compare it with a phone", "the clock says %s, years after the program was made", now.Format(layout))}
	}
	return []finding{found(fine, "", "the clock says %s", now.Format(layout))}
}

// lastWritten is when the journal was last added to; zero where there is none.
func lastWritten(data string) time.Time {
	info, err := os.Stat(filepath.Join(data, "journal.jsonl"))
	if err != nil {
		return time.Time{}
	}
	return info.ModTime()
}

// checkCertificate looks at the dates of the certificate that would be served.
func (cmd *doctorCmd) checkCertificate(w way, now time.Time) []finding {
	switch w {
	case wayOwn:
		keys := cmd.keysDir(cmd.Data)
		if host, err := ca.HostIn(keys); host == "" && err == nil {
			return []finding{found(fine, "", "there is no certificate authority yet; the first packwright serve --lan makes it")}
		}
		host, err := localName(cmd.Name, keys)
		if err != nil {
			return []finding{asFinding(err)}
		}
		authority, err := ca.Open(keys, ca.Options{Host: host, Also: cmd.Also, Now: func() time.Time { return now }, Built: buildTime()})
		if err != nil {
			return []finding{asFinding(err)}
		}
		return []finding{dates("the certificate authority of "+host, authority.Expires(), now, 90*24*time.Hour,
			"every phone will have to trust a new one: plan a day for it")}
	case wayFiles:
		files, err := ca.NewFiles(cmd.Cert, cmd.Key, nil)
		if err != nil {
			return []finding{asFinding(err)}
		}
		return []finding{dates("the certificate in "+cmd.Cert, files.Expires(), now, 14*24*time.Hour, "put the renewed one in its place; the server reads it by itself")}
	}
	return nil // ACME and the proxy look after theirs
}

func dates(what string, expires, now time.Time, early time.Duration, todo string) finding {
	until := expires.UTC().Format(time.DateOnly)
	switch left := expires.Sub(now); {
	case left <= 0:
		return found(bad, todo, "%s expired on %s", what, until)
	case left < early:
		return found(look, todo, "%s expires on %s", what, until)
	}
	return found(fine, "", "%s is good until %s", what, until)
}

// asFinding is an error that a check met.
func asFinding(err error) finding {
	if p, ok := problem.As(err); ok {
		return found(bad, p.Hint, "%s", p.Text)
	}
	return found(bad, "", "%v", err)
}

// checkFolder tries to write where the data is, or will be made.
func checkFolder(data string) []finding {
	dir := nearest(data)
	probe, err := os.CreateTemp(dir, ".packwright-doctor-")
	if err != nil {
		return []finding{found(bad, "run packwright as the user it belongs to, or choose another folder with --data", "nothing can be written into %s", dir)}
	}
	probe.Close()
	os.Remove(probe.Name())
	if dir != data {
		return []finding{found(fine, "", "the data folder %s can be made", data)}
	}
	return []finding{found(fine, "", "the data folder %s can be written", data)}
}

// nearest is the folder itself, or the first one above it that exists.
func nearest(dir string) string {
	dir, err := filepath.Abs(dir)
	for err == nil && !exists(dir) && filepath.Dir(dir) != dir {
		dir = filepath.Dir(dir)
	}
	return dir
}

func checkSpace(data string) []finding {
	free, err := store.FreeBytes(nearest(data))
	if err != nil {
		return []finding{found(look, "look how much space the disk has", "the free space cannot be read: %v", err)}
	}
	return []finding{spaceFinding(free)}
}

// spaceFinding judges free space, byte. A season of records takes some megabytes;
// the rest is for the index and for whatever else fills the disk meanwhile.
func spaceFinding(free uint64) finding {
	const MB = 1 << 20
	switch {
	case free < 100*MB:
		return found(bad, "free some space before the event", "only %d MB are free on the disk", free/MB)
	case free < 1000*MB:
		return found(look, "free some space", "%d MB are free on the disk", free/MB)
	}
	return found(fine, "", "%d GB are free on the disk", free/(1000*MB))
}

// checkKeys looks who else may read the keys.
func checkKeys(keys, data string) []finding {
	var findings []finding
	if inside, err := filepath.Rel(data, keys); err == nil && !strings.HasPrefix(inside, "..") {
		findings = append(findings, found(look, "choose another one with --keys", "the keys are inside the data folder: every copy of the data holds them"))
	}
	entries, err := os.ReadDir(keys)
	switch {
	case os.IsNotExist(err):
		return append(findings, found(fine, "", "the keys folder %s is not made yet", keys))
	case err != nil:
		return append(findings, found(bad, "run packwright as the user it belongs to", "the keys folder cannot be read: %v", err))
	}
	if runtime.GOOS == "windows" { // whose rights are not in the mode
		return append(findings, found(fine, "", "the keys folder is %s", keys))
	}
	open := 0
	for _, name := range append([]string{"."}, names(entries)...) {
		path := filepath.Join(keys, name)
		if info, err := os.Stat(path); err == nil && info.Mode()&0o077 != 0 {
			open++
			findings = append(findings, found(bad, fmt.Sprintf("chmod go= %q; if others use this machine, start with a new folder (--keys)", path),
				"%s may be used by others on this machine", path))
		}
	}
	if open == 0 {
		findings = append(findings, found(fine, "", "the keys folder %s is closed to others", keys))
	}
	return findings
}

func names(entries []os.DirEntry) []string {
	var all []string
	for _, e := range entries {
		all = append(all, e.Name())
	}
	return all
}

// checkName asks the network who has the name.
func (cmd *doctorCmd) checkName(ctx context.Context, w way, running bool) []finding {
	if w != wayOwn {
		return nil
	}
	if addrs, err := ca.Addresses(); err != nil || len(addrs) == 0 {
		return nil // without a network no name leads anywhere; said by the check of the addresses
	}
	name, err := localName(cmd.Name, cmd.keysDir(cmd.Data))
	if err != nil {
		return nil // said by the check of the certificate
	}
	ctx, cancel := context.WithTimeout(ctx, 2*time.Second)
	defer cancel()
	addr, err := askNetworks(ctx, name)
	if err != nil {
		return []finding{found(look, "phones that do not find the name use the number", "the network cannot be asked for names: %v", err)}
	}
	answer := ""
	if addr.IsValid() {
		answer = addr.WithZone("").String()
	}
	return []finding{nameFinding(name, answer, ownAddresses(), running)}
}

func nameFinding(name, answer string, own []string, running bool) finding {
	switch {
	case answer == "" && running:
		return found(look, "the network may keep such questions back; phones then use the number", "nobody answers to the name %s", name)
	case answer == "":
		return found(fine, "", "nobody has the name %s yet", name)
	case slices.Contains(own, answer):
		return found(fine, "", "the name %s leads to this machine", name)
	}
	return found(bad, "choose another one, as in --name pit2, before phones trust this one", "another machine, %s, answers to the name %s", answer, name)
}

// ownAddresses are all addresses of this machine, public ones too: whatever the
// name may lead to.
func ownAddresses() []string {
	addrs, err := net.InterfaceAddrs()
	if err != nil {
		return nil
	}
	var all []string
	for _, addr := range addrs {
		if prefix, err := netip.ParsePrefix(addr.String()); err == nil {
			all = append(all, prefix.Addr().Unmap().WithZone("").String())
		}
	}
	return all
}

func checkApp() []finding {
	app, err := newApp(webapp.Dist())
	if err != nil || !app.built() {
		return []finding{found(bad, "run make build", "the web app is not in this program")}
	}
	return []finding{found(fine, "", "%s %s, with the web app", programName, buildVersion())}
}
