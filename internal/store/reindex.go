package store

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"iter"
	"os"
	"path/filepath"
	"strconv"
)

var errCrowded = errors.New("the disk is almost full")

// crowded says whether less is free than the spare bytes and what is needed besides.
func (s *Store) crowded(need uint64) bool {
	free, err := FreeBytes(s.dir)
	return err == nil && free < s.o.spare+need
}

// startIndex opens the index if its seal is whole, and makes it again if not:
// on the disk where there is room, else in memory.
func (s *Store) startIndex(m mark, st state) (err error) {
	dir := filepath.Join(s.dir, indexName)
	if s.crowded(2 * uint64(st.end)) {
		s.report.IndexInMemory = true
		s.index, err = s.memoryIndex(st.end)
		return err
	}
	if st.sealed {
		if s.index, err = s.sealedIndex(dir, m, st); err == nil {
			return nil
		}
		s.o.Log.Warn("the index is made again", "reason", err)
	}
	s.report.IndexRebuilt = st.seq > 0
	if s.index, err = s.diskIndex(dir, st); err != nil {
		s.o.Log.Warn("the index moves into memory", "reason", err)
		s.report.IndexInMemory = true
		s.index, err = s.memoryIndex(st.end)
	}
	return err
}

// sealed says whether the files of the index are exactly those that were sealed.
func (s *Store) sealed(m mark) bool {
	dir := filepath.Join(s.dir, indexName)
	if m.Index == "" || countTables(dir) > maxTables {
		return false
	}
	digest, err := digestIndex(dir)
	return err == nil && digest == m.Index
}

func (s *Store) hasIndex() bool {
	_, err := os.Stat(filepath.Join(s.dir, indexName))
	return err == nil
}

// rawIndex gives the bytes of each index file that can be read.
func (s *Store) rawIndex() iter.Seq[[]byte] {
	return func(yield func([]byte) bool) {
		dir := filepath.Join(s.dir, indexName)
		files, err := os.ReadDir(dir)
		for _, file := range files {
			if !badgerName(file.Name()) {
				continue
			}
			data, readErr := os.ReadFile(filepath.Join(dir, file.Name()))
			if err = errors.Join(err, readErr); !yield(data) {
				return
			}
		}
		if err != nil && !errors.Is(err, os.ErrNotExist) {
			s.o.Log.Warn("not all of the index can be read", "err", err)
		}
	}
}

// indexGoesBeyond says whether a good line after seq stands in the index files.
// That is never so unless the disk lost what it had called durable, or the
// journal was put back.
func (s *Store) indexGoesBeyond(seq uint64) (beyond bool) {
	for data := range s.rawIndex() {
		for at := lineStart(data, 0); at >= 0; at = lineStart(data, at+1) {
			digits, _, _ := bytes.Cut(data[at+len(beforeSeq):], []byte{','})
			if n, err := strconv.ParseUint(string(digits), 10, 64); err == nil && n > seq {
				carve(data[at:min(len(data), at+maxLineBytes)], func(l line, _, _ int) {
					beyond = beyond || l.seq > seq
				})
			}
			if beyond {
				return true
			}
		}
	}
	return false
}

// sealedIndex opens the index and brings it up to the end of the journal.
func (s *Store) sealedIndex(dir string, m mark, st state) (*index, error) {
	x, err := openIndex(dir, s.o.Log)
	if err != nil {
		return nil, err
	}
	if err := s.fill(x, m.Seq, st.markEnd, st.end); err != nil {
		return nil, errors.Join(err, x.close())
	}
	return x, nil
}

// diskIndex makes the index on the disk anew.
func (s *Store) diskIndex(dir string, st state) (*index, error) {
	if err := removeIndex(dir); err != nil {
		return nil, err
	}
	x, err := openIndex(dir, s.o.Log)
	if err != nil {
		return nil, err
	}
	if err := s.fill(x, 0, 0, st.end); err != nil {
		return nil, errors.Join(err, x.close())
	}
	return x, nil
}

// memoryIndex makes an index in memory over the journal up to end.
func (s *Store) memoryIndex(end int64) (*index, error) {
	x, err := openIndex("", s.o.Log)
	if err != nil {
		return nil, err
	}
	if err := s.fill(x, 0, 0, end); err != nil {
		return nil, errors.Join(err, x.close())
	}
	return x, nil
}

// reindex exchanges the index for one in memory and moves the head to seq, the
// end to end. A reader gives the index it found bad and moves nothing. The old
// index is left as it is: closing Badger would write.
func (s *Store) reindex(bad *index, seq uint64, end int64) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.index == nil {
		return errClosed
	}
	if bad != nil {
		if s.index != bad {
			return nil // somebody was quicker
		}
		seq, end = s.head.Load(), s.end.Load()
	}
	x, err := s.memoryIndex(end)
	if err != nil {
		return err
	}
	s.index = x
	s.end.Store(end)
	s.head.Store(seq)
	return nil
}

// fill puts the lines between two places of the journal file into an index;
// seq is that of the line before.
func (s *Store) fill(x *index, seq uint64, from, to int64) error {
	f, err := os.Open(filepath.Join(s.dir, journalName))
	if err != nil {
		return err
	}
	defer f.Close()
	lines := newLineReader(io.NewSectionReader(f, from, to-from))
	if from == 0 {
		if _, err := lines.next(); err != nil { // the header
			return err
		}
	}
	var batch []indexed
	size := 0
	for {
		text, err := lines.next()
		if err == io.EOF {
			return x.add(batch)
		}
		if err != nil {
			return err
		}
		seq++
		entry, err := toIndex(text, seq)
		if err != nil {
			return fmt.Errorf("line of entry %d: %w", seq, err)
		}
		batch = append(batch, entry)
		if size += len(text); size > memTableBytes/16 {
			if err := x.add(batch); err != nil {
				return err
			}
			batch, size = batch[:0], 0
		}
	}
}

// toIndex checks a line once more on its way into the index and copies it.
func toIndex(text []byte, seq uint64) (indexed, error) {
	l, err := parseLine(append([]byte(nil), text...))
	if err != nil {
		return indexed{}, err
	}
	if l.seq != seq {
		return indexed{}, errIndex
	}
	id, err := l.id()
	return indexed{id, seq, l.text}, err
}
