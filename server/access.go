package main

import (
	"net/http"
	"strconv"
	"strings"
	"time"

	"github.com/labstack/echo/v4"

	"packwright/internal/access"
	"packwright/internal/problem"
)

// cookieName of the token. Browsers take __Host- only with Secure, Path=/ and
// without a domain, so no other name or port in clear can plant one.
const cookieName = "__Host-packwright"

// cookieDays is as long as browsers keep any cookie.
const cookieDays = 400

// here is the device that everybody at doorHere is: whoever can use this machine
// can read the data folder anyway.
var here = access.Device{ID: "here", Name: "this machine", Role: access.Lead, Unsent: -1}

// admit lets a request through if its device has the role. What it learns of the
// device is for deviceOf. Devices have their own allowance, so that a crowd behind
// one address takes nothing from them.
func (s *server) admit(d door, need access.Role) echo.MiddlewareFunc {
	return func(next echo.HandlerFunc) echo.HandlerFunc {
		return func(c echo.Context) error {
			device, err := s.identify(c.Request(), d)
			if d != doorHere {
				key := device.ID
				if err != nil {
					key = s.addressKey(c)
				}
				if wait := s.calls.take(key, s.now()); wait > 0 {
					return tooMany(c, wait)
				}
			}
			if err := enough(device, err, need); err != nil {
				return err
			}
			if err == nil {
				if d != doorHere {
					s.register.Seen(device.ID, unsent(c.Request()))
					markJoined(c.Request().Context())
				}
				c.Set(deviceKey, device)
			}
			c.Set(admittedKey, func() error { return s.admitAgain(c, d, need) })
			return next(c)
		}
	}
}

// What echo's context holds of a request.
const (
	deviceKey   = "device"
	admittedKey = "admitted"
)

// enough says whether a device may do what needs a role; err is why there is none.
func enough(device access.Device, err error, need access.Role) error {
	switch {
	case err != nil && need != anyone:
		return err
	case err == nil && !device.Role.May(need):
		return problem.New(problem.NotAllowed, "ask a lead, or use packwright on the machine it runs on", "only a lead may do this")
	}
	return nil
}

// admitAgain asks once more for the device of a request whose body took its time: it
// may have been taken off the list meanwhile, or have another role.
func (s *server) admitAgain(c echo.Context, d door, need access.Role) error {
	device, err := s.identify(c.Request(), d)
	if err == nil {
		c.Set(deviceKey, device)
	}
	return enough(device, err, need)
}

// deviceOf is the device that asks; false where it has not joined.
func deviceOf(c echo.Context) (access.Device, bool) {
	device, joined := c.Get(deviceKey).(access.Device)
	return device, joined
}

// identify finds the device whose token a request carries: in the cookie, or, from
// a server, in the header Authorization. It is never in the address.
func (s *server) identify(r *http.Request, d door) (access.Device, error) {
	if d == doorHere {
		return here, nil
	}
	return s.register.Check(tokenOf(r))
}

// tokenOf gives the token of a request; empty where there is none or more than one.
func tokenOf(r *http.Request) string {
	cookies, headers := r.CookiesNamed(cookieName), r.Header.Values("Authorization")
	switch {
	case len(headers) == 1 && len(cookies) == 0:
		scheme, token, _ := strings.Cut(headers[0], " ")
		if strings.EqualFold(scheme, "Bearer") {
			return token
		}
	case len(headers) == 0 && len(cookies) == 1:
		return cookies[0].Value
	}
	return ""
}

// unsent reads how many entries a device says it has still to send; -1 if it says nothing
// that can be used.
func unsent(r *http.Request) int {
	n, err := strconv.ParseUint(r.Header.Get("Packwright-Unsent"), 10, 20)
	if err != nil {
		return -1
	}
	return int(n)
}

