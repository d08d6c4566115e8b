package main

import (
	"net/http"
	"net/url"

	"github.com/labstack/echo/v4"

	"packwright/internal/access"
	"packwright/internal/problem"
)

type (
	inviteRequest struct {
		Role access.Role `json:"role"` // of whoever joins with the code
	}
	inviteAnswer struct {
		access.Invitation
		// URL opens the app with the code filled in. The code is in the fragment, which
		// browsers keep to themselves: it reaches no server and no log.
		URL string `json:"url"`
		// Welcome is where a device begins that does not trust this server yet; empty
		// where every device does.
		Welcome string `json:"welcome"`
		// Numbers are the addresses for devices that do not find the name in those.
		Numbers []numbered `json:"numbers"`
	}

	devicesAnswer struct {
		Devices []listedDevice `json:"devices"` // in the order of joining, those taken off included
	}
	listedDevice struct {
		access.Device
		Server bool `json:"server"` // it is another server
	}

	// changeRequest names a device and one change.
	changeRequest struct {
		ID      string       `json:"id"`
		Name    *string      `json:"name,omitempty"`
		Role    *access.Role `json:"role,omitempty"`
		Revoked bool         `json:"revoked,omitempty"` // takes it off the list for good
	}
	changeAnswer struct {
		Device access.Device `json:"device"`
	}
)

// name is what the server is called in its address.
func (s *server) name() string {
	u, err := url.Parse(s.origin)
	if err != nil {
		return ""
	}
	return u.Hostname()
}

// invite makes a code for one device.
func (s *server) invite(c echo.Context) error {
	var request inviteRequest
	if err := readBody(c, &request, maxAskBytes); err != nil {
		return err
	}
	if s.origin == "" {
		return problem.New(problem.Conflict, "stop it, and start packwright serve --lan", "this server is for this machine only: nobody can join")
	}
	made, err := s.register.Invite(request.Role)
	if err != nil {
		return err
	}
	answer := inviteAnswer{Invitation: made, URL: s.origin + "/join#" + made.Code, Welcome: s.welcome, Numbers: []numbered{}}
	if s.numbers != nil {
		answer.Numbers = append(answer.Numbers, s.numbers()...)
	}
	return s.answer(c, http.StatusOK, answer)
}

// devices lists who joined.
func (s *server) devices(c echo.Context) error {
	listed := []listedDevice{}
	for _, device := range s.register.List() {
		listed = append(listed, listedDevice{device, device.IsServer()})
	}
	return s.answer(c, http.StatusOK, devicesAnswer{Devices: listed})
}

// changeDevice renames a device, gives it another role, or takes it off the list.
func (s *server) changeDevice(c echo.Context) error {
	var request changeRequest
	if err := readBody(c, &request, maxAskBytes); err != nil {
		return err
	}
	changes := 0
	for _, asked := range []bool{request.Name != nil, request.Role != nil, request.Revoked} {
		if asked {
			changes++
		}
	}
	if changes != 1 {
		return problem.New(problem.Invalid, `send one of "name", "role" and "revoked": true`, "%d changes are asked for", changes)
	}
	var err error
	switch {
	case request.Name != nil:
		err = s.register.Rename(request.ID, *request.Name)
	case request.Role != nil:
		err = s.register.SetRole(request.ID, *request.Role)
	default:
		err = s.register.Revoke(request.ID)
	}
	if err != nil {
		return err
	}
	device, err := s.register.Device(request.ID)
	if err != nil {
		return err
	}
	by, _ := deviceOf(c)
	s.log.Info("a device was changed", "device", device.ID, "role", device.Role, "revoked", device.RevokedMS != 0, "by", by.ID)
	return s.answer(c, http.StatusOK, changeAnswer{Device: device})
}
