package main

import (
	"context"
	"encoding/json"
	"iter"
	"log/slog"
	"net"
	"net/http"
	"strings"
	"time"

	"github.com/labstack/echo/v4"
	"github.com/labstack/echo/v4/middleware"

	"packwright/internal/access"
	"packwright/internal/exchange"
	"packwright/internal/store"
	"packwright/webapp"
)

// entryStore is what the handlers need of the store. Beside *store.Store, the
// sync simulator has broken ones, to see that its checker notices.
type entryStore interface {
	Append(ctx context.Context, raws []json.RawMessage, broughtBy string) ([]store.Result, error)
	Head() (epoch string, seq uint64)
	Page(after uint64, limit, maxBytes int) (store.Page, error)
	Get(id string) (store.Item, error)
	Wanted(ids []string) ([]string, error)
	Subscribe() (heads <-chan uint64, cancel func())
	All() iter.Seq2[store.Item, error]
}

// server answers HTTP for one open store.
type server struct {
	store    entryStore
	register *access.Register // the devices that may come in
	app      *app             // the web app's files
	now      func() time.Time
	log      *slog.Logger
	pulse    time.Duration // of live streams
	closing  chan struct{} // closed when the server is about to stop: ends live streams
	printer  chan struct{} // holds one token: PDFs are made one at a time, each takes memory
	joins    *limits       // tries to join, by address
	calls    *limits       // requests, by device, or by address for those who have not joined
	refused  refusals
	around   neighbours // networks whose phones have allowances of their own

	upstream *exchange.Exchange // with another server; nil: there is none

	// How others reach this server. Whoever opens more doors than doorHere sets them
	// before the first request.
	origin     string                 // where devices join, such as https://pit.local:8443; empty: nobody can
	hosts      func(name string) bool // names and addresses it answers to at doorField and doorProxy; nil: none
	publicCert bool                   // its certificate is from a public authority
	welcome    string                 // address of the page that explains the certificate; empty: there is none
	numbers    func() []numbered      // the same two addresses for devices that do not find the name; nil: none

	pages map[door]map[string]http.Handler // what a door serves beside the app's files, by path
}

// newServer is a server that answers at doorHere only, until more is set.
func newServer(kept entryStore, register *access.Register, log *slog.Logger, now func() time.Time) (*server, error) {
	app, err := newApp(webapp.Dist())
	if err != nil {
		return nil, err
	}
	return &server{store: kept, register: register, app: app, now: now, log: log, pulse: usualPulse,
		closing: make(chan struct{}), printer: make(chan struct{}, 1),
		joins: newLimits(joinRate), calls: newLimits(callRate),
		refused: refusals{lines: newLimits(refusalRate)}, around: neighbours{own: net.InterfaceAddrs}}, nil
}

// route is one row of the API.
type route struct {
	method, path string
	role         access.Role // least role that may call it
	handle       func(*server, echo.Context) error
	traits       trait
}

// anyone is the role of routes that need none.
const anyone access.Role = ""

// trait is what is special about a route.
type trait int

const (
	packed    trait = 1 << iota // the answer is compressed where it is long
	syncing                     // programs that are too old are told so
	joining                     // guesses are slowed down
	elsewhere                   // pages of other origins may call it
)

