package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"time"

	"github.com/labstack/echo/v4"

	"packwright/internal/access"
)

// usualPulse is how often a silent live stream sends a comment, so that a phone
// and everything between notice a dead connection.
const usualPulse = 20 * time.Second

// headEvent is the data of one event on the live stream.
type headEvent struct {
	Epoch string `json:"epoch"`
	Head  uint64 `json:"head"`
	NowMS int64  `json:"now_ms"`
}

// live is a stream of server-sent events: the head at once, then after commits.
// Events may be skipped where commits come faster than the phone reads; the last
// one always arrives. A device that was taken off hears nothing more.
func (s *server) live(c echo.Context) error {
	device, _ := deviceOf(c)
	heads, cancel := s.store.Subscribe()
	defer cancel()
	w := c.Response()
	stream := http.NewResponseController(w)
	// The limits of an ordinary answer would end the stream: the one on reading, too,
	// since the server keeps reading to notice that the phone has gone.
	if err := errors.Join(stream.SetWriteDeadline(time.Time{}), stream.SetReadDeadline(time.Time{})); err != nil {
		return fmt.Errorf("lift the deadlines: %w", err)
	}
	w.Header().Set("Content-Type", "text/event-stream")
	w.WriteHeader(http.StatusOK)

	tick := time.NewTicker(s.pulse)
	defer tick.Stop()
	next, err := s.headEvent()
	for err == nil && s.mayStay(device) {
		if _, err = io.WriteString(w, next); err != nil {
			break
		}
		if err = stream.Flush(); err != nil {
			break
		}
		select {
		case <-c.Request().Context().Done():
			return nil
		case <-s.closing:
			return nil
		case _, open := <-heads:
			if !open {
				return nil
			}
			next, err = s.headEvent()
		case <-tick.C:
			next = ": still here\n\n"
		}
	}
	return err
}

// headEvent is the head as an event of the stream.
func (s *server) headEvent() (string, error) {
	epoch, head := s.store.Head()
	data, err := json.Marshal(headEvent{Epoch: epoch, Head: head, NowMS: s.nowMS()})
	return fmt.Sprintf("data: %s\n\n", data), err
}

// mayStay reports whether a device that came in is still on the list.
func (s *server) mayStay(device access.Device) bool {
	if device.ID == here.ID {
		return true
	}
	now, err := s.register.Device(device.ID)
	return err == nil && now.RevokedMS == 0
}
