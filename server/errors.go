package main

import (
	"context"
	"errors"
	"net/http"
	"strings"

	"github.com/labstack/echo/v4"

	"packwright/internal/problem"
)

// statusOf maps every kind of problem to its HTTP status, once.
var statusOf = map[problem.Kind]int{
	problem.Invalid:     http.StatusBadRequest,
	problem.NotFound:    http.StatusNotFound,
	problem.Conflict:    http.StatusConflict,
	problem.TooLarge:    http.StatusRequestEntityTooLarge,
	problem.InUse:       http.StatusServiceUnavailable,
	problem.NoSpace:     http.StatusInsufficientStorage,
	problem.Damaged:     http.StatusInternalServerError,
	problem.Unsupported: http.StatusUnsupportedMediaType,
	problem.NotJoined:   http.StatusUnauthorized,
	problem.NotAllowed:  http.StatusForbidden,
	problem.TooMany:     http.StatusTooManyRequests,
}

// problemAnswer is the body of every answer that is not a success.
type problemAnswer struct {
	Problem *problem.Error `json:"problem"`
	NowMS   int64          `json:"now_ms"`
}

// handleError is the only place where an error becomes an answer. A fault of the
// program is logged and shown as "internal error" and nothing more.
func (s *server) handleError(err error, c echo.Context) {
	if c.Response().Committed {
		s.log.Debug("answer cut short", "path", c.Request().URL.Path, "err", err)
		return
	}
	status, shown := s.explain(err, c)
	if status == http.StatusUnauthorized {
		c.Response().Header().Set("WWW-Authenticate", `Bearer realm="packwright"`) // RFC 9110, 11.6.1
	}
	if err := s.answer(c, status, problemAnswer{Problem: shown, NowMS: s.nowMS()}); err != nil {
		s.log.Debug("answer cut short", "path", c.Request().URL.Path, "err", err)
	}
}

func (s *server) explain(err error, c echo.Context) (status int, shown *problem.Error) {
	var h *echo.HTTPError
	p, isProblem := problem.As(err)
	switch {
	case isProblem:
		return statusOf[p.Kind], p
	case errors.As(err, &h) && h.Code == http.StatusNotFound:
		return h.Code, problem.New(problem.NotFound, "the routes are listed in /api/v1/openapi.json",
			"there is nothing at %s", c.Request().URL.Path)
	case errors.As(err, &h) && h.Code == http.StatusMethodNotAllowed:
		return h.Code, problem.New(problem.Invalid, "the routes are listed in /api/v1/openapi.json",
			"%s does not take %s", c.Request().URL.Path, c.Request().Method)
	case errors.As(err, &h) && h.Code < http.StatusInternalServerError:
		return h.Code, problem.New(problem.Invalid, "", "%s", strings.ToLower(http.StatusText(h.Code)))
	}
	if errors.Is(err, context.Canceled) && c.Request().Context().Err() != nil {
		return http.StatusServiceUnavailable, problem.New(problem.InUse, "send it again", "the request was broken off") // heard by nobody, most often
	}
	s.log.Error("internal error", "method", c.Request().Method, "path", c.Request().URL.Path, "err", err)
	return http.StatusInternalServerError, &problem.Error{
		Kind: "internal", Text: "internal error", Hint: "nothing was lost; the log of the server says more"}
}
