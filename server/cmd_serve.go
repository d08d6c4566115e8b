package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"runtime"
	"strings"
	"sync"
	"time"

	"packwright/internal/access"
	"packwright/internal/keydir"
	"packwright/internal/problem"
	"packwright/internal/store"
	"packwright/labels"
)

type serveCmd struct {
	Data    string `default:"${data}" type:"path" placeholder:"DIR" help:"Folder of the database (${default})."`
	Listen  string `default:"127.0.0.1:8080" placeholder:"ADDRESS" help:"Address and port for this machine itself, without sign-in (${default})."`
	Verbose bool   `help:"Log every request."`
	fieldChoices
	Upstream string `placeholder:"URL" help:"Another server to exchange entries with; join it first with packwright join."`
}

// patience is how long open requests may take once the server is told to stop.
const patience = 10 * time.Second

// Run serves until it is told to stop: live streams end first, then requests are
// finished, then register and store are closed. The addresses are taken first, so
// that nothing is changed where one is in use.
func (cmd *serveCmd) Run(con *console) (err error) {
	level := slog.LevelInfo
	if cmd.Verbose {
		level = slog.LevelDebug
	}
	log := slog.New(slog.NewTextHandler(con.stderr, &slog.HandlerOptions{Level: level}))

	listener, err := listenLoopback(cmd.Listen)
	if err != nil {
		return err
	}
	defer listener.Close()
	address := "http://" + listener.Addr().String()
	f, err := openField(cmd.fieldChoices, cmd.Data, address, con.now, log)
	if err != nil {
		return err
	}
	defer f.close()
	if cmd.Upstream != "" && f.leadsHere(cmd.Upstream, listener) {
		return problem.Invalidf("upstream", "give the address of another server", "%s is this server itself", cmd.Upstream)
	}
	kept, err := store.Open(cmd.Data, store.Options{Address: address, Log: log, Now: con.now})
	if err != nil {
		return err
	}
	defer func() {
		if err = errors.Join(err, kept.Close()); err == nil {
			con.note("stopped; everything is on the disk")
		}
	}()
	for _, found := range kept.Report().Sentences() {
		con.note("%s", found)
	}
	if f.way == wayNone { // or else it is taken already
		if f.keys, err = keydir.Take(cmd.keysDir(cmd.Data), address); err != nil {
			return err
		}
	}
	register, err := access.Open(cmd.keysDir(cmd.Data), access.Options{Now: con.now})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, register.Close()) }()
	s, err := newServer(kept, register, log, con.now)
	if err != nil {
		return err
	}
	if cmd.Upstream != "" {
		if err := s.linkUpstream(cmd.Upstream, cmd.keysDir(cmd.Data)); err != nil {
			return err
		}
	}
	if err := f.tell(con.stdout, address); err != nil {
		return err
	}
	con.note("the database is in %s", cmd.Data)
	if f.way == wayNone {
		con.note("this machine only: other devices cannot connect, unless with --lan; stop with Ctrl-C")
	} else {
		con.note("keys and joined devices are in %s; stop with Ctrl-C", cmd.keysDir(cmd.Data))
	}
	if !s.app.built() {
		con.note("the web app is not in this program: run make build")
	}
	return cmd.serve(con, s, f, listener)
}

// serve opens all doors until ctx ends.
func (cmd *serveCmd) serve(con *console, s *server, f *field, here net.Listener) error {
	doors, err := f.entrances(s)
	if err != nil {
		return err
	}
	ctx, stop := context.WithCancel(con.ctx)
	defer stop()
	if cmd.Upstream != "" {
		defer s.runUpstream(ctx)()
		con.note("exchanging entries with %s; how it stands is shown at http://%s/setup", s.upstream.Status().Upstream, here.Addr())
	}
	var tending sync.WaitGroup
	tending.Go(func() { f.tend(ctx, s.log) })
	defer tending.Wait()
	defer stop()
	return s.serve(ctx, append(doors, entrance{door: doorHere, listener: here, handler: s.handler(doorHere)})...)
}

// tell says where to go.
func (f *field) tell(w io.Writer, address string) error {
	var b strings.Builder
	fmt.Fprintf(&b, "open %s in a browser on this machine\n", address)
	switch f.way {
	case wayNone:
	case wayOwn:
		welcome := f.welcome()
		fmt.Fprintf(&b, "\nQR OF THE WELCOME PAGE, where each phone begins\n")
		fmt.Fprintf(&b, "phones on the same network: scan this, or open %s\n\n", welcome)
		if err := labels.TerminalQR(&b, welcome, coloured(w)); err != nil {
			return err
		}
		if numbers := f.numbers(); len(numbers) > 0 {
			fmt.Fprintf(&b, "\nif a phone does not find that name: %s\n", welcomes(numbers))
		}
		fmt.Fprintf(&b, "\nbefore a phone trusts the certificate, its own certificate screen must show this SHA-256 fingerprint,\n")
		fmt.Fprintf(&b, "all of it (some phones leave the colons out); what a web page shows proves nothing:\n")
		for _, line := range fingerprintLines(f.authority.Fingerprint()) {
			fmt.Fprintf(&b, "  %s\n", line)
		}
		fmt.Fprintf(&b, "\nthen it opens %s\n", f.origin)
	default:
		fmt.Fprintf(&b, "other devices open %s\n", f.origin)
	}
	if f.way != wayNone {
		fmt.Fprintf(&b, "and joins with a code: run packwright invite on this machine, or open %s/setup/devices\n", address)
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// fingerprintLines cuts a fingerprint into lines of eight pairs, which are compared
// more easily than one long one.
func fingerprintLines(fingerprint string) []string {
	pairs := strings.Split(fingerprint, ":")
	var lines []string
	for len(pairs) > 8 {
		lines = append(lines, strings.Join(pairs[:8], ":"))
		pairs = pairs[8:]
	}
	return append(lines, strings.Join(pairs, ":"))
}

// coloured says whether w shows ANSI colours. Consoles of Windows may not.
func coloured(w io.Writer) bool { return isTerminal(w) && runtime.GOOS != "windows" }
