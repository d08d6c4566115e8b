package store

import "sync"

// listeners are told the newest head.
type listeners struct {
	mu     sync.Mutex
	all    map[chan uint64]bool
	closed bool
}

// Subscribe gives a channel that receives the head after commits. It always
// holds the newest head not yet received: who is slow misses the ones between.
// It is closed by cancel and by Close.
func (s *Store) Subscribe() (heads <-chan uint64, cancel func()) {
	l := &s.listeners
	c := make(chan uint64, 1)
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.closed {
		close(c)
		return c, func() {}
	}
	if l.all == nil {
		l.all = map[chan uint64]bool{}
	}
	l.all[c] = true
	return c, func() {
		l.mu.Lock()
		defer l.mu.Unlock()
		if l.all[c] {
			delete(l.all, c)
			close(c)
		}
	}
}

// tell replaces what has not been received yet; it never waits.
func (l *listeners) tell(head uint64) {
	l.mu.Lock()
	defer l.mu.Unlock()
	for c := range l.all {
		select {
		case <-c:
		default:
		}
		c <- head
	}
}

func (l *listeners) close() {
	l.mu.Lock()
	defer l.mu.Unlock()
	for c := range l.all {
		close(c)
	}
	l.all, l.closed = nil, true
}
