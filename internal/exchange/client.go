package exchange

import (
	"bytes"
	"context"
	"crypto/x509"
	"encoding/json"
	"errors"
	"io"
	"net"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"packwright/internal/problem"
	"packwright/internal/store"
)

// maxAnswerBytes bounds an answer, unpacked: a page of 512 KiB of entries, or a
// thousand results, is well below.
const maxAnswerBytes = 4 << 20

// setback is why a request came to nothing. Whatever it is, it may be tried again.
type setback struct {
	shown    *problem.Error
	answered bool          // a packwright server said so; otherwise it is unknown whether one is there
	whole    bool          // it read the request and will never take it as it is
	wait     time.Duration // at least, before the next try
	cause    error         // what a program may look into; nil: nothing
}

func (s setback) Error() string   { return s.shown.Error() }
func (s setback) Unwrap() []error { return []error{s.shown, s.cause} }

// What the protocol's answers hold, as far as it is used here.
type (
	pushAnswer struct {
		Epoch   string       `json:"epoch"`
		Results []pushResult `json:"results"`
	}
	pushResult struct {
		ID     string       `json:"id"`
		Status store.Status `json:"status"`
		Seq    uint64       `json:"seq"`
		Reason string       `json:"reason"`
		Hint   string       `json:"hint"`
	}
	pullAnswer struct {
		Reset   bool          `json:"reset"` // the cursor is of another history; no entries then
		Epoch   string        `json:"epoch"`
		Head    uint64        `json:"head"`
		Entries []pulledEntry `json:"entries"`
		Next    uint64        `json:"next"`
		More    bool          `json:"more"`
	}
	pulledEntry struct {
		Seq   uint64          `json:"seq"`
		Entry json.RawMessage `json:"entry"`
	}
	offerAnswer struct {
		Epoch  string   `json:"epoch"`
		Wanted []string `json:"wanted"`
	}
	healthAnswer struct {
		OK        bool   `json:"ok"`
		NowMS     int64  `json:"now_ms"`
		API       int    `json:"api"`
		MinClient int    `json:"min_client"`
		Role      string `json:"role"`
		Epoch     string `json:"epoch"`
	}
	versionAnswer struct {
		Version string `json:"version"`
	}
)

// client speaks with the upstream and takes for an answer only what has the
// protocol's shape.
type client struct {
	link Link
	http *http.Client
	pace Pace
	now  func() time.Time
}

// noRedirect: the protocol has none; a redirect is a portal's, and would carry the
// token elsewhere.
func noRedirect(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }

// greeting is who the upstream is.
type greeting struct {
	version, role, epoch string
	clockOffMS           int64
}

// greet asks who is there and refuses one that speaks another version.
func (c *client) greet(ctx context.Context) (greeting, error) {
	var health healthAnswer
	asked := c.now()
	if err := c.ask(ctx, http.MethodGet, "/api/v1/health", nil, nil, &health); err != nil {
		return greeting{}, err
	}
	if !health.OK {
		return greeting{}, stranger()
	}
	if health.MinClient > API {
		return greeting{}, outdated("", "update packwright on this machine")
	}
	if health.API < leastAPI {
		return greeting{}, setback{answered: true, wait: time.Hour, shown: problem.New(problem.Unsupported,
			"update packwright on the other machine", "the other server speaks version %d of the protocol, and this server needs %d", health.API, leastAPI)}
	}
	var version versionAnswer
	if err := c.ask(ctx, http.MethodGet, "/api/v1/version", nil, nil, &version); err != nil {
		return greeting{}, err
	}
	if version.Version == "" {
		return greeting{}, stranger()
	}
	middle := asked.Add(c.now().Sub(asked) / 2)
	return greeting{version.Version, health.Role, health.Epoch, health.NowMS - middle.UnixMilli()}, nil
}

