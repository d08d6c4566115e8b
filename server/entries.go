package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"strconv"
	"strings"

	"github.com/labstack/echo/v4"

	"packwright/internal/problem"
	"packwright/internal/store"
)

// Limits of one request. They are told in /api/v1/openapi.json.
const (
	maxBodyBytes   = 1 << 20   // of a push or an offer
	maxAskBytes    = 4 << 10   // of every other request; strangers may send one, too
	maxPushEntries = 500       // in a push
	maxOfferIDs    = 5000      // in an offer
	maxPageEntries = 1000      // in a page
	defaultPage    = 500       // entries in a page, where the phone names no limit
	maxPageBytes   = 512 << 10 // of entries in a page; no single entry is as large
)

// The bodies of push, pull and offer. Fields that a newer phone adds are left
// alone, so that it can still leave its entries here.
type (
	pushRequest struct {
		Entries []json.RawMessage `json:"entries"`
	}
	// pushResult is what became of one entry. Only accepted and duplicate mean
	// that the entry is safe on disk here.
	pushResult struct {
		Index  int          `json:"index"` // in the request
		ID     string       `json:"id"`    // empty where the element has none
		Status store.Status `json:"status"`
		Seq    uint64       `json:"seq,omitempty"` // of accepted and duplicate
		Reason string       `json:"reason,omitempty"`
		Hint   string       `json:"hint,omitempty"`
	}
	pushAnswer struct {
		Epoch   string       `json:"epoch"`
		NowMS   int64        `json:"now_ms"`
		Results []pushResult `json:"results"`
	}

	pulledEntry struct {
		Seq   uint64          `json:"seq"`
		Entry json.RawMessage `json:"entry"`
	}
	pullAnswer struct {
		Epoch   string        `json:"epoch"`
		Head    uint64        `json:"head"`
		Entries []pulledEntry `json:"entries"`
		Next    uint64        `json:"next"` // the cursor for the next pull
		More    bool          `json:"more"`
		NowMS   int64         `json:"now_ms"`
	}
	// resetAnswer tells a phone that its cursor belongs to another history:
	// offer everything, then pull from 0.
	resetAnswer struct {
		Reset bool   `json:"reset"`
		Epoch string `json:"epoch"`
		Head  uint64 `json:"head"`
		NowMS int64  `json:"now_ms"`
	}

	offerRequest struct {
		IDs []string `json:"ids"`
	}
	offerAnswer struct {
		Epoch  string   `json:"epoch"`
		Wanted []string `json:"wanted"`
		NowMS  int64    `json:"now_ms"`
	}
)

// pushEntries takes a batch. It answers 200 with one result for each element:
// a bad one is refused by itself and the others are stored.
func (s *server) pushEntries(c echo.Context) error {
	var request pushRequest
	if err := readBody(c, &request, maxBodyBytes); err != nil {
		return err
	}
	switch n := len(request.Entries); {
	case request.Entries == nil:
		return problem.Invalidf("entries", `send {"entries": […]}`, "the body has no list of entries")
	case n > maxPushEntries:
		return problem.New(problem.TooLarge, "send them in smaller batches", "%d entries are more than %d in one request", n, maxPushEntries)
	}
	device, _ := deviceOf(c)
	stored, err := s.appendFrom(c.Request().Context(), device, request.Entries)
	if err != nil {
		return err
	}
	epoch, _ := s.store.Head()
	return s.answer(c, http.StatusOK, pushAnswer{Epoch: epoch, NowMS: s.nowMS(), Results: resultsOf(stored)})
}

// resultsOf puts what the store said into the answer's words.
func resultsOf(stored []store.Result) []pushResult {
	results := make([]pushResult, len(stored))
	for i, r := range stored {
		results[i] = pushResult{Index: i, ID: r.ID, Status: r.Status, Seq: r.Seq, Reason: r.Reason, Hint: r.Hint}
	}
	return results
}

