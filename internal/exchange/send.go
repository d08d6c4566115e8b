package exchange

import (
	"context"
	"encoding/json"
	"errors"
	"slices"

	"packwright/internal/store"
)

// send passes on the next entries of the journal here, in one batch.
func (x *Exchange) send(ctx context.Context) error {
	page, err := x.journal.Page(x.progress.Sent.Seq, batchEntries, batchBytes)
	if err != nil || len(page.Items) == 0 {
		return err
	}
	items := x.ofOneSort(page.Items)
	batch, err := x.lacking(ctx, items)
	if err != nil {
		return err
	}
	if err := x.push(ctx, batch); err != nil {
		return err
	}
	last := items[len(items)-1]
	x.change(func(p *progress) { p.Sent = position{last.Seq, idOf(last.Entry)} })
	return nil
}

// ofOneSort cuts items where those that are offered end.
func (x *Exchange) ofOneSort(items []store.Item) []store.Item {
	if end := slices.IndexFunc(items, func(item store.Item) bool { return item.Seq > x.progress.OfferTo }); end > 0 {
		return items[:end]
	}
	return items
}

// lacking gives those of items that the upstream may not have. What was here when
// the exchange began, or began anew, is offered first, whoever brought it: the
// upstream may have lost what it once sent. Of what came later, everything that
// did not come from the upstream is new to it, or a duplicate.
func (x *Exchange) lacking(ctx context.Context, items []store.Item) ([]store.Item, error) {
	if items[0].Seq > x.progress.OfferTo {
		return slices.DeleteFunc(slices.Clone(items), func(item store.Item) bool { return item.BroughtBy == BroughtBy }), nil
	}
	ids := make([]string, len(items))
	for i, item := range items {
		ids[i] = idOf(item.Entry)
	}
	answer, err := x.peer.offer(ctx, ids)
	if err != nil {
		return nil, err
	}
	x.heard(answer.Epoch)
	wanted := map[string]bool{}
	for _, id := range answer.Wanted {
		wanted[id] = true
	}
	return slices.DeleteFunc(slices.Clone(items), func(item store.Item) bool { return !wanted[idOf(item.Entry)] }), nil
}

// push sends a batch and notes the verdicts. A batch that is refused as a whole
// is split until the culprit is alone.
func (x *Exchange) push(ctx context.Context, batch []store.Item) error {
	if len(batch) == 0 {
		return nil
	}
	raws := make([]json.RawMessage, len(batch))
	for i, item := range batch {
		raws[i] = item.Entry
	}
	answer, err := x.peer.push(ctx, raws, x.unsent())
	if s, ok := errors.AsType[setback](err); ok && s.whole {
		if len(batch) == 1 {
			x.holdBack(HeldBack{ID: idOf(batch[0].Entry), Way: Up, Status: string(store.Refused), Reason: s.shown.Text, Hint: s.shown.Hint})
			return nil
		}
		middle := len(batch) / 2
		if err := x.push(ctx, batch[:middle]); err != nil {
			return err
		}
		return x.push(ctx, batch[middle:])
	}
	if err != nil {
		return err
	}
	x.heard(answer.Epoch)
	x.settle(answer)
	return nil
}

// settle notes the verdicts on a batch; the client has seen that there is one for each.
func (x *Exchange) settle(answer pushAnswer) {
	for _, r := range answer.Results {
		switch r.Status {
		case store.Accepted, store.Duplicate:
			x.skipEcho(answer.Epoch, position{r.Seq, r.ID})
		default: // also a word that only newer programs know
			x.holdBack(HeldBack{ID: r.ID, Way: Up, Status: string(r.Status), Reason: r.Reason, Hint: r.Hint})
		}
		x.observe(func(o *observed) {
			o.reached()
			if r.Status == store.Accepted {
				o.sent++
			}
		})
	}
}

// skipEcho moves the cursor over an entry that the upstream has put right behind
// it: it came from here and need not be fetched. Another one behind the cursor
// means that there is something between.
func (x *Exchange) skipEcho(epoch string, at position) {
	switch next := x.progress.Fetched.Seq + 1; {
	case epoch == x.progress.Epoch && at.Seq == next:
		x.change(func(p *progress) { p.Fetched = at })
	case epoch != x.progress.Epoch || at.Seq > next:
		x.hungry = true
	}
	x.observe(func(o *observed) { o.head = max(o.head, at.Seq) })
}
