package main

import (
	"fmt"
	"math"
	"net/netip"
	"strconv"
	"sync"
	"sync/atomic"
	"time"

	"github.com/labstack/echo/v4"
	"golang.org/x/time/rate"

	"packwright/internal/problem"
)

// allowance is how often something may be asked for: so many at once, and one
// more each time every has passed.
type allowance struct {
	burst int
	every time.Duration
}

var (
	// joinRate lets a person mistype, and somebody who guesses try ten codes a minute.
	joinRate = allowance{burst: 5, every: 6 * time.Second}
	// callRate lets a phone fetch a whole season at once: twenty requests a second
	// for long, and four hundred in one go.
	callRate = allowance{burst: 400, every: 50 * time.Millisecond}
)

// maxKeys bounds the memory that limits take, whoever asks: twice as many keys, of
// about 200 bytes each.
const maxKeys = 4096

// limits counts requests by key. It remembers the keys of late in young; when that
// is full they become the old ones, and the old ones that nobody asked for again
// are forgotten.
type limits struct {
	allowance
	mu         sync.Mutex
	young, old map[string]*rate.Limiter
}

func newLimits(a allowance) *limits { return &limits{allowance: a, young: map[string]*rate.Limiter{}} }

// take uses one request of a key, or says how long to wait for the next.
func (l *limits) take(key string, now time.Time) (wait time.Duration) {
	l.mu.Lock()
	defer l.mu.Unlock()
	limiter := l.young[key]
	if limiter == nil {
		if len(l.young) >= maxKeys {
			l.young, l.old = map[string]*rate.Limiter{}, l.young
		}
		if limiter = l.old[key]; limiter == nil {
			limiter = rate.NewLimiter(rate.Every(l.every), l.burst)
		}
		l.young[key] = limiter
	}
	if limiter.AllowN(now, 1) {
		return 0
	}
	return time.Duration((1 - limiter.TokensAt(now)) * float64(l.every))
}

// slowJoins limits tries to join, by address, and logs those that fail.
func (s *server) slowJoins(next echo.HandlerFunc) echo.HandlerFunc {
	return func(c echo.Context) error {
		var err error
		if wait := s.joins.take(s.addressKey(c), s.now()); wait > 0 {
			err = tooMany(c, wait)
		} else {
			err = next(c)
		}
		if told, ok := problem.As(err); ok {
			s.tellRefused(told)
		}
		return err
	}
}

// refusals are the failed tries to join. Whoever guesses must not fill the disk
// with lines.
type refusals struct {
	lines  *limits
	untold atomic.Int64 // since the last line
}

// refusalRate is how many lines there are.
var refusalRate = allowance{burst: 20, every: 3 * time.Second}

// tellRefused logs why somebody was not let in: not who he is, nor what he sent.
func (s *server) tellRefused(why *problem.Error) {
	if s.refused.lines.take("", s.now()) > 0 {
		s.refused.untold.Add(1)
		return
	}
	s.log.Info("a device was not let in", "why", why.Text, "not_told", s.refused.untold.Swap(0))
}

// tooMany refuses a request and says when to try again (RFC 9110, 10.2.3).
func tooMany(c echo.Context, wait time.Duration) error {
	seconds := max(1, int(math.Ceil(wait.Seconds())))
	c.Response().Header().Set("Retry-After", strconv.Itoa(seconds))
	return problem.New(problem.TooMany, fmt.Sprintf("wait %d s and try again", seconds), "too many requests in a short time")
}

// addressKey is who asks, as far as an address tells. From the internet that is the
// /64 network for IPv6, since a machine has as many addresses there as it likes;
// on a network that this machine is in it is the address, since all phones share
// one /64 there.
func (s *server) addressKey(c echo.Context) string {
	addr, err := netip.ParseAddr(c.RealIP())
	if err != nil {
		return ""
	}
	addr = addr.Unmap()
	if addr.Is6() && !addr.IsPrivate() && !addr.IsLinkLocalUnicast() && !s.around.include(addr, s.now()) {
		return network64(addr).String()
	}
	return addr.WithZone("").String()
}
