package store

import (
	"errors"
	"fmt"
	"io"
	"iter"
	"os"
	"path/filepath"

	"packwright/internal/problem"
)

// All gives every entry that is stored when the iteration starts, in order. It
// reads the journal file, not the index: for a fold at the start of a server
// that is faster and maps nothing into memory.
func (s *Store) All() iter.Seq2[Item, error] {
	return func(yield func(Item, error) bool) {
		f, err := os.Open(filepath.Join(s.dir, journalName))
		if err != nil {
			yield(Item{}, err)
			return
		}
		defer f.Close()
		readItems(io.LimitReader(f, s.end.Load()), yield)
	}
}

// ReadFile gives every entry of the journal file in a data folder without
// opening the store, also while a server has it open; the newest may then not be
// acknowledged yet. A line that does not check out gives an error of kind
// Damaged with its number, and reading goes on.
func ReadFile(dir string) iter.Seq2[Item, error] {
	return func(yield func(Item, error) bool) {
		f, err := os.Open(filepath.Join(dir, journalName))
		if errors.Is(err, os.ErrNotExist) {
			err = problem.New(problem.NotFound, "give the folder that the server was started with",
				"there is no journal in %s", dir)
		}
		if err != nil {
			yield(Item{}, folderProblem(dir, err))
			return
		}
		defer f.Close()
		if info, err := f.Stat(); err == nil && info.IsDir() {
			yield(Item{}, wrongSort(dir, journalName))
			return
		}
		readItems(f, func(item Item, err error) bool {
			if errors.Is(err, errTorn) {
				if _, locked := Locked(dir); locked {
					return false // it is being written at this moment
				}
			}
			return yield(item, err)
		})
	}
}

// readItems gives the entries of a journal, and an error before each break in the chain.
func readItems(r io.Reader, yield func(Item, error) bool) {
	lines := newLineReader(r)
	var last line
	chained := false // last is the line before
	for number := 1; ; number++ {
		text, err := lines.next()
		if err == io.EOF {
			return
		}
		if err != nil && !errors.Is(err, errTooLong) && !errors.Is(err, errTorn) {
			yield(Item{}, fmt.Errorf("reading %s: %w", journalName, err)) // the disk, not the line
			return
		}
		var l line
		if err == nil && number == 1 {
			_, l.sum, err = parseHeader(text)
		} else if err == nil {
			l, err = parseLine(text)
		}
		broken := err
		if err == nil && chained && (l.prev != last.sum || l.seq != last.seq+1) {
			broken = errChain
		}
		if broken != nil && !yield(Item{}, damagedLine{number, broken}) {
			return
		}
		last, chained = l, err == nil
		if err != nil || number == 1 {
			continue
		}
		item, err := l.item()
		if !yield(item, err) {
			return
		}
	}
}

// damagedLine is a line of a journal file that does not check out.
type damagedLine struct {
	number int
	cause  error
}

func (d damagedLine) Error() string {
	return fmt.Sprintf("line %d of %s does not check out: %v", d.number, journalName, d.cause)
}

// Unwrap gives the cause and what a person may read.
func (d damagedLine) Unwrap() []error {
	return []error{d.cause, problem.New(problem.Damaged,
		"start the server with this folder: it mends what can be mended", "%s", d.Error())}
}
