package exchange

import (
	"encoding/json"
	"errors"
	"io/fs"
	"log/slog"
	"os"
	"path/filepath"
	"slices"
	"time"

	"packwright/internal/safefile"
)

// progressName is the file in the folder of keys that says how far an exchange
// came. Without it, or with an older one, it begins anew; that costs a repeat.
const progressName = "upstream-progress.json"

// mostHeldBack entries are listed; of the others there is only the number.
const mostHeldBack = 200

// position is a place in a journal, with the entry that stands there.
type position struct {
	Seq uint64 `json:"seq"`
	ID  string `json:"id,omitempty"`
}

// progress is how far an exchange came.
type progress struct {
	Upstream string `json:"upstream"` // its URL: the progress with another one is of no use
	Peers    string `json:"peers"`    // the programs on both sides, and our role there
	LastMS   int64  `json:"last_ms"`  // unix ms, when both last held the same

	Here    string   `json:"here"`     // epoch of the journal here
	Sent    position `json:"sent"`     // up to here, all is known to the upstream or held back
	OfferTo uint64   `json:"offer_to"` // up to here, the upstream is asked first what it lacks

	Epoch   string   `json:"epoch"`   // of the upstream's journal
	Fetched position `json:"fetched"` // up to there, all is known here or held back
	Kept    position `json:"kept"`    // the last of it in the journal here

	HeldBack      []HeldBack `json:"held_back,omitempty"`
	HeldBackTotal int        `json:"held_back_total,omitempty"`
}

// readProgress reads the file; a zero progress where it is not there or no good.
func readProgress(dir string, log *slog.Logger) progress {
	var p progress
	text, err := os.ReadFile(filepath.Join(dir, progressName))
	if err == nil {
		err = json.Unmarshal(text, &p)
	}
	if err != nil {
		if !errors.Is(err, fs.ErrNotExist) {
			log.Warn("the exchange begins anew", "err", err)
		}
		return progress{}
	}
	return p
}

// How often the progress is written within a long round, and while there is
// nothing new but the time. What a crash takes of it costs a repeat, and no disk
// is worn out by it.
const (
	saveEvery = 2 * time.Second
	saveIdle  = 10 * time.Minute
)

// change changes the progress; it is written at the end of the round at the latest.
func (x *Exchange) change(f func(p *progress)) {
	x.mu.Lock()
	defer x.mu.Unlock()
	f(&x.progress)
	x.unsaved = true
}

// saveAfter writes the progress where that was so long ago, or the clock was set back.
func (x *Exchange) saveAfter(least time.Duration) {
	if ago := x.o.Now().Sub(x.saved); ago < 0 || ago >= least {
		x.save()
	}
}

// save writes the progress. Where that fails the exchange goes on: after a restart
// it repeats some of it.
func (x *Exchange) save() {
	text, err := json.MarshalIndent(x.progress, "", "\t")
	if err == nil {
		err = safefile.Write(filepath.Join(x.dir, progressName), append(text, '\n'))
	}
	if err != nil {
		x.o.Log.Warn("the progress of the exchange was not saved", "err", err)
		return
	}
	x.unsaved, x.saved = false, x.o.Now()
}

// holdBack notes an entry that one side will not take.
func (x *Exchange) holdBack(h HeldBack) {
	h.SeenMS = x.o.Now().UnixMilli()
	x.o.Log.Warn("an entry is held back", "id", h.ID, "way", h.Way, "status", h.Status, "reason", h.Reason)
	x.change(func(p *progress) {
		if slices.ContainsFunc(p.HeldBack, func(known HeldBack) bool { return known.ID == h.ID && known.Way == h.Way }) {
			return
		}
		p.HeldBackTotal++
		if len(p.HeldBack) < mostHeldBack {
			p.HeldBack = append(slices.Clone(p.HeldBack), h)
		}
	})
}