// push sends entries and gives exactly one verdict for each.
func (c *client) push(ctx context.Context, raws []json.RawMessage, unsent uint64) (pushAnswer, error) {
	body, err := json.Marshal(map[string]any{"entries": raws})
	if err != nil {
		return pushAnswer{}, err
	}
	var answer pushAnswer
	header := http.Header{"Packwright-Unsent": {strconv.FormatUint(unsent, 10)}}
	if err := c.ask(ctx, http.MethodPost, "/api/v1/entries", body, header, &answer); err != nil {
		return pushAnswer{}, err
	}
	if answer.Epoch == "" || len(answer.Results) != len(raws) {
		return pushAnswer{}, stranger()
	}
	verdicts := map[string]bool{}
	for _, r := range answer.Results {
		if r.Status == "" || r.Seq == 0 && (r.Status == store.Accepted || r.Status == store.Duplicate) {
			return pushAnswer{}, stranger()
		}
		verdicts[r.ID] = true
	}
	for _, raw := range raws {
		if !verdicts[idOf(raw)] {
			return pushAnswer{}, stranger()
		}
	}
	return answer, nil
}

// offer names entries and gives the ids that the upstream lacks.
func (c *client) offer(ctx context.Context, ids []string) (offerAnswer, error) {
	body, err := json.Marshal(map[string]any{"ids": ids})
	if err != nil {
		return offerAnswer{}, err
	}
	var answer offerAnswer
	if err := c.ask(ctx, http.MethodPost, "/api/v1/offer", body, nil, &answer); err != nil {
		return offerAnswer{}, err
	}
	if answer.Epoch == "" || answer.Wanted == nil {
		return offerAnswer{}, stranger()
	}
	return answer, nil
}

// page reads the entries after a cursor, or that the cursor is of another history.
func (c *client) page(ctx context.Context, epoch string, after uint64, limit int) (pullAnswer, error) {
	query := url.Values{"after": {strconv.FormatUint(after, 10)}, "limit": {strconv.Itoa(limit)}}
	if epoch != "" {
		query.Set("epoch", epoch)
	}
	var page pullAnswer
	if err := c.ask(ctx, http.MethodGet, "/api/v1/entries?"+query.Encode(), nil, nil, &page); err != nil {
		return pullAnswer{}, err
	}
	if page.Reset {
		if page.Epoch == "" {
			return pullAnswer{}, stranger()
		}
		return page, nil
	}
	last := after
	for _, item := range page.Entries {
		if last++; item.Seq != last || idOf(item.Entry) == "" {
			return pullAnswer{}, stranger()
		}
	}
	if page.Epoch == "" || epoch != "" && page.Epoch != epoch || page.Entries == nil || page.Next != last || page.More && last == after {
		return pullAnswer{}, stranger()
	}
	return page, nil
}

// ask sends a request and reads the answer into a value, where it is a good one,
// or a reset.
func (c *client) ask(ctx context.Context, method, path string, body []byte, header http.Header, into any) error {
	ctx, cancel := context.WithTimeout(ctx, c.pace.Answer)
	defer cancel()
	req, err := c.request(ctx, method, path, body, header)
	if err != nil {
		return err
	}
	resp, err := c.http.Do(req)
	if err != nil {
		return unreachable(req, err)
	}
	defer resp.Body.Close()
	content, err := io.ReadAll(io.LimitReader(resp.Body, maxAnswerBytes+1))
	if err != nil {
		return unreachable(req, err)
	}
	if reset := resp.StatusCode == http.StatusConflict && isReset(content); resp.StatusCode != http.StatusOK && !reset {
		return refusal(resp, content)
	}
	if len(content) > maxAnswerBytes || json.Unmarshal(content, into) != nil {
		return stranger()
	}
	return nil
}

func (c *client) request(ctx context.Context, method, path string, body []byte, header http.Header) (*http.Request, error) {
	req, err := http.NewRequestWithContext(ctx, method, c.link.URL+path, bytes.NewReader(body))
	if err != nil {
		return nil, err
	}
	for name, values := range header {
		req.Header[name] = values
	}
	if body != nil {
		req.Header.Set("Content-Type", "application/json")
	}
	if c.link.Token != "" {
		req.Header.Set("Authorization", "Bearer "+c.link.Token)
	}
	req.Header.Set("Packwright-API", strconv.Itoa(API))
	return req, nil
}

