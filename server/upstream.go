package main

import (
	"context"
	"net/http"
	"strings"

	"github.com/labstack/echo/v4"

	"packwright/internal/exchange"
	"packwright/internal/keydir"
	"packwright/internal/problem"
)

// linkUpstream prepares to exchange entries with the server at address, which this
// one has joined before: its token is in the folder of keys.
func (s *server) linkUpstream(address, keys string) error {
	origin, _, err := exchange.ParseURL(address)
	if err != nil {
		return err
	}
	if err := keydir.Keep(keys); err != nil { // a token is in it
		return err
	}
	link, err := exchange.ReadLink(keys)
	if p, ok := problem.As(err); ok && p.Kind == problem.NotFound {
		return notJoined(origin, "")
	}
	if err != nil {
		return err
	}
	if link.URL != origin {
		return notJoined(origin, link.URL)
	}
	s.upstream, err = exchange.New(s.store, link, keys, exchange.Options{
		Version: buildVersion(), Now: s.now, Log: s.log, Dial: newFinder().DialContext})
	return err
}

// runUpstream exchanges with the upstream that is linked. stop ends it and waits
// until nothing of it touches the store any more; it also ends with ctx.
func (s *server) runUpstream(ctx context.Context) (stop func()) {
	ctx, cancel := context.WithCancel(ctx)
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		s.upstream.Run(ctx)
	}()
	return func() {
		cancel()
		<-ended
	}
}

// notJoined is the problem of an upstream whose token is not here; joined is another
// one, if any.
func notJoined(origin, joined string) error {
	text := "this server has not joined " + origin
	if joined != "" {
		text += ", but " + joined
	}
	hint := "join it first: " + programName + " join " + origin
	if strings.HasPrefix(origin, "https:") {
		hint += " --code ABCD-EFGH --fingerprint " + theirFingerprint
	}
	return problem.Invalidf("upstream", hint, "%s", text)
}

// theirFingerprint stands for what a person reads on the other machine's screen.
const theirFingerprint = "AA:BB:…"

// upstreamStatus tells how the exchange with the upstream stands.
func (s *server) upstreamStatus(c echo.Context) error {
	status := exchange.Status{HeldBack: []exchange.HeldBack{}}
	if s.upstream != nil {
		status = s.upstream.Status()
	}
	return s.answer(c, http.StatusOK, status)
}