// pullEntries gives the entries after a cursor, oldest first, or 409 where the
// cursor is not one of this history.
func (s *server) pullEntries(c echo.Context) error {
	after, err := queryUint(c, "after", 0, 0, 1<<63)
	if err != nil {
		return err
	}
	limit, err := queryUint(c, "limit", defaultPage, 1, maxPageEntries)
	if err != nil {
		return err
	}
	asked := c.QueryParam("epoch")
	if asked == "" && after != 0 {
		return problem.Invalidf("epoch", "name the epoch the cursor came with, or start from after=0", "after=%d without an epoch", after)
	}
	epoch, head := s.store.Head()
	if asked != "" && asked != epoch || after > head {
		return s.answer(c, http.StatusConflict, resetAnswer{Reset: true, Epoch: epoch, Head: head, NowMS: s.nowMS()})
	}
	page, err := s.store.Page(after, int(limit), maxPageBytes)
	if err != nil {
		return err
	}
	entries := make([]pulledEntry, len(page.Items))
	for i, item := range page.Items {
		entries[i] = pulledEntry{Seq: item.Seq, Entry: item.Entry}
	}
	_, head = s.store.Head() // read after the page: never behind it
	return s.answer(c, http.StatusOK, pullAnswer{
		Epoch: epoch, Head: head, Entries: entries, Next: page.Next, More: page.More, NowMS: s.nowMS()})
}

// offer says which of a phone's entries are missing here.
func (s *server) offer(c echo.Context) error {
	var request offerRequest
	if err := readBody(c, &request, maxBodyBytes); err != nil {
		return err
	}
	switch n := len(request.IDs); {
	case request.IDs == nil:
		return problem.Invalidf("ids", `send {"ids": […]}`, "the body has no list of ids")
	case n > maxOfferIDs:
		return problem.New(problem.TooLarge, "offer them in smaller parts", "%d ids are more than %d in one request", n, maxOfferIDs)
	}
	wanted, err := s.store.Wanted(request.IDs)
	if err != nil {
		return err
	}
	epoch, _ := s.store.Head()
	return s.answer(c, http.StatusOK, offerAnswer{Epoch: epoch, Wanted: append([]string{}, wanted...), NowMS: s.nowMS()})
}

// readBody reads the whole body before it looks at it, so that an upload cut
// short is refused whole. Whether the device may do this is asked again then.
func readBody(c echo.Context, into any, most int64) error {
	body, err := io.ReadAll(http.MaxBytesReader(c.Response(), c.Request().Body, most))
	var tooLarge *http.MaxBytesError
	switch {
	case errors.As(err, &tooLarge):
		return problem.New(problem.TooLarge, "send less at once", "the body is over %d bytes", most)
	case err != nil:
		return problem.New(problem.Invalid, "send it again", "the body was cut short after %d bytes", len(body))
	}
	if admitted, ok := c.Get(admittedKey).(func() error); ok {
		if err := admitted(); err != nil {
			return err
		}
	}
	if err := json.Unmarshal(body, into); err != nil {
		return problem.New(problem.Invalid, "nothing was stored", "the body is not the JSON expected here: %s", misread(err))
	}
	return nil
}

// misread says what is wrong with JSON, without the program's own names, which the
// library's words hold.
func misread(err error) string {
	if wrong, ok := errors.AsType[*json.UnmarshalTypeError](err); ok {
		return strings.TrimSpace(wrong.Field + " is of the wrong type")
	}
	if broken, ok := errors.AsType[*json.SyntaxError](err); ok {
		return fmt.Sprintf("it breaks off or goes wrong after %d bytes", broken.Offset)
	}
	return "a value in it cannot be used"
}

// queryUint reads a whole number from the query, within bounds.
func queryUint(c echo.Context, name string, absent, least, most uint64) (uint64, error) {
	text := c.QueryParam(name)
	if text == "" {
		return absent, nil
	}
	n, err := strconv.ParseUint(text, 10, 64)
	if err != nil || n < least || n > most {
		return 0, problem.Invalidf(name, fmt.Sprintf("a whole number from %d to %d", least, most), "%s=%q cannot be used", name, text)
	}
	return n, nil
}
