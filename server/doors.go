package main

import (
	"context"
	"crypto/tls"
	"errors"
	"net"
	"net/http"
	"syscall"

	"golang.org/x/sync/errgroup"

	"packwright/internal/problem"
)

// entrance is a door that is open: its listener and what answers there.
type entrance struct {
	door     door
	listener net.Listener
	secure   *tls.Config // nil: HTTP
	handler  http.Handler

	// check is set where TLS may be spoken beside HTTP, with these certificates.
	check func(*tls.ClientHelloInfo) (*tls.Certificate, error)
}

// serve answers at every entrance until ctx ends or one of them fails, then
// closes them all: live streams end first, open requests are finished.
func (s *server) serve(ctx context.Context, entrances ...entrance) error {
	group, ctx := errgroup.WithContext(ctx)
	var servers []*http.Server
	for _, e := range entrances {
		web := newHTTPServer(e.handler, s.log)
		web.TLSConfig, web.ConnContext = e.secure, withConn
		servers = append(servers, web)
		limits := [...]int{doorHere: usualInAll, doorField: usualPerAddress, doorProxy: usualInAll, doorPlain: usualPerAddress}
		var listener net.Listener = capConnections(e.listener, limits[e.door], usualInAll, s.now, s.log)
		if e.check != nil {
			listener = newBilingual(listener, e.check)
		}
		group.Go(func() error {
			var err error
			if e.secure != nil {
				err = web.ServeTLS(listener, "", "")
			} else {
				err = web.Serve(listener)
			}
			if errors.Is(err, http.ErrServerClosed) {
				return nil
			}
			return err
		})
	}
	group.Go(func() error {
		<-ctx.Done()
		close(s.closing) // Shutdown waits for open answers, and a live stream never ends by itself
		return s.shutdown(servers)
	})
	return group.Wait()
}

// shutdown stops all servers at once and cuts off what does not end in time.
func (s *server) shutdown(servers []*http.Server) error {
	limited, cancel := context.WithTimeout(context.Background(), patience)
	defer cancel()
	var group errgroup.Group
	for _, web := range servers {
		group.Go(func() error {
			if err := web.Shutdown(limited); err != nil {
				s.log.Warn("requests were cut off", "err", err)
				return web.Close()
			}
			return nil
		})
	}
	return group.Wait()
}

// winAddressInUse and winAccess are what Windows gives for EADDRINUSE
// (WSAEADDRINUSE) and EACCES (WSAEACCES).
const (
	winAddressInUse = syscall.Errno(10048)
	winAccess       = syscall.Errno(10013)
)

// listenLoopback listens on an address that only this machine can reach.
func listenLoopback(address string) (net.Listener, error) {
	host, _, err := net.SplitHostPort(address)
	if err == nil && !isLoopbackHost(host) {
		return nil, reachable(address)
	}
	listener, err := listen("listen", address, "127.0.0.1:8081")
	if err != nil {
		return nil, err
	}
	return onlyLoopback(listener, address)
}

// onlyLoopback closes a listener that others can reach: a name that must mean
// this machine, such as x.localhost, means what the resolver says.
func onlyLoopback(listener net.Listener, address string) (net.Listener, error) {
	if tcp, ok := listener.Addr().(*net.TCPAddr); ok && tcp.IP.IsLoopback() {
		return listener, nil
	}
	return nil, errors.Join(reachable(address), listener.Close())
}

func reachable(address string) error {
	return problem.Invalidf("listen",
		"use --listen 127.0.0.1:8080, and --lan to let phones in, encrypted",
		"%q can be reached from other machines", address)
}

// listen opens the address of a flag; instead is another one for the hint.
func listen(flag, address, instead string) (net.Listener, error) {
	if _, _, err := net.SplitHostPort(address); err != nil {
		return nil, problem.Invalidf(flag, "give address and port, as in --"+flag+" "+instead, "%q is not an address to listen on", address)
	}
	listener, err := net.Listen("tcp", address)
	switch {
	case errors.Is(err, syscall.EADDRINUSE), errors.Is(err, winAddressInUse):
		return nil, problem.New(problem.InUse, "stop it, or choose another port, as in --"+flag+" "+instead, "%s is in use by another program", address)
	case errors.Is(err, syscall.EACCES), errors.Is(err, winAccess):
		return nil, problem.New(problem.NotAllowed, "ports below 1024 may need an administrator; choose another, as in --"+flag+" "+instead,
			"this user may not listen on %s", address)
	case err != nil:
		return nil, problem.New(problem.Invalid, "try --"+flag+" "+instead, "%s cannot be listened on: %v", address, err)
	}
	return listener, nil
}
