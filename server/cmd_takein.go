package main

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net/http"
	"os"
	"strings"

	"packwright/internal/problem"
	"packwright/internal/store"
)

type takeInCmd struct {
	File string `arg:"" type:"path" name:"file" help:"Journal that a phone saved, or that packwright journal printed: one entry a line, as JSON."`
	Data string `default:"${data}" type:"path" placeholder:"DIR" help:"Folder of the database (${default}), of a server that runs or not."`
}

// Bounds of one request; see maxBodyBytes and maxPushEntries.
const (
	takeInBytes   = maxBodyBytes - 64<<10 // of entries
	takeInEntries = maxPushEntries
)

// Run takes in every line that can be: into the running server, or into the database
// of one that is stopped. A bad line is named and passed over. Taking the same file
// in again changes nothing.
func (cmd *takeInCmd) Run(con *console) (err error) {
	file, err := os.Open(cmd.File)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return problem.New(problem.NotFound, "name the file that the phone saved", "there is no file %s", cmd.File)
	case err != nil:
		return problem.New(problem.NotFound, "", "the file cannot be read: %v", err)
	}
	defer file.Close()
	push, stop, err := cmd.journal(con)
	if err != nil {
		return err
	}
	taken := takenIn{con: con}
	err = taken.all(con.ctx, file, push)
	if err = errors.Join(err, stop()); err != nil {
		return err
	}
	if _, err := fmt.Fprintf(con.stdout, "new: %d, known already: %d, refused: %d\n", taken.fresh, taken.known, taken.refused); err != nil {
		return err
	}
	switch {
	case taken.refused > 0:
		return problem.New(problem.Conflict, "keep the file: the lines above are only in it", "of %d lines %d were not taken in", taken.lines, taken.refused)
	case taken.lines == 0:
		return problem.New(problem.Conflict, "save the journal again on the phone; if "+programName+" journal was to write it, that failed, as it does while a server has the folder open: stop the server with Ctrl-C and run it again",
			"there is no entry in %s", cmd.File)
	}
	return nil
}

// pushes stores a batch of entries and gives a result for each.
type pushes func(ctx context.Context, raws []json.RawMessage) ([]pushResult, error)

// journal finds where entries go: to the server that runs, at the address for this
// machine only, or into the database itself. Both have the same rules, and file them
// under this machine, which brought them. stop ends it.
func (cmd *takeInCmd) journal(con *console) (push pushes, stop func() error, err error) {
	if address, running := store.Locked(cmd.Data); running && address != "" {
		return func(ctx context.Context, raws []json.RawMessage) ([]pushResult, error) {
			var answer pushAnswer
			err := askHere(ctx, http.MethodPost, address+"/api/v1/entries", pushRequest{Entries: raws}, &answer)
			return answer.Results, err
		}, func() error { return nil }, nil
	}
	kept, err := store.Open(cmd.Data, store.Options{Now: con.now})
	if err != nil {
		return nil, nil, err
	}
	for _, found := range kept.Report().Sentences() {
		con.note("%s", found)
	}
	s := &server{store: kept, now: con.now}
	return func(ctx context.Context, raws []json.RawMessage) ([]pushResult, error) {
		stored, err := s.appendFrom(ctx, here, raws)
		return resultsOf(stored), err
	}, kept.Close, nil
}

// takenIn counts what became of the lines of a file.
type takenIn struct {
	con                          *console
	lines, fresh, known, refused int

	batch   []json.RawMessage
	numbers []int // of the lines in the batch
	bytes   int
}

// all takes in a file, batch by batch.
func (t *takenIn) all(ctx context.Context, file io.Reader, push pushes) error {
	in := bufio.NewReaderSize(file, 64<<10)
	for number := 1; ; number++ {
		line, whole, err := nextLine(in, takeInBytes)
		if err != nil && err != io.EOF {
			return problem.New(problem.Damaged, "copy it again from the phone", "the file cannot be read after line %d: %v", number-1, err)
		}
		if number == 1 {
			line = bytes.TrimPrefix(line, []byte("\xef\xbb\xbf")) // some programs begin a text with it
		}
		if line = bytes.TrimSpace(line); len(line) > 0 || !whole {
			t.lines++
			switch {
			case bytes.HasPrefix(line, []byte(`{"packwright":"journal"`)):
				return problem.New(problem.Unsupported, "print it as entries first: packwright journal --data ITS-FOLDER > entries.jsonl",
					"this is the journal of a data folder, not one that a phone saved")
			case !whole:
				t.refuse(number, "the line is too long for an entry", "")
			case !json.Valid(line):
				t.refuse(number, "this is not JSON, or it breaks off", "save the journal again on the phone, and copy the file whole")
			default:
				if t.bytes+len(line) > takeInBytes || len(t.batch) == takeInEntries {
					if err := t.send(ctx, push); err != nil {
						return err
					}
				}
				t.batch, t.numbers, t.bytes = append(t.batch, line), append(t.numbers, number), t.bytes+len(line)+1
			}
		}
		if err == io.EOF {
			return t.send(ctx, push)
		}
	}
}

// nextLine reads a line into memory of its own. One over most bytes is read past and
// not given; whole is false then.
func nextLine(in *bufio.Reader, most int) (line []byte, whole bool, err error) {
	whole = true
	for {
		part, err := in.ReadSlice('\n')
		if whole = whole && len(line)+len(part) <= most; whole {
			line = append(line, part...)
		} else {
			line = nil
		}
		if err != bufio.ErrBufferFull {
			return line, whole, err
		}
	}
}

// send stores the batch and counts.
func (t *takenIn) send(ctx context.Context, push pushes) error {
	if len(t.batch) == 0 {
		return nil
	}
	results, err := push(ctx, t.batch)
	if err != nil {
		return err
	}
	if len(results) != len(t.batch) {
		return fmt.Errorf("%d results for %d entries", len(results), len(t.batch))
	}
	for i, r := range results {
		switch r.Status {
		case store.Accepted:
			t.fresh++
		case store.Duplicate:
			t.known++
		default:
			t.refuse(t.numbers[i], r.Reason, r.Hint)
		}
	}
	t.batch, t.numbers, t.bytes = nil, nil, 0
	return nil
}

// refuse names a line that is not taken in.
func (t *takenIn) refuse(number int, reason, hint string) {
	t.refused++
	if hint = strings.TrimSpace(hint); hint != "" {
		hint = " (" + hint + ")"
	}
	t.con.note("line %d: %s%s", number, reason, hint)
}