// setToken gives the browser its token, or takes it away where it is empty.
func setToken(c echo.Context, token string) {
	cookie := &http.Cookie{Name: cookieName, Value: token, Path: "/", Secure: true, HttpOnly: true,
		SameSite: http.SameSiteStrictMode, MaxAge: int((cookieDays * 24 * time.Hour).Seconds())}
	if token == "" {
		cookie.MaxAge = -1
	}
	c.SetCookie(cookie)
}

type (
	joinRequest struct {
		Code   string `json:"code"`             // as shown, in any case
		Name   string `json:"name"`             // of the device, not of a person
		Device string `json:"device,omitempty"` // the device id in the entries it makes; a server has none
		Token  bool   `json:"token,omitempty"`  // a server asks for the token itself instead of a cookie
	}
	joinAnswer struct {
		Device access.Device `json:"device"`
		Token  string        `json:"token,omitempty"` // only where it was asked for
		// Namesakes is how many other servers of this name may come in: most likely the
		// same machine, joined before.
		Namesakes int `json:"namesakes,omitempty"`
	}

	meAnswer struct {
		Device access.Device `json:"device"`
		Here   bool          `json:"here"` // this is the machine the server runs on
		Name   string        `json:"name"` // of the server, as in its address; empty where it is for this machine only
	}
)

// join gives a device its token for a code.
func (s *server) join(c echo.Context) error {
	var request joinRequest
	if err := readBody(c, &request, maxAskBytes); err != nil {
		return err
	}
	device, token, err := s.register.Join(access.Asking{
		Code: request.Code, Name: request.Name, JournalID: request.Device, From: s.addressKey(c)})
	if err != nil {
		return err
	}
	answer := joinAnswer{Device: device}
	told := []any{"device", device.ID, "role", device.Role} // and no name: people call their phones after themselves
	if request.Token {
		answer.Token = token
		answer.Namesakes = s.namesakes(device)
	} else if before := s.replaceToken(c, token); before != "" {
		told = append(told, "instead_of", before)
	}
	s.log.Info("a device joined", told...)
	if answer.Namesakes > 0 {
		s.log.Warn("a server of the same name is on the list already: take off the one that is not used any more, under Set-up, Devices", "device", device.ID)
	}
	return s.answer(c, http.StatusOK, answer)
}

// namesakes counts the other servers with a server's name that may come in.
func (s *server) namesakes(of access.Device) (count int) {
	for _, d := range s.register.List() {
		if d.ID != of.ID && d.RevokedMS == 0 && d.IsServer() && strings.EqualFold(d.Name, of.Name) {
			count++
		}
	}
	return count
}

// replaceToken gives a browser that joined its token. The one it had before, which
// nobody holds any longer, is worth nothing from now on; its device is given.
func (s *server) replaceToken(c echo.Context, token string) (id string) {
	setToken(c, token)
	before, joined := deviceOf(c)
	if !joined || before.ID == here.ID {
		return ""
	}
	if err := s.register.Revoke(before.ID); err != nil {
		s.log.Warn("a device joined anew and is on the list twice", "device", before.ID, "err", err)
	}
	return before.ID
}

// me tells a device who it is here, and lengthens the life of its cookie.
func (s *server) me(c echo.Context) error {
	device, _ := deviceOf(c)
	if cookies := c.Request().CookiesNamed(cookieName); len(cookies) == 1 && device.ID != here.ID {
		setToken(c, cookies[0].Value)
	}
	return s.answer(c, http.StatusOK, meAnswer{Device: device, Here: device.ID == here.ID, Name: s.name()})
}

type emptyAnswer struct{}

// leave gives a device's token back: it is worth nothing from now on.
func (s *server) leave(c echo.Context) error {
	device, _ := deviceOf(c)
	if device.ID == here.ID {
		return problem.New(problem.Conflict, "only devices that joined can leave", "this is the machine that the server runs on")
	}
	if err := s.register.Revoke(device.ID); err != nil {
		return err
	}
	s.log.Info("a device left", "device", device.ID)
	setToken(c, "")
	return s.answer(c, http.StatusOK, emptyAnswer{})
}
