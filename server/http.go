package main

import (
	"bytes"
	"encoding/json"
	"log/slog"
	"net/http"
	"strconv"
	"time"

	"github.com/labstack/echo/v4"
)

// newHTTPServer wraps a handler with the limits every connection has.
func newHTTPServer(h http.Handler, log *slog.Logger) *http.Server {
	return &http.Server{
		Handler:           h,
		ReadHeaderTimeout: 5 * time.Second,
		ReadTimeout:       60 * time.Second, // a phone with a poor link uploads 1 MiB
		WriteTimeout:      60 * time.Second, // lifted for live streams
		IdleTimeout:       120 * time.Second,
		MaxHeaderBytes:    16 << 10,
		HTTP2:             &http.HTTP2Config{MaxConcurrentStreams: 32}, // of a connection; usual are 250, each of which costs memory
		ErrorLog:          slog.NewLogLogger(log.Handler(), slog.LevelDebug),
	}
}

func (s *server) nowMS() int64 { return s.now().UnixMilli() }

// answer writes v as JSON. Text is passed on as it is, without HTML escapes: an
// entry leaves as it came.
func (s *server) answer(c echo.Context, status int, v any) error {
	var body bytes.Buffer
	enc := json.NewEncoder(&body)
	enc.SetEscapeHTML(false)
	if err := enc.Encode(v); err != nil {
		return err
	}
	return c.Blob(status, "application/json; charset=utf-8", body.Bytes())
}

// apiHeaders keeps caches away from every API answer and puts the server's clock
// on it, so that a phone can see how far its own is off.
func (s *server) apiHeaders(next echo.HandlerFunc) echo.HandlerFunc {
	return func(c echo.Context) error {
		h := c.Response().Header()
		h.Set("Cache-Control", "no-store")
		h.Set("Content-Security-Policy", "default-src 'none'; frame-ancestors 'none'")
		h.Set("Packwright-Now", strconv.FormatInt(s.nowMS(), 10)) // unix ms
		return next(c)
	}
}

func (s *server) logRequest(next echo.HandlerFunc) echo.HandlerFunc {
	return func(c echo.Context) error {
		start := s.now()
		err := next(c)
		if err != nil {
			c.Error(err) // answered here, so that the status in the log is the one sent
		}
		s.log.Debug("request", "method", c.Request().Method, "path", c.Request().URL.Path,
			"status", c.Response().Status, "bytes", c.Response().Size, "took", s.now().Sub(start))
		return nil
	}
}
