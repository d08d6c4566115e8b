// Package store keeps the journal of a data folder: every entry it has said
// "accepted" to is on the disk and stays there.
//
// Use Open first, then Append, Page and Close. The rest serves sync (Wanted,
// Subscribe), the fold at start (All) and reading without a server (ReadFile).
//
// # What is promised
//
//   - An entry is called accepted only after it was written to the journal file
//     and fsynced. A crash, kill -9 or power cut after that does not lose it.
//   - Sequence numbers count from 1 without gaps, in the order of commit, and
//     become visible only when the entry is durable and readable.
//   - Stored entries never change. The same entry again is a duplicate, another
//     one under the same id a conflict.
//   - Damage is found at start, said in the Report, and never makes entries
//     vanish in silence. Bytes that had to be cut are kept in a file aside.
//   - After damage, a restored or copied folder, or anything that cannot be
//     proved whole, the epoch is new, so that every phone offers what it holds.
//   - A full disk gives an error of kind NoSpace and no false acknowledgement.
//     When there is space again it works again, without a restart.
//
// # What cannot be promised
//
//   - A disk that lies about fsync, or a folder on a network drive whose locks
//     or fsync do not work.
//   - A disk put back as a whole to an earlier state (a virtual machine's
//     snapshot), or all files overwritten in place by older ones, looks untouched;
//     only a phone's cursor beyond the head gives it away.
//   - Badger maps its files into memory. Its index is written only while
//     spareBytes are free, but a program that fills all of that within the
//     milliseconds of one write could still kill the process. Nothing
//     acknowledged is lost by it.
//
// # The files of a data folder
//
//	journal.jsonl   the truth: one JSON object a line (below)
//	journal.mark    how far the journal went, and the seal of the index
//	index/          Badger; may be deleted at any time while nothing runs
//	lock            held while a process has the folder open; says where it serves
//	journal.cut-…   bytes cut from the journal at a start; kept for a person to look at
//
// # The journal file
//
// The first line is a header with the format version and the epoch. Each
// further line is one entry:
//
//	{"seq":7,"prev":"<64 hex>","received_ms":1764060000000,"brought_by":"…","entry":{…},"sha256":"<64 hex>"}
//
// sha256 is the SHA-256 of the line's text before ,"sha256": so each line
// checks itself; prev is the sha256 of the line before, so lines cannot be
// lost, doubled or swapped unnoticed. A text editor and sha256sum are enough to
// check it:
//
//	sed -n 8p journal.jsonl | sed 's/,"sha256":"[0-9a-f]*"}$//' | tr -d '\n' | sha256sum
//
// SHA-256 and not a CRC, because everybody has a tool for it, the sum of the
// last line stands for the whole history (two copies are the same if it is
// the same), and it costs a tenth of a second for 100,000 entries. The entry is
// in the canonical form of RFC 8785, so that spacing, the order of names and
// 12.80 for 12.8 make no other entry. Its numbers are those of RFC 8785: IEEE
// 754 doubles.
//
// # The index
//
// Badger holds id → seq and seq → the line, uncompressed. It is written after
// the journal and is never synced: it can be made again from the journal. On
// Close the folder's mark is sealed with a digest of the index files; an index
// whose files are not exactly those of the seal is not opened but made again,
// because Badger ends the process, or silently forgets entries, on damaged
// files. When the disk is almost full the index moves into memory.
//
// Each line checks itself, wherever it stands. So when the journal is damaged,
// lines are also looked for in the raw bytes of the index files: a second copy
// on the same disk.
package store

import (
	"crypto/rand"
	"errors"
	"io"
	"log/slog"
	"os"
	"path/filepath"
	"sync"
	"sync/atomic"
	"time"

	"packwright/internal/filelock"
	"packwright/internal/safefile"
)

// Names in the data folder.
const (
	journalName = "journal.jsonl"
	markName    = "journal.mark"
	indexName   = "index"
	lockName    = "lock"
)

