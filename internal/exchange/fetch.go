package exchange

import (
	"context"
	"encoding/json"
	"fmt"
	"time"

	"packwright/internal/problem"
	"packwright/internal/store"
)

// mostResets in one round; then the upstream is given time to settle.
const mostResets = 2

// fetch stores the upstream's next page here. The page is durable before the
// cursor moves.
func (x *Exchange) fetch(ctx context.Context) error {
	from, epoch := x.progress.Fetched, x.progress.Epoch
	page, err := x.peer.page(ctx, epoch, from.Seq, pageEntries)
	if err != nil {
		return err
	}
	x.observe(func(o *observed) { o.reached(); o.head = page.Head })
	if page.Reset {
		if x.resets++; x.resets > mostResets {
			return setback{shown: problem.New(problem.Conflict, "", "the other server keeps starting over"), answered: true, wait: time.Minute}
		}
		x.o.Log.Info("the upstream started over; all is offered again", "epoch", page.Epoch)
		x.startOver(page.Epoch)
		return nil
	}
	if err := x.keep(ctx, page); err != nil {
		return err
	}
	x.change(func(p *progress) {
		p.Epoch, p.Fetched.Seq = page.Epoch, page.Next
		if n := len(page.Entries); n > 0 {
			p.Fetched.ID = idOf(page.Entries[n-1].Entry)
		}
	})
	x.hungry = page.More
	return nil
}

// keep puts a page into the journal here and notes what it will not take.
func (x *Exchange) keep(ctx context.Context, page pullAnswer) error {
	if here, _ := x.journal.Head(); here == page.Epoch {
		x.observe(func(o *observed) { o.itself = true })
	}
	if len(page.Entries) == 0 {
		return nil
	}
	raws := make([]json.RawMessage, len(page.Entries))
	for i, item := range page.Entries {
		raws[i] = item.Entry
	}
	results, err := x.journal.Append(ctx, raws, BroughtBy)
	if err != nil {
		if shown, ok := problem.As(err); ok { // the disk here is full: what is here can still be sent
			return setback{shown: shown, answered: true}
		}
		return err
	}
	if len(results) != len(raws) {
		return fmt.Errorf("the store gave %d results for %d entries", len(results), len(raws))
	}
	fetched := uint64(0)
	for _, r := range results {
		if r.Seq > x.progress.Kept.Seq {
			x.change(func(p *progress) { p.Kept = position{r.Seq, r.ID} })
		}
		switch r.Status {
		case store.Accepted:
			fetched++
		case store.Conflict, store.Refused:
			x.holdBack(HeldBack{ID: r.ID, Way: Down, Status: string(r.Status), Reason: r.Reason, Hint: r.Hint})
		}
	}
	x.observe(func(o *observed) { o.fetched += fetched })
	return nil
}