func isReset(content []byte) bool {
	var a pullAnswer
	return json.Unmarshal(content, &a) == nil && a.Reset
}

// stranger is the setback that something else answered: a portal, most often.
func stranger() error {
	return setback{shown: problem.New(problem.Unsupported,
		"the network may want this machine to sign in: open any web page to see; or the address is not that of a packwright server",
		"something else answered in place of the other server")}
}

func outdated(text, hint string) error {
	if text == "" {
		text = "this program is too old for the other server"
	}
	return setback{answered: true, wait: time.Hour, shown: problem.New(problem.Unsupported, hint, "%s", text)}
}

// refusal sorts an answer that is not good. Only with a server's own words is it
// the upstream's.
func refusal(resp *http.Response, content []byte) error {
	var said struct {
		Problem *problem.Error `json:"problem"`
	}
	if json.Unmarshal(content, &said) != nil || said.Problem == nil || said.Problem.Text == "" {
		if resp.StatusCode >= http.StatusInternalServerError {
			return setback{shown: problem.New(problem.InUse, "", "the other server is not ready (status %d)", resp.StatusCode)}
		}
		return stranger()
	}
	s := setback{shown: said.Problem, answered: true, wait: retryAfter(resp)}
	switch resp.StatusCode {
	case http.StatusBadRequest, http.StatusRequestEntityTooLarge, http.StatusUnprocessableEntity:
		s.whole = true
	case http.StatusUnauthorized:
		s.wait = max(s.wait, time.Minute)
		s.shown = problem.New(problem.NotJoined, "ask there for a new code (packwright invite --lead), then on this machine: packwright join URL --code CODE --fingerprint, as before",
			"the other server no longer knows this server: %s", said.Problem.Text)
	case http.StatusUpgradeRequired:
		return outdated(said.Problem.Text, "update packwright on this machine")
	}
	return s
}

// retryAfter is what the upstream asked for, in seconds; a date would be by its
// clock, which may be wrong.
func retryAfter(resp *http.Response) time.Duration {
	seconds, err := strconv.Atoi(resp.Header.Get("Retry-After"))
	if err != nil || seconds < 0 {
		return 0
	}
	return min(time.Duration(seconds)*time.Second, time.Hour)
}

// unreachable puts into words why there was no whole answer.
func unreachable(req *http.Request, err error) error {
	host := req.URL.Hostname()
	say := func(hint, format string, args ...any) error {
		return setback{shown: problem.New(problem.NotFound, hint, format, args...), cause: err}
	}
	var (
		authority x509.UnknownAuthorityError
		name      x509.HostnameError
		invalid   x509.CertificateInvalidError
		dns       *net.DNSError
		timeout   net.Error
	)
	switch {
	case errors.As(err, &authority):
		return say("if it was set up anew, join it again with the fingerprint that it shows now", "%s does not have the certificate of the server that was joined", host)
	case errors.As(err, &name):
		return say("use one of the names that packwright serve shows there", "the certificate of the other server is not for the name %s", host)
	case errors.As(err, &invalid) && invalid.Reason == x509.Expired:
		return say("compare the clocks of both machines", "the certificate of %s is out of date", host)
	case errors.As(err, &dns) && strings.HasSuffix(strings.ToLower(host), ".local"):
		return say("join it by its address instead, as in https://192.168.1.10:8443", "this machine cannot look up the name %s", host)
	case errors.As(err, &dns):
		return say("check the name, and whether this machine is online", "this machine cannot look up the name %s", host)
	case errors.As(err, &timeout) && timeout.Timeout(), errors.Is(err, context.DeadlineExceeded):
		return say("", "%s did not answer in time", host)
	case errors.Is(err, io.ErrUnexpectedEOF), errors.Is(err, io.EOF):
		return say("", "the connection to %s broke off", host)
	}
	text := err
	if outer, ok := errors.AsType[*url.Error](err); ok { // it repeats method and address
		text = outer.Err
	}
	return say("check that it runs and that both machines are on one network", "%s cannot be reached: %v", host, text)
}
