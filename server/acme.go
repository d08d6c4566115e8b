package main

import (
	"context"
	"crypto/tls"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"time"

	"golang.org/x/crypto/acme"
	"golang.org/x/crypto/acme/autocert"
)

// byACME gets the certificate of a public name from an ACME server (RFC 8555) and
// renews it. The server asks back on either door: http-01 on the plain one,
// tls-alpn-01 on the encrypted one.
func (f *field) byACME(o fieldChoices, keys string) error {
	cache := filepath.Join(keys, "acme")
	if err := os.MkdirAll(cache, 0o700); err != nil {
		return err
	}
	manager := &autocert.Manager{
		Prompt: autocert.AcceptTOS, // said in the help of --domain
		Cache:  autocert.DirCache(cache),
		HostPolicy: func(_ context.Context, host string) error { // which has a port where that is not the usual one
			if hostName(host) != o.Domain {
				return fmt.Errorf("this server is not %q", host)
			}
			return nil
		},
	}
	if o.ACME != "" {
		manager.Client = &acme.Client{DirectoryURL: o.ACME}
	}
	f.host = o.Domain
	f.tls = restrict(manager.TLSConfig())
	f.acme = manager.HTTPHandler
	f.fetch = manager.GetCertificate
	return nil
}

// fetchCertificate gets the certificate before the first visitor has to wait for
// it, longer than a handshake may last, and says why where that fails. It does not
// wait for an attempt that ctx ends.
func (f *field) fetchCertificate(ctx context.Context, log *slog.Logger) {
	hello := &tls.ClientHelloInfo{ServerName: f.host, CipherSuites: []uint16{tls.TLS_ECDHE_ECDSA_WITH_AES_128_GCM_SHA256}}
	for wait := time.Minute; ; wait = min(2*wait, time.Hour) { // an ACME server limits how often it is asked
		failed := make(chan error, 1)
		go func() {
			_, err := f.fetch(hello)
			failed <- err
		}()
		select {
		case <-ctx.Done():
			return
		case err := <-failed:
			if err == nil {
				return
			}
			log.Warn("there is no certificate: does the name lead here, and are both doors reachable from the internet?", "name", f.host, "again", wait, "err", err)
		}
		select {
		case <-ctx.Done():
			return
		case <-time.After(wait):
		}
	}
}
