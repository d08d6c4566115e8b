package store

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"iter"
	"os"
	"path/filepath"
	"slices"

	"packwright/internal/safefile"
)

// settle makes sure that the journal file is whole from its first to its last
// byte, and gives its state. What is proved whole keeps its epoch: every line
// in the chain, the file the mark was made for, at least as far as the mark
// says, and nothing more in the index. A torn end, the rest of a write that
// was never acknowledged, is cut. Everything else is repaired under a new epoch.
func (s *Store) settle(path string, m mark) (state, error) {
	_ = os.Remove(path + ".new") // a crash while replacing may have left it
	f, err := os.Open(path)
	if errors.Is(err, os.ErrNotExist) {
		if m.Epoch == "" && !s.hasIndex() {
			return s.rewrite(path, nil) // a new folder
		}
		return s.repair(path, nil, m, "the journal file is missing")
	}
	if err != nil {
		return state{}, err
	}
	st, err := verify(f, m)
	identity := fileIdentity(f)
	// Closed before anything else: an open file cannot be replaced on Windows.
	if err := errors.Join(err, f.Close()); err != nil {
		return state{}, err
	}
	doubt := s.doubt(identity, m, st)
	if doubt == "" {
		if st.sealed = s.sealed(m); !st.sealed && s.indexGoesBeyond(st.seq) {
			doubt = "the index holds more than the journal"
		}
	}
	if doubt == "" && st.trouble == nil {
		return st, nil
	}
	data, err := os.ReadFile(path)
	if err != nil {
		return state{}, err
	}
	if doubt == "" {
		tail, good := data[st.end:], 0
		carve(tail, func(_ line, _, to int) {
			if tail[to-1] == '\n' { // a write may end just before it; then its line was never acknowledged
				good++
			}
		})
		if good == 0 {
			return st, s.cutTail(path, tail, st.end)
		}
		doubt = fmt.Sprintf("line %d is damaged (%v)", st.lines+1, st.trouble)
	}
	return s.repair(path, data, m, doubt)
}

// doubt says why the good part of a journal may not be all that was stored;
// empty if nothing speaks against it.
func (s *Store) doubt(identity string, m mark, st state) string {
	switch {
	case st.lines == 0:
		return "its first line is damaged or missing"
	case m.Epoch == "" && st.seq == 0 && st.trouble == nil && !s.hasIndex():
		return "" // the first start stopped half-way
	case m.Epoch == "":
		return markName + ", which says how far the journal went, is missing or damaged"
	case m.Epoch != st.epoch:
		return "it is not the journal of the last time"
	case st.markEnd < 0 && m.Seq > st.seq:
		return fmt.Sprintf("%d entries were stored, and it is whole only to entry %d", m.Seq, st.seq)
	case st.markEnd < 0:
		return "it differs from the journal of the last time"
	case m.File != identity:
		return "the folder was copied or restored"
	}
	return ""
}

// cutTail keeps the bytes after the good part aside and cuts them off. They
// were never acknowledged, so on a full disk they may go.
func (s *Store) cutTail(path string, tail []byte, end int64) error {
	if err := s.keepAside(tail); err != nil && !safefile.IsNoSpace(err) {
		return err
	}
	s.report.CutBytes = len(tail)
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return err
	}
	return errors.Join(f.Truncate(end), f.Sync(), f.Close())
}

// repair writes a journal of all good entries, those of the old file and those
// that only the index still has, under a new epoch. Until the new file is
// durable nothing of the old is touched; a crash on the way leads back here.
func (s *Store) repair(path string, data []byte, m mark, doubt string) (state, error) {
	s.report.Doubt = doubt
	var g gathered
	g.journal(data)
	g.index(s.rawIndex())
	// In the order in which they were stored; lines of the file come first.
	slices.SortStableFunc(g.lines, func(a, b line) int {
		return cmp.Compare(a.seq, b.seq)
	})
	if len(g.bad) > 0 {
		if err := s.keepAside(g.bad); err != nil {
			return state{}, err
		}
	}
	s.report.CutBytes, s.report.BadLines, s.report.Salvaged = len(g.bad), g.badLines, g.salvaged
	if n := uint64(len(g.lines)); m.Seq > n {
		s.report.Missing = m.Seq - n
	}
	if err := s.o.at("bad lines kept"); err != nil {
		return state{}, err
	}
	st, err := s.rewrite(path, g.lines)
	if err == nil {
		err = s.o.at("journal replaced")
	}
	if err == nil {
		// All of it is in the journal now, under other numbers.
		err = removeIndex(filepath.Join(s.dir, indexName))
	}
	return st, err
}

// gathered is what a repair has found.
type gathered struct {
	lines    []line
	byID     map[string]int // place in lines
	bad      []byte         // what cannot be used
	badLines []int          // where it began in the journal file, lines from 1
	salvaged int            // lines that only the index had
}

// journal takes the good lines of a journal file.
func (g *gathered) journal(data []byte) {
	g.byID = map[string]int{}
	at := 0
	if text, _, ok := bytes.Cut(data, []byte{'\n'}); ok {
		if _, _, err := parseHeader(text); err == nil {
			at = len(text) + 1
		}
	}
	carve(data, func(l line, from, to int) {
		g.spoil(data, at, from)
		at = to
		if !g.take(l) {
			g.spoil(data, from, to)
		}
	})
	g.spoil(data, at, len(data))
}

// index takes what only the index has, from the raw bytes of its files.
func (g *gathered) index(files iter.Seq[[]byte]) {
	for data := range files {
		carve(data, func(l line, from, to int) {
			before := len(g.lines)
			if !g.take(l) {
				g.bad = append(g.bad, data[from:to]...)
			}
			g.salvaged += len(g.lines) - before
		})
	}
}

// take keeps a line unless its entry is there already; false if its id is
// there with other content, or it has none.
func (g *gathered) take(l line) bool {
	id, err := l.id()
	if err != nil || id == "" {
		return false
	}
	if at, ok := g.byID[id]; ok {
		return bytes.Equal(g.lines[at].entry, l.entry)
	}
	g.byID[id] = len(g.lines)
	g.lines = append(g.lines, l)
	return true
}

func (g *gathered) spoil(data []byte, from, to int) {
	if from == to {
		return
	}
	g.bad = append(g.bad, data[from:to]...)
	g.badLines = append(g.badLines, 1+bytes.Count(data[:from], []byte{'\n'}))
}
