package store

import (
	"context"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"os"
	"path/filepath"
	"strings"

	"github.com/dgraph-io/badger/v4"
	"github.com/dgraph-io/badger/v4/options"
)

const (
	memTableBytes = 8 << 20 // must be ≥ 7 MB: Badger's transactions hold 15 % of it

	// spareBytes must be free for the index to live on the disk. Badger writes
	// one memtable at a time in the background; this leaves room for many and
	// for what other programs write meanwhile.
	spareBytes = 256 << 20

	// maxTables is when an index is made again: each session that wrote leaves
	// at least one table, and nothing merges them.
	maxTables = 64
)

var errIndex = errors.New("the index does not agree with the journal")

// index finds lines of the journal by sequence number and by id.
type index struct {
	db     *badger.DB
	memory bool
}

// indexed is a line to be put into the index.
type indexed struct {
	id   string
	seq  uint64
	text []byte // the line without newline
}

// openIndex opens the index in dir; with no dir, an empty one in memory.
//
// There are no compactors: entries are never changed or deleted, so there is
// nothing to tidy up, and Badger then writes only when it is written to, at
// moments when the free space has just been looked at. There is no compression:
// that would need a cache, and lines could not be found in the raw files.
func openIndex(dir string, log *slog.Logger) (*index, error) {
	o := badger.DefaultOptions(dir).
		WithLogger(badgerLog{log}).
		WithMetricsEnabled(false).
		WithMemTableSize(memTableBytes).
		WithNumMemtables(2).
		WithNumCompactors(0).
		WithNumLevelZeroTables(1 << 20).
		WithNumLevelZeroTablesStall(1<<20 + 1).
		WithCompression(options.None).
		WithBlockCacheSize(0).
		WithIndexCacheSize(0).
		WithValueLogFileSize(1 << 20). // stays empty: lines are far smaller than the threshold
		WithChecksumVerificationMode(options.OnBlockRead).
		WithDetectConflicts(false). // one writer
		WithBypassLockGuard(true).  // the folder has a lock of its own
		WithInMemory(dir == "")
	db, err := badger.Open(o)
	if err != nil {
		return nil, fmt.Errorf("opening the index: %w", err)
	}
	return &index{db: db, memory: dir == ""}, nil
}

func seqKey(seq uint64) []byte   { return binary.BigEndian.AppendUint64([]byte{'s'}, seq) }
func idKey(id string) []byte     { return append([]byte{'i'}, id...) }
func seqValue(seq uint64) []byte { return binary.BigEndian.AppendUint64(nil, seq) }

// add puts lines in. They may go in several transactions: nobody reads beyond
// the head, and an index that was not finished is never trusted again.
func (x *index) add(lines []indexed) error {
	txn := x.db.NewTransaction(true)
	defer func() { txn.Discard() }()
	set := func(key, value []byte) error {
		err := txn.Set(key, value)
		if errors.Is(err, badger.ErrTxnTooBig) {
			if err := txn.Commit(); err != nil {
				return err
			}
			txn = x.db.NewTransaction(true)
			err = txn.Set(key, value)
		}
		return err
	}
	for _, l := range lines {
		if err := errors.Join(set(idKey(l.id), seqValue(l.seq)), set(seqKey(l.seq), l.text)); err != nil {
			return err
		}
	}
	return txn.Commit()
}

// find gives the sequence number of an id, 0 if it is not known.
func (x *index) find(txn *badger.Txn, id string) (seq uint64, err error) {
	item, err := txn.Get(idKey(id))
	if errors.Is(err, badger.ErrKeyNotFound) {
		return 0, nil
	}
	if err != nil {
		return 0, err
	}
	err = item.Value(func(v []byte) error {
		if len(v) != 8 {
			return errIndex
		}
		seq = binary.BigEndian.Uint64(v)
		return nil
	})
	return seq, err
}

// line calls f with the line with a sequence number; it is valid only within f.
func (x *index) line(txn *badger.Txn, seq uint64, f func(l line) error) error {
	item, err := txn.Get(seqKey(seq))
	if err != nil {
		return err
	}
	return item.Value(func(v []byte) error {
		l, err := parseLine(v)
		if err == nil && l.seq != seq {
			err = errIndex
		}
		if err != nil {
			return err
		}
		return f(l)
	})
}

// scan calls f with the lines after a sequence number, in order and without
// gaps, until it says stop or the line last was seen. A line is valid only
// within f.
func (x *index) scan(after, last uint64, f func(l line) (more bool, err error)) error {
	return x.db.View(func(txn *badger.Txn) error {
		o := badger.DefaultIteratorOptions
		o.PrefetchValues = false // values are in the tables themselves
		o.Prefix = []byte{'s'}
		it := txn.NewIterator(o)
		defer it.Close()
		it.Seek(seqKey(after + 1))
		for seq := after + 1; seq <= last; seq++ {
			if !it.Valid() || string(it.Item().Key()) != string(seqKey(seq)) {
				return errIndex
			}
			var more bool
			if err := it.Item().Value(func(v []byte) error {
				l, err := parseLine(v)
				if err != nil {
					return err
				}
				more, err = f(l)
				return err
			}); err != nil || !more {
				return err
			}
			it.Next()
		}
		return nil
	})
}

func (x *index) close() error { return x.db.Close() }

// digestIndex is a digest of the names, sizes and bytes of Badger's files in a folder.
func digestIndex(dir string) (string, error) {
	files, err := os.ReadDir(dir)
	if err != nil {
		return "", err
	}
	h := sha256.New()
	for _, file := range files {
		if !badgerName(file.Name()) {
			continue
		}
		if err := hashFile(h, dir, file.Name()); err != nil {
			return "", err
		}
	}
	return hex.EncodeToString(h.Sum(nil)), nil
}

func hashFile(h io.Writer, dir, name string) error {
	f, err := os.Open(filepath.Join(dir, name))
	if err != nil {
		return err
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return err
	}
	fmt.Fprintf(h, "%q %d\n", name, info.Size())
	_, err = io.Copy(h, f)
	return err
}

// countTables counts the tables of an index.
func countTables(dir string) int {
	tables, _ := filepath.Glob(filepath.Join(dir, "*.sst")) // the pattern is well formed
	return len(tables)
}

// badgerLog passes Badger's warnings on and drops its chatter.
type badgerLog struct{ log *slog.Logger }

func (b badgerLog) Errorf(format string, args ...any)   { b.say(slog.LevelError, format, args) }
func (b badgerLog) Warningf(format string, args ...any) { b.say(slog.LevelWarn, format, args) }
func (b badgerLog) Infof(string, ...any)                {}
func (b badgerLog) Debugf(string, ...any)               {}

func (b badgerLog) say(level slog.Level, format string, args []any) {
	b.log.Log(context.Background(), level, "index: "+strings.TrimSpace(fmt.Sprintf(format, args...)))
}
