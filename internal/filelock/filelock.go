// Package filelock lets one process at a time have a folder, by a lock on a file
// in it that also says who has it.
//
// The system frees the lock when the process ends, however it ends. The file stays:
// removing it would let two processes lock two files of one name.
package filelock

import (
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"time"

	"packwright/internal/safefile"
)

// Holder is who has a lock, as far as the file says.
type Holder struct {
	PID     int    `json:"pid"`
	Address string `json:"address,omitempty"` // where it serves
}

// Held is the error of a lock that another process has.
type Held struct{ Holder }

func (h Held) Error() string { return fmt.Sprintf("locked by process %d %s", h.PID, h.Address) }

// Lock is a lock that this process has.
type Lock struct{ file *os.File }

// Take locks the file at path, which it makes where it is missing, and writes down
// where this process serves, if anywhere. Errors: Held, or of package os. Look holds
// the lock for a moment, hence the second tries.
func Take(path, address string) (*Lock, error) {
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE, 0o600)
	if err != nil {
		return nil, err
	}
	for range 20 {
		ok, err := lockFile(f, true)
		if err != nil {
			return nil, errors.Join(err, f.Close())
		}
		if ok {
			l := &Lock{f}
			if err := l.SetAddress(address); err != nil {
				return nil, errors.Join(err, l.Release())
			}
			return l, nil
		}
		time.Sleep(10 * time.Millisecond)
	}
	defer f.Close()
	return nil, Held{readHolder(f)}
}

// SetAddress says in the file where this process serves. On a full disk nobody is named.
func (l *Lock) SetAddress(address string) error {
	text, err := json.Marshal(Holder{os.Getpid(), address})
	if err != nil {
		return err
	}
	if err := l.file.Truncate(0); err != nil {
		return err
	}
	if _, err = l.file.WriteAt(append(text, '\n'), 0); safefile.IsNoSpace(err) {
		return nil
	}
	return err
}

// Release gives the folder free.
func (l *Lock) Release() error {
	return errors.Join(l.file.Truncate(0), l.file.Close())
}

func readHolder(f *os.File) (h Holder) {
	text := make([]byte, 4096)
	n, _ := f.ReadAt(text, 0)
	if json.Unmarshal(text[:n], &h) != nil {
		return Holder{} // being written, or damaged: then nobody is named
	}
	return h
}

// Look says whether a process has the lock on the file at path, and which.
func Look(path string) (h Holder, locked bool) {
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return Holder{}, false
	}
	defer f.Close()
	if free, err := lockFile(f, false); free || err != nil {
		return Holder{}, false
	}
	return readHolder(f), true
}

// Ours says whether the file at path is empty or names a holder, as one that Take made.
func Ours(path string) bool {
	text, err := os.ReadFile(path)
	if err != nil || len(text) == 0 {
		return err == nil
	}
	var h Holder
	return json.Unmarshal(text, &h) == nil && h.PID > 0
}
