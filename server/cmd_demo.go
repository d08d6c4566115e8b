package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"slices"

	"packwright/internal/demo"
	"packwright/internal/problem"
	"packwright/internal/store"
)

type demoCmd struct {
	Data string `default:"${data}" type:"path" placeholder:"DIR" help:"Folder of the database (${default}); it must be empty or new."`
}

// Run stores the invented season, into an empty database only: it must never mix
// with what a team really measured.
func (cmd *demoCmd) Run(con *console) (err error) {
	kept, err := store.Open(cmd.Data, store.Options{Now: con.now})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, kept.Close()) }()
	if _, head := kept.Head(); head > 0 {
		return problem.New(problem.Conflict, "load the invented season into a new folder, as in --data demo-season",
			"the database in %s already holds %d entries", cmd.Data, head)
	}
	var raws []json.RawMessage
	for _, entry := range demo.Season() {
		raw, err := json.Marshal(entry)
		if err != nil {
			return err
		}
		raws = append(raws, raw)
	}
	for batch := range slices.Chunk(raws, maxPushEntries) {
		results, err := kept.Append(con.ctx, batch, "demo")
		if err != nil {
			return err
		}
		for _, r := range results {
			if r.Status != store.Accepted {
				return fmt.Errorf("entry %s of the invented season: %s: %s", r.ID, r.Status, r.Reason)
			}
		}
	}
	con.note("loaded an invented season of %d entries into %s", len(raws), cmd.Data)
	return nil
}
