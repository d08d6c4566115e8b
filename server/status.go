package main

import (
	"net/http"
	"strconv"

	"github.com/labstack/echo/v4"

	"packwright/internal/journal"
	"packwright/internal/problem"
)

type healthAnswer struct {
	OK        bool   `json:"ok"`
	Joined    bool   `json:"joined"` // the device that asks may come in
	Role      string `json:"role"`   // crew or lead; empty for a stranger
	Epoch     string `json:"epoch"`  // empty for a stranger
	Head      uint64 `json:"head"`   // 0 for a stranger
	NowMS     int64  `json:"now_ms"`
	API       int    `json:"api"`
	MinClient int    `json:"min_client"` // oldest web app API that may still sync
	Welcome   string `json:"welcome"`    // address of the page that explains the certificate; empty: there is none
	Address   string `json:"address"`    // where other devices open the app, such as https://pit.local:8443; empty: nobody can
}

// health is a phone's own probe: that this answer came is the only proof that
// the server can be reached. A stranger hears that and nothing of the team's.
func (s *server) health(c echo.Context) error {
	answer := healthAnswer{OK: true, NowMS: s.nowMS(), API: apiVersion, MinClient: minClientAPI, Welcome: s.welcome, Address: s.origin}
	if device, joined := deviceOf(c); joined {
		answer.Joined, answer.Role = true, string(device.Role)
		answer.Epoch, answer.Head = s.store.Head()
	}
	return s.answer(c, http.StatusOK, answer)
}

// newEnough refuses to sync with an app, or a server, that says it speaks an older
// version of the API than is still understood here. Its entries stay where they are.
func (s *server) newEnough(next echo.HandlerFunc) echo.HandlerFunc {
	return func(c echo.Context) error {
		spoken, err := strconv.Atoi(c.Request().Header.Get("Packwright-API"))
		if err != nil || spoken >= minClientAPI {
			return next(c)
		}
		if h := c.Response().Header(); c.Request().ProtoMajor == 1 { // RFC 9110, 15.5.22; HTTP/2 has no such header
			h.Set("Connection", "Upgrade")
			h.Set("Upgrade", "packwright-api/"+strconv.Itoa(minClientAPI))
		}
		return s.answer(c, http.StatusUpgradeRequired, problemAnswer{NowMS: s.nowMS(), Problem: problem.New(problem.Unsupported,
			"reload the app to update it; what it has not sent yet is kept",
			"this version is too old for the server: it speaks version %d of the API, and %d is needed", spoken, minClientAPI)})
	}
}

// trusted answers nothing, to pages of any origin: that the browser got the answer
// over HTTPS is what the welcome page wants to know. It may not read it.
func (s *server) trusted(c echo.Context) error {
	c.Response().Header().Set("Cross-Origin-Resource-Policy", "cross-origin")
	return c.NoContent(http.StatusNoContent)
}

type versionAnswer struct {
	Version      string `json:"version"`
	API          int    `json:"api"`
	MinClient    int    `json:"min_client"`
	EntryVersion int    `json:"entry_version"` // newest entry schema understood here
	NowMS        int64  `json:"now_ms"`
}

func (s *server) version(c echo.Context) error {
	return s.answer(c, http.StatusOK, versionAnswer{
		Version: buildVersion(), API: apiVersion, MinClient: minClientAPI, EntryVersion: journal.Version, NowMS: s.nowMS()})
}
