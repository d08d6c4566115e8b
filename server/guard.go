package main

import (
	"fmt"
	"mime"
	"net"
	"net/http"
	"net/netip"
	"runtime/debug"
	"strings"

	"github.com/labstack/echo/v4"

	"packwright/internal/problem"
)

// appPolicy is the app's Content-Security-Policy: own files only, no inline
// code. 'wasm-unsafe-eval' is what compiling WebAssembly needs and allows nothing
// else; blob: and data: are for camera frames and label previews.
const appPolicy = "default-src 'none'; script-src 'self' 'wasm-unsafe-eval'; style-src 'self'; " +
	"img-src 'self' blob: data:; font-src 'self'; connect-src 'self'; worker-src 'self'; manifest-src 'self'; " +
	"media-src 'self' blob:; base-uri 'none'; form-action 'self'; frame-ancestors 'none'"

// secureHeaders sets what every answer carries.
//
// Strict-Transport-Security is only for a certificate from a public authority. With
// our own it would lock people out: browsers apply it to every port of the name,
// so the welcome page in clear could no longer be opened, and whoever removed the
// certificate, or has yet to install it, could not go on past the warning.
func (s *server) secureHeaders(d door) echo.MiddlewareFunc {
	return func(next echo.HandlerFunc) echo.HandlerFunc {
		return func(c echo.Context) error {
			h := c.Response().Header()
			h.Set("Content-Security-Policy", appPolicy)
			h.Set("X-Content-Type-Options", "nosniff")
			h.Set("X-Frame-Options", "DENY")
			h.Set("Referrer-Policy", "no-referrer")
			h.Set("Permissions-Policy", "camera=(self), screen-wake-lock=(self), microphone=(), geolocation=(), payment=(), usb=()")
			h.Set("Cross-Origin-Opener-Policy", "same-origin")
			h.Set("Cross-Origin-Resource-Policy", "same-origin")
			if d == doorField && s.publicCert {
				h.Set("Strict-Transport-Security", "max-age=31536000") // a year
			}
			return next(c)
		}
	}
}

// knownHost refuses a request made under a name that is not this server's own: a
// page elsewhere may have pointed its name here (DNS rebinding). doorPlain has
// nothing to protect, and must be found under whatever name a network gives it.
func (s *server) knownHost(d door) echo.MiddlewareFunc {
	known := isLoopbackHost
	hint := "use the address that packwright serve printed"
	switch d {
	case doorField, doorProxy:
		known = func(host string) bool { return s.hosts != nil && s.hosts(hostName(host)) }
	case doorPlain:
		known = func(string) bool { return true }
	}
	return func(next echo.HandlerFunc) echo.HandlerFunc {
		return func(c echo.Context) error {
			if host := c.Request().Host; !known(host) {
				return problem.New(problem.NotAllowed, hint, "this server does not answer to the name %q", host)
			}
			return next(c)
		}
	}
}

// encrypted keeps the API away from doorPlain, whatever is asked for.
func (s *server) encrypted(d door) echo.MiddlewareFunc {
	return func(next echo.HandlerFunc) echo.HandlerFunc {
		if d != doorPlain {
			return next
		}
		return func(echo.Context) error {
			hint := "the team's data is on this machine only"
			if s.origin != "" {
				hint = "open " + s.origin
			}
			return problem.New(problem.NotAllowed, hint, "this way in is not encrypted")
		}
	}
}

// hostName is a Host without port, brackets and final dot, in lower case.
func hostName(host string) string {
	if h, _, err := net.SplitHostPort(host); err == nil {
		host = h
	}
	return strings.ToLower(strings.TrimSuffix(strings.Trim(host, "[]"), "."))
}

// isLoopbackHost reports whether host, with or without a port, can only mean
// this machine.
func isLoopbackHost(host string) bool {
	name := hostName(host)
	if addr, err := netip.ParseAddr(name); err == nil {
		return addr.Unmap().IsLoopback()
	}
	return name == "localhost" || strings.HasSuffix(name, ".localhost")
}

// sameOrigin refuses what another site's page asks for, and a change asked for by
// a page of another origin, such as another port of this machine. The cookie is
// SameSite=Strict, no answer ever carries CORS headers, and bodies must be JSON, so
// that a browser asks first and is told no; this holds even where one of those fails.
// A link elsewhere may lead to an answer that is only read.
func (s *server) sameOrigin(d door) echo.MiddlewareFunc {
	return func(next echo.HandlerFunc) echo.HandlerFunc {
		return func(c echo.Context) error {
			r := c.Request()
			reads := r.Method == http.MethodGet || r.Method == http.MethodHead
			switch r.Header.Get("Sec-Fetch-Site") {
			case "", "same-origin", "none":
			default:
				if !reads || r.Header.Get("Sec-Fetch-Mode") != "navigate" || r.Header.Get("Sec-Fetch-Dest") != "document" {
					return problem.New(problem.NotAllowed, "", "another site's page asked for this")
				}
			}
			if origin := r.Header.Get("Origin"); origin != "" && !reads && !strings.EqualFold(origin, ownOrigin(r, d)) {
				return problem.New(problem.NotAllowed, "", "a page of %q asked for this", origin)
			}
			return next(c)
		}
	}
}

// ownOrigin is the origin of pages that came in by the same door under the same
// name, which knownHost has let through.
func ownOrigin(r *http.Request, d door) string {
	if d == doorField || d == doorProxy {
		return "https://" + r.Host
	}
	return "http://" + r.Host
}

// jsonBody refuses a body that does not say it is JSON.
func jsonBody(next echo.HandlerFunc) echo.HandlerFunc {
	return func(c echo.Context) error {
		got := c.Request().Header.Get("Content-Type")
		if kind, _, err := mime.ParseMediaType(got); err != nil || kind != "application/json" {
			return problem.New(problem.Unsupported, "send Content-Type: application/json", "the body is %q, not JSON", got)
		}
		return next(c)
	}
}

// recoverPanic turns a panic into an internal error with its stack in the log.
func (s *server) recoverPanic(next echo.HandlerFunc) echo.HandlerFunc {
	return func(c echo.Context) (err error) {
		defer func() {
			switch r := recover(); r {
			case nil:
			case http.ErrAbortHandler:
				panic(r)
			default:
				err = fmt.Errorf("panic: %v\n%s", r, debug.Stack())
			}
		}()
		return next(c)
	}
}
