package store

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"syscall"

	"packwright/internal/filelock"
	"packwright/internal/problem"
	"packwright/internal/safefile"
)

// checkFolder refuses, before anything is written, a folder that holds
// something else: a data folder is empty, or has a journal, a mark, or an index
// with our lines in it. What a first start that stopped half-way leaves is as
// good as empty.
func (s *Store) checkFolder() error {
	if err := s.checkNames(); err != nil {
		return err
	}
	entries, err := os.ReadDir(s.dir)
	if err != nil {
		return err
	}
	stranger := ""
	for _, entry := range entries {
		switch name := entry.Name(); {
		case name == journalName, name == markName:
			return nil
		case name == journalName+".new", name == lockName && filelock.Ours(filepath.Join(s.dir, name)):
		default:
			stranger = name
		}
	}
	if stranger == "" || s.indexGoesBeyond(0) {
		return nil
	}
	return problem.New(problem.Conflict, "choose an empty folder or one that packwright made",
		"the folder %s holds files that packwright did not make (%s)", s.dir, stranger)
}

// checkNames refuses folders where a file of ours must stand, and the other way round.
func (s *Store) checkNames() error {
	for _, name := range []string{journalName, markName, lockName, indexName} {
		info, err := os.Stat(filepath.Join(s.dir, name))
		if errors.Is(err, fs.ErrNotExist) {
			continue
		}
		if err != nil {
			return err
		}
		if info.IsDir() != (name == indexName) {
			return wrongSort(s.dir, name)
		}
	}
	return nil
}

// wrongSort is the problem of a name that is taken by a folder where a file
// belongs, or by a file where the index belongs.
func wrongSort(dir, name string) error {
	is, wanted := "a folder", "a file"
	if name == indexName {
		is, wanted = wanted, is
	}
	return problem.New(problem.Conflict, "move it elsewhere, or choose another folder",
		"%s in the data folder %s is %s, not %s", name, dir, is, wanted)
}

// removeIndex removes the files of an index. What Badger did not make stays,
// and the folder with it.
func removeIndex(dir string) error {
	files, err := os.ReadDir(dir)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	for _, file := range files {
		if badgerName(file.Name()) {
			if err := os.Remove(filepath.Join(dir, file.Name())); err != nil {
				return err
			}
		}
	}
	_ = os.Remove(dir)
	return nil
}

// badgerName says whether Badger gives a file this name.
func badgerName(name string) bool {
	switch ext := filepath.Ext(name); ext {
	case ".sst", ".vlog", ".mem":
		number := strings.TrimSuffix(name, ext)
		return number != "" && strings.Trim(number, "0123456789") == ""
	}
	switch name {
	case "MANIFEST", "MANIFEST-REWRITE", "KEYREGISTRY", "REWRITE-KEYREGISTRY", "DISCARD", "LOCK":
		return true
	}
	return false
}

// folderProblem puts what can be mended outside the program into words.
func folderProblem(dir string, err error) error {
	switch {
	case safefile.IsNoSpace(err):
		return noSpace(dir)
	case errors.Is(err, fs.ErrPermission):
		return problem.New(problem.Invalid, "choose another folder, or change its permissions",
			"this user may not use the data folder %s", dir)
	case errors.Is(err, syscall.ENOTDIR):
		return problem.New(problem.Invalid, "give a folder; where there is none, packwright serve makes it",
			"the data folder %s is or lies below a file", dir)
	}
	return err
}

func noSpace(dir string) error {
	return problem.New(problem.NoSpace, "free some space and try again; nothing was lost",
		"the disk with the data folder %s is full", dir)
}
