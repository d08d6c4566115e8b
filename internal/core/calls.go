package core

import (
	"encoding/json"

	"packwright/internal/fleet"
	"packwright/internal/journal"
	"packwright/internal/judge"
	"packwright/internal/loadtest"
	"packwright/internal/logged"
	"packwright/internal/measure"
	"packwright/internal/place"
	"packwright/internal/season"
	"packwright/internal/sheet"
	"packwright/internal/wiring"
)

// Assessment is a result with the decision on it: what a phone shows after a
// test and what the command line prints with --json.
type Assessment struct {
	loadtest.Result
	judge.Decision
}

// The requests and answers of Call, by the name of the call. TypeScript types
// are generated from these structs.
type (
	// "here": by whose clock days are told from now on; UTC until then.
	HereRequest struct {
		Shifts place.Clock `json:"shifts"` // by time; the first offset counts before its shift, too
	}

	// "setup-check": loadtest.Setup → loadtest.SetupCheck

	// "open-check": may a pack that shows this voltage be put on a load?
	OpenCheckRequest struct {
		Pack  string  `json:"pack"`   // code; empty or unknown: the usual number of cells
		OpenV float64 `json:"open_v"` // volt
	}
	// OpenCheckAnswer is empty: what speaks against it is the error.
	OpenCheckAnswer struct{}

	// "assess": what a test says, before it is saved.
	AssessRequest struct {
		Kind journal.Kind    `json:"kind"` // load-test or direct-reading
		Pack string          `json:"pack"` // code; empty: only the numbers, no findings
		Body json.RawMessage `json:"body"` // loadtest.Test or loadtest.Direct
	}

	// "read-number": what a person typed into a number field.
	NumberRequest struct {
		Text     string           `json:"text"`
		Quantity measure.Quantity `json:"quantity"`
	}
	NumberAnswer struct {
		Value float64 `json:"value"` // in the quantity's base unit
		Shown string  `json:"shown"` // "12.84 V"
		Doubt string  `json:"doubt"` // "that is 12840 V: did you mean 12.84?", or empty
	}

	// "new-code": a fresh pack code from random bytes of the caller.
	NewCodeRequest struct {
		Random []int `json:"random"` // 32 bytes or more, 0–255
	}
	// "read-code": a typed code or any text scanned from a label.
	ReadCodeRequest struct {
		Text string `json:"text"`
	}
	CodeAnswer struct {
		Code  string `json:"code"`
		Known bool   `json:"known"` // there is such a pack
	}

	// "make-entry": a new, valid entry that follows all that was added so far.
	MakeEntryRequest struct {
		Kind   journal.Kind    `json:"kind"`
		Pack   string          `json:"pack"`
		By     string          `json:"by"`
		Device string          `json:"device"`
		NowMS  int64           `json:"now_ms"` // the device's raw clock
		Random []int           `json:"random"` // 10 bytes, 0–255
		Body   json.RawMessage `json:"body"`
	}
	MakeEntryAnswer struct {
		Entry journal.Entry `json:"entry"`
	}

	// "add-entries": entries from the phone's store or from the server.
	AddEntriesRequest struct {
		Entries []json.RawMessage `json:"entries" ts:"Entry[]"`
		Check   bool              `json:"check,omitempty"` // only say which ones a store would refuse, and add none
	}
	AddEntriesAnswer struct {
		Added   int            `json:"added"`
		Known   int            `json:"known"`   // already there
		Unknown int            `json:"unknown"` // of a kind or version this program cannot interpret
		Refused []RefusedEntry `json:"refused"` // not entries at all; the others are taken in
		Total   int            `json:"total"`   // entries held now
	}
	RefusedEntry struct {
		Index  int    `json:"index"` // in the request's list, from 0
		Reason string `json:"reason"`
		Hint   string `json:"hint"`
	}

	// "overview": NowRequest → fleet.Overview
	NowRequest struct {
		NowMS int64 `json:"now_ms"`
	}
	// "pack": PackRequest → fleet.Pack
	PackRequest struct {
		Code  string `json:"code"`
		NowMS int64  `json:"now_ms"`
	}
	// "test": TestRequest → fleet.Test with its working
	TestRequest struct {
		Entry string `json:"entry"`
		NowMS int64  `json:"now_ms,omitempty"` // to tell wrong clocks; 0 where unknown
	}
	PackAnswer = fleet.Pack

	// "health": PackRequest → season.Health

	// "board": the fleet over the season.
	BoardRequest struct {
		NowMS  int64  `json:"now_ms"`
		Day    string `json:"day,omitempty"`    // the day asked about, 2026-11-25; empty: the event's, or in 60 days
		Wanted int    `json:"wanted,omitempty"` // packs fit for competition then; 0: the team's setting
	}

	// "wiggle-check": what a wiggle test says, before it is saved.
	WiggleCheckRequest struct {
		Pack string         `json:"pack"` // code
		Body journal.Wiggle `json:"body"`
	}
	// "run-check": what a log kept by hand says so far.
	RunCheckRequest struct {
		Pack string      `json:"pack"` // code; what the body's options leave out is taken from it
		Body journal.Run `json:"body"`
	}

	// "run-look": how a logger's file is written. It and the next three are
	// about one file, in a session of its own.
	RunLookRequest struct {
		Head   string         `json:"head"`             // the first 64 kB
		Whole  bool           `json:"whole"`            // that is all of it
		Cells  int            `json:"cells"`            // in series, to tell volts from millivolts
		Format *logged.Format `json:"format,omitempty"` // as a person corrected it
	}
	// "run-open": begins to read a file.
	RunOpenRequest struct {
		Format  logged.Format  `json:"format"`
		Options logged.Options `json:"options"`
	}
	// "run-write": the next piece of the file, of any size.
	RunWriteRequest struct {
		Text string `json:"text"`
	}
	RunWriteAnswer struct {
		Rows int `json:"rows"` // read so far
	}
	// "run-finish": Empty → logged.Result, fit for a run entry: without working
	// and with a curve of journal.CurvePoints at most.
	Empty struct{}

	// "lead": what a lead costs, and what of a pack's resistance it is.
	LeadRequest struct {
		Lead wiring.Lead `json:"lead"`
		Pack string      `json:"pack"` // code; empty: the lead alone
	}
	LeadAnswer struct {
		Budget     wiring.Budget      `json:"budget"`
		Comparison *wiring.Comparison `json:"comparison"` // null without a pack that has a result
	}
	// "read-size": SizeRequest → wiring.Size
	SizeRequest struct {
		Text string `json:"text"` // "16 AWG", "1,5 mm2"
	}

	// "calendar": NowRequest → what is due, as a calendar file (RFC 5545).
	TextAnswer struct {
		Text string `json:"text"`
	}
	// "table": a table to save as a file, RFC 4180.
	TableRequest struct {
		What  season.Table `json:"what"`
		NowMS int64        `json:"now_ms"`
	}
	TableAnswer struct {
		Name string `json:"name"` // of the file
		Text string `json:"text"`
	}
	// "import-look": a table of old tests as it would be read.
	ImportLookRequest struct {
		Text  string      `json:"text"`
		File  string      `json:"file"` // its name
		Plan  *sheet.Plan `json:"plan"` // as a person corrected it; null: find out
		NowMS int64       `json:"now_ms"`
	}
)
