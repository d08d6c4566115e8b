package main

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"iter"
	"os"

	"packwright/internal/fleet"
	"packwright/internal/journal"
	"packwright/internal/problem"
	"packwright/internal/store"
)

// readClosed reads the journal in a folder that no server has open. Where one
// has, the problem names the address that gives the same: its own plus route, where
// there is such a route.
func readClosed(dir, route string) (iter.Seq2[store.Item, error], error) {
	if _, err := os.Stat(dir); errors.Is(err, fs.ErrNotExist) {
		return nil, problem.New(problem.NotFound,
			fmt.Sprintf("name it with --data, or make one: %s serve or %[1]s demo", programName), "there is no database in %s", dir)
	}
	if address, locked := store.Locked(dir); locked {
		hint := "stop the server first, with Ctrl-C in its window"
		if address != "" && route != "" {
			hint += ", or get it from the server, at " + address + route
		}
		return nil, problem.New(problem.InUse, hint, "a running server has the database in %s open", dir)
	}
	return store.ReadFile(dir), nil
}

// writeLines writes entries as JSON lines, as they are stored.
func writeLines(w io.Writer, items iter.Seq2[store.Item, error]) error {
	for item, err := range items {
		if err != nil {
			return err
		}
		if _, err := w.Write(append(item.Entry, '\n')); err != nil {
			return err
		}
	}
	return nil
}

// fold takes stored entries into a fleet.
func fold(items iter.Seq2[store.Item, error]) (*fleet.Fleet, error) {
	f := fleet.New()
	for item, err := range items {
		if err != nil {
			return nil, err
		}
		entry, err := journal.ParseEntry(item.Entry)
		if err != nil {
			return nil, fmt.Errorf("stored entry %d: %w", item.Seq, err)
		}
		f.Add(entry)
	}
	return f, nil
}
