package store

import (
	"bytes"
	"encoding/hex"
	"encoding/json"
	"errors"
	"os"
	"path/filepath"

	"packwright/internal/safefile"
)

// mark is what is known about the journal from outside of it: without it a
// journal cut at the end of a line, or put back from an older copy, would look whole.
type mark struct {
	Epoch string `json:"epoch"` // empty: there is no mark that can be used
	Seq   uint64 `json:"seq"`   // at least this far the journal went
	Sum   digest `json:"sha256"`
	File  string `json:"file"`  // identity of the journal file; a copy has another
	Index string `json:"index"` // seal: digest of the index files, empty while they are in use
}

// markBytes is the size of the file: one block of any disk, so that it is
// overwritten in one piece.
const markBytes = 512

// MarshalText writes a digest as hexadecimal digits.
func (d digest) MarshalText() ([]byte, error) { return hex.AppendEncode(nil, d[:]), nil }

// UnmarshalText reads what MarshalText wrote.
func (d *digest) UnmarshalText(text []byte) error {
	if len(text) != 2*len(d) {
		return hex.ErrLength
	}
	_, err := hex.Decode(d[:], text)
	return err
}

// markFile is the open mark of the writer.
type markFile struct {
	file *os.File
}

// createMark starts the file anew, durably.
func createMark(path string, m mark) (*markFile, error) {
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE, 0o600)
	if err != nil {
		return nil, err
	}
	mf := &markFile{f}
	if err := errors.Join(mf.write(m), f.Truncate(markBytes), f.Sync(), safefile.SyncDir(filepath.Dir(path))); err != nil {
		return nil, errors.Join(err, f.Close())
	}
	return mf, nil
}

// write overwrites the mark in place. It is not synced after each group: a
// mark that is behind only says less, and a sync would halve the speed.
func (mf *markFile) write(m mark) error {
	text, err := json.Marshal(m)
	if err != nil {
		return err
	}
	text, _ = sealLine(nil, text[:len(text)-1])
	text = bytes.TrimSuffix(text, []byte{'\n'})
	for len(text) < markBytes-1 {
		text = append(text, ' ')
	}
	_, err = mf.file.WriteAt(append(text, '\n'), 0)
	return err
}

// readMark reads the mark; the zero mark with an error if it cannot be used.
func readMark(path string) (mark, error) {
	text, err := os.ReadFile(path)
	if err != nil {
		return mark{}, err
	}
	if len(text) != markBytes || text[markBytes-1] != '\n' {
		return mark{}, errLine
	}
	body, _, err := unsealLine(bytes.TrimRight(text[:markBytes-1], " "))
	if err != nil {
		return mark{}, err
	}
	var m mark
	if err := json.Unmarshal(append(bytes.Clone(body), '}'), &m); err != nil {
		return mark{}, err
	}
	return m, nil
}
