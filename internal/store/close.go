package store

import (
	"errors"
	"path/filepath"
)

// Close finishes what is being written, seals the index and gives the folder
// free. Further calls give the same answer.
func (s *Store) Close() error {
	s.closing.Do(func() {
		close(s.quit)
		<-s.done
		s.listeners.close()
		s.mu.Lock()
		defer s.mu.Unlock()
		s.closeErr = errors.Join(s.seal(), s.release())
	})
	return s.closeErr
}

// seal closes the index and writes its digest into the mark. Without a seal
// the next start makes the index again; so a failure here loses nothing.
func (s *Store) seal() error {
	index := s.index
	s.index = nil
	if index.memory {
		return index.close()
	}
	if s.crowded(0) || s.head.Load() != s.journal.seq {
		// Closing Badger would write, see the package comment; and an index that
		// is behind must not be trusted.
		s.o.Log.Warn("the index is left unsealed")
		return nil
	}
	if err := index.close(); err != nil {
		return err
	}
	digest, err := digestIndex(filepath.Join(s.dir, indexName))
	if err != nil {
		return err
	}
	m := s.position()
	m.Index = digest
	return errors.Join(s.mark.write(m), s.mark.file.Sync())
}

// release closes whatever is open.
func (s *Store) release() error {
	var errs []error
	if s.mark != nil {
		errs = append(errs, s.mark.file.Close())
	}
	if s.journal != nil {
		errs = append(errs, s.journal.file.Close())
	}
	return errors.Join(append(errs, s.lock.Release())...)
}