// routes is the whole API. A path outside /api belongs to the web app. Every
// route that changes something is a POST with a JSON body.
func routes() []route {
	return []route{
		{"POST", "/api/v1/entries", access.Crew, (*server).pushEntries, syncing},         // push: a phone's new entries
		{"GET", "/api/v1/entries", access.Crew, (*server).pullEntries, packed | syncing}, // pull: a page after a cursor
		{"POST", "/api/v1/offer", access.Crew, (*server).offer, syncing},                 // after a reset: which of these are wanted
		{"GET", "/api/v1/live", access.Crew, (*server).live, 0},                          // server-sent events: the head after each commit
		{"GET", "/api/v1/health", anyone, (*server).health, 0},                           // a phone's probe
		{"GET", "/api/v1/version", access.Crew, (*server).version, 0},                    // what runs here
		{"GET", "/api/v1/upstream", access.Crew, (*server).upstreamStatus, 0},            // how the exchange with another server stands
		{"GET", "/api/v1/openapi.json", access.Crew, (*server).openAPI, packed},          // this API, described
		{"GET", "/api/v1/journal.jsonl", access.Crew, (*server).journalFile, packed},     // every entry
		{"GET", "/api/v1/labels.pdf", access.Crew, (*server).labelsPDF, 0},               // label sheets
		{"GET", "/api/v1/checklist.pdf", access.Crew, (*server).checklistPDF, 0},         // an event day's charge checklist
		{"GET", "/api/v1/testsheet.pdf", access.Crew, (*server).testsheetPDF, 0},         // a blank test sheet
		{"GET", "/api/v1/packreport.pdf", access.Crew, (*server).packreportPDF, 0},       // a page on each pack
		{"GET", "/api/v1/fleetreport.pdf", access.Crew, (*server).fleetreportPDF, 0},     // a page on all packs

		{"GET", "/api/v1/trusted", anyone, (*server).trusted, elsewhere},           // the welcome page's check of the certificate
		{"POST", "/api/v1/join", anyone, (*server).join, joining},                  // a code for a token
		{"GET", "/api/v1/me", access.Crew, (*server).me, 0},                        // the device that asks
		{"POST", "/api/v1/leave", access.Crew, (*server).leave, 0},                 // gives the token back
		{"POST", "/api/v1/invitations", access.Lead, (*server).invite, 0},          // a code for one more device
		{"GET", "/api/v1/devices", access.Lead, (*server).devices, 0},              // who joined
		{"POST", "/api/v1/devices/change", access.Lead, (*server).changeDevice, 0}, // name, role, or off the list
	}
}

// handler is the whole HTTP side as one door shows it.
func (s *server) handler(d door) http.Handler {
	e := echo.New()
	e.HTTPErrorHandler = s.handleError
	e.IPExtractor = echo.ExtractIPDirect() // forwarded addresses are not believed; the proxy's door has its own rules
	e.Use(s.logRequest, s.recoverPanic, s.secureHeaders(d), s.knownHost(d), s.webApp(d), s.apiHeaders, s.encrypted(d))
	pack := middleware.GzipWithConfig(middleware.GzipConfig{MinLength: 1024})
	for _, r := range routes() {
		var chain []echo.MiddlewareFunc
		if r.traits&elsewhere == 0 {
			chain = append(chain, s.sameOrigin(d))
		}
		if r.method != http.MethodGet {
			chain = append(chain, jsonBody)
		}
		if r.traits&joining != 0 {
			chain = append(chain, s.slowJoins)
		}
		chain = append(chain, s.admit(d, r.role))
		if r.traits&syncing != 0 {
			chain = append(chain, s.newEnough)
		}
		if r.traits&packed != 0 {
			chain = append(chain, pack)
		}
		e.Add(r.method, r.path, func(c echo.Context) error { return r.handle(s, c) }, chain...)
	}
	return e
}

// ofAPI reports whether a path is the API's, in any case.
func ofAPI(path string) bool {
	first, _, _ := strings.Cut(strings.TrimPrefix(path, "/"), "/")
	return strings.EqualFold(first, "api")
}

// webApp hands everything outside /api to the door's own pages, or else to the web app.
func (s *server) webApp(d door) echo.MiddlewareFunc {
	return func(next echo.HandlerFunc) echo.HandlerFunc {
		return func(c echo.Context) error {
			r := c.Request()
			if ofAPI(r.URL.Path) {
				return next(c)
			}
			var files http.Handler = s.app
			if page := s.pages[d][r.URL.Path]; page != nil {
				files = page
			}
			files.ServeHTTP(c.Response(), r)
			return nil
		}
	}
}
