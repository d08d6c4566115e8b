package store

import (
	"bufio"
	"errors"
	"io"
	"os"

	"packwright/internal/problem"
)

// journalFile is the journal as the writer sees it.
type journalFile struct {
	file *os.File
	end  int64  // all before it is durable and good
	seq  uint64 // of the last line
	sum  digest // of the last line
	// unclean says that bytes of a failed append may stand beyond end.
	unclean  bool
	identity string // see fileIdentity
}

// openJournal opens a journal that was verified before.
func openJournal(path string, st state) (*journalFile, error) {
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return nil, err
	}
	return &journalFile{file: f, end: st.end, seq: st.seq, sum: st.sum, identity: fileIdentity(f)}, nil
}

// append writes whole lines, up to the given one, and makes them durable. After
// an error nothing of them counts and the next append starts at the same place.
// That also holds for a failed fsync, after which the kernel may call unwritten
// pages clean: they are cut off and written anew.
func (j *journalFile) append(lines []byte, seq uint64, sum digest, at func(point string) error) error {
	if err := j.clean(); err != nil {
		return err
	}
	j.unclean = true
	_, err := j.file.WriteAt(lines, j.end)
	if err == nil {
		err = at("journal written")
	}
	if err == nil {
		err = j.file.Sync()
	}
	if err != nil {
		// If this fails too, the next append tries again.
		return errors.Join(err, j.clean())
	}
	j.unclean = false
	j.end += int64(len(lines))
	j.seq, j.sum = seq, sum
	return nil
}

func (j *journalFile) clean() error {
	if !j.unclean {
		return nil
	}
	if err := j.file.Truncate(j.end); err != nil {
		return err
	}
	j.unclean = false
	return nil
}

// state is how far a journal file is good.
type state struct {
	epoch string
	seq   uint64 // of the last good line
	end   int64  // bytes up to and with it
	sum   digest // of it
	lines int    // good lines with the header

	markEnd int64 // bytes up to and with the line the mark is about; -1 if there is no such line
	sealed  bool  // the index is the one the mark sealed
	trouble error // why the line after the last good one is not good; nil at the end of the file
}

var errChain = errors.New("the line does not follow the one before")

// verify reads a journal from its start as far as every line is good and in
// the chain. The error is of the reading, or of a format this program does not know.
func verify(r io.Reader, m mark) (state, error) {
	st := state{markEnd: -1}
	lines := newLineReader(r)
	for {
		text, err := lines.next()
		switch {
		case err == io.EOF:
			return st, nil
		case errors.Is(err, errTooLong) || errors.Is(err, errTorn):
			st.trouble = err
			return st, nil
		case err != nil:
			return st, err
		}
		if st.trouble = st.take(text); st.trouble != nil {
			if p, ok := problem.As(st.trouble); ok {
				return st, p
			}
			return st, nil
		}
		st.end += int64(len(text)) + 1
		st.lines++
		if st.seq == m.Seq && st.sum == m.Sum && st.epoch == m.Epoch {
			st.markEnd = st.end
		}
	}
}

// take checks the next line and its place in the chain.
func (st *state) take(text []byte) error {
	if st.lines == 0 {
		h, sum, err := parseHeader(text)
		if err != nil {
			return err
		}
		st.epoch, st.sum = h.Epoch, sum
		return nil
	}
	l, err := parseLine(text)
	switch {
	case err != nil:
		return err
	case l.prev != st.sum || l.seq != st.seq+1:
		return errChain
	}
	st.seq, st.sum = l.seq, l.sum
	return nil
}

// lineReader gives the lines of a journal file one by one.
type lineReader struct {
	r    *bufio.Reader
	long []byte
}

func newLineReader(r io.Reader) *lineReader {
	return &lineReader{r: bufio.NewReaderSize(r, 1<<18)}
}

var (
	errTooLong = errors.New("the line is too long")
	errTorn    = errors.New("the last line is not finished")
)

// next gives the next line without its newline, valid until the next call. The
// end is io.EOF; after errTooLong what follows is given as if it were a line.
func (lr *lineReader) next() ([]byte, error) {
	text, err := lr.r.ReadSlice('\n')
	lr.long = lr.long[:0]
	for errors.Is(err, bufio.ErrBufferFull) && len(lr.long) <= maxLineBytes {
		lr.long = append(lr.long, text...)
		text, err = lr.r.ReadSlice('\n')
	}
	if len(lr.long) > 0 {
		lr.long = append(lr.long, text...)
		text = lr.long
	}
	switch {
	case err == io.EOF && len(text) == 0:
		return nil, io.EOF
	case err == io.EOF:
		return nil, errTorn
	case errors.Is(err, bufio.ErrBufferFull) || (err == nil && len(text) > maxLineBytes):
		return nil, errTooLong
	case err != nil:
		return nil, err
	}
	return text[:len(text)-1], nil
}
