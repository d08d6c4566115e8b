package store

import (
	"bufio"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"packwright/internal/safefile"
)

// rewrite makes a new journal of the lines' entries under a new epoch.
func (s *Store) rewrite(path string, lines []line) (state, error) {
	random := make([]byte, 16)
	if _, err := io.ReadFull(s.o.Random, random); err != nil {
		return state{}, err
	}
	st := state{epoch: hex.EncodeToString(random), markEnd: -1}
	s.report.NewEpoch = true
	err := replaceFile(path, func(w io.Writer) error {
		var text []byte
		text, st.sum = appendHeader(nil, st.epoch, s.o.Now().UnixMilli())
		for _, l := range lines {
			st.end += int64(len(text))
			if _, err := w.Write(text); err != nil {
				return err
			}
			var broughtBy string
			if err := json.Unmarshal(l.broughtBy, &broughtBy); err != nil {
				return err
			}
			st.seq++
			text, st.sum = appendLine(text[:0], st.seq, st.sum, l.receivedMS, broughtBy, l.entry)
		}
		st.end += int64(len(text))
		_, err := w.Write(text)
		return err
	})
	return st, err
}

// keepAside stores bytes that are taken out of the journal in a file of their own.
func (s *Store) keepAside(data []byte) error {
	stem := "journal.cut-" + s.o.Now().UTC().Format("20060102T150405Z")
	name := stem
	for n := 2; ; n++ {
		f, err := os.OpenFile(filepath.Join(s.dir, name), os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
		if errors.Is(err, os.ErrExist) {
			name = fmt.Sprintf("%s-%d", stem, n)
			continue
		}
		if err != nil {
			return err
		}
		_, err = f.Write(data)
		if err = errors.Join(err, f.Sync(), f.Close(), safefile.SyncDir(s.dir)); err != nil {
			return errors.Join(err, os.Remove(f.Name()))
		}
		s.report.Aside = name
		return nil
	}
}

// replaceFile writes a file so that after a crash it is either the old or the
// new one, whole.
func replaceFile(path string, write func(w io.Writer) error) (err error) {
	f, err := os.OpenFile(path+".new", os.O_WRONLY|os.O_CREATE|os.O_TRUNC, 0o600)
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, os.Remove(path+".new"))
		}
	}()
	w := bufio.NewWriterSize(f, 1<<18)
	if err = errors.Join(write(w), w.Flush()); err == nil {
		err = f.Sync()
	}
	if err = errors.Join(err, f.Close()); err != nil {
		return fmt.Errorf("writing %s: %w", filepath.Base(path), err)
	}
	if err = os.Rename(path+".new", path); err != nil {
		return err
	}
	return safefile.SyncDir(filepath.Dir(path))
}