// Options of Open. The zero value is good for a server.
type Options struct {
	Address string           // where this process serves, for a second one to name; SetAddress may say it later
	Now     func() time.Time // clock for the time of receipt; nil: time.Now
	Random  io.Reader        // source of the epoch; nil: crypto/rand
	Log     *slog.Logger     // trouble in and below the store; nil: silence

	spare uint64                   // least free bytes for an index on disk; 0: spareBytes
	at    func(point string) error // called at named points of a commit; tests fail or die there
}

// Store is the open journal of one data folder. All methods may be called at
// the same time from several goroutines.
type Store struct {
	o      Options
	dir    string
	lock   *filelock.Lock
	epoch  string
	report Report

	requests chan *request
	quit     chan struct{} // closed by Close
	done     chan struct{} // closed when the writer has ended
	closing  sync.Once
	closeErr error

	journal *journalFile // the writer's; readers open the file themselves
	mark    *markFile    // the writer's

	mu    sync.RWMutex // guards index; held for writing only to exchange it
	index *index
	head  atomic.Uint64 // last readable seq
	end   atomic.Int64  // bytes of the journal file up to head

	listeners listeners
}

var errClosed = errors.New("the store is closed")

// Open opens the data folder dir, makes it where it is missing, mends what is
// damaged, and says in Report what it found. It fails with InUse while another
// process has the folder open, NoSpace if there is no room to start or to
// mend, Unsupported for a journal of a newer version, and Conflict, with nothing
// written, for a folder that holds something else.
func Open(dir string, o Options) (*Store, error) {
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Random == nil {
		o.Random = rand.Reader
	}
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	if o.spare == 0 {
		o.spare = spareBytes
	}
	if o.at == nil {
		o.at = func(string) error { return nil }
	}
	dir, err := filepath.Abs(dir)
	if err != nil {
		return nil, err
	}
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return nil, folderProblem(dir, err)
	}
	// A new folder's name must be durable, too; where that is not allowed, the
	// parent is not ours and was there before.
	_ = safefile.SyncDir(filepath.Dir(dir))
	s := &Store{
		o: o, dir: dir,
		requests: make(chan *request, 64),
		quit:     make(chan struct{}),
		done:     make(chan struct{}),
	}
	if err := s.checkFolder(); err != nil {
		return nil, folderProblem(dir, err)
	}
	if s.lock, err = takeLock(dir, o.Address); err != nil {
		return nil, folderProblem(dir, err)
	}
	if err := s.start(); err != nil {
		return nil, errors.Join(folderProblem(dir, err), s.release())
	}
	go s.write()
	return s, nil
}

// start brings journal, index and mark into agreement.
func (s *Store) start() error {
	mark, markErr := readMark(filepath.Join(s.dir, markName))
	if markErr != nil && !errors.Is(markErr, os.ErrNotExist) { // a new folder has none; settle knows when it is missed
		s.o.Log.Warn("journal.mark cannot be used", "err", markErr)
	}
	path := filepath.Join(s.dir, journalName)
	st, err := s.settle(path, mark)
	if err != nil {
		return err
	}
	s.epoch = st.epoch
	s.report.Epoch, s.report.Entries = st.epoch, st.seq
	if s.journal, err = openJournal(path, st); err != nil {
		return err
	}
	// The old seal is gone before Badger may touch a file.
	if s.mark, err = createMark(filepath.Join(s.dir, markName), s.position()); err != nil {
		return err
	}
	if err := s.startIndex(mark, st); err != nil {
		return err
	}
	s.end.Store(st.end)
	s.head.Store(st.seq)
	return nil
}

// position is what the mark says at this moment.
func (s *Store) position() mark {
	return mark{Epoch: s.epoch, Seq: s.journal.seq, Sum: s.journal.sum, File: s.journal.identity}
}

// Head gives the epoch, fixed as long as the store is open, and the sequence
// number of the newest entry.
func (s *Store) Head() (epoch string, seq uint64) { return s.epoch, s.head.Load() }

// Report says what Open found and did.
func (s *Store) Report() Report { return s.report }

// SetAddress says where this process serves, so that a second one can name it.
func (s *Store) SetAddress(address string) error { return s.lock.SetAddress(address) }
