package main

import (
	"bufio"
	"net/http"

	"github.com/labstack/echo/v4"
)

const journalRoute = "/api/v1/journal.jsonl"

type journalCmd struct {
	Data string `default:"${data}" type:"path" placeholder:"DIR" help:"Folder of the database (${default})."`
}

func (cmd *journalCmd) Run(con *console) error {
	items, err := readClosed(cmd.Data, journalRoute)
	if err != nil {
		return err
	}
	out := bufio.NewWriter(con.stdout)
	if err := writeLines(out, items); err != nil {
		return err
	}
	return out.Flush()
}

// journalFile is what the journal command prints, from an open store. Once it has
// begun, only breaking the connection off can tell that it is not whole.
func (s *server) journalFile(c echo.Context) error {
	h := c.Response().Header()
	h.Set("Content-Type", "application/jsonl; charset=utf-8")
	h.Set("Content-Disposition", `attachment; filename="packwright-journal.jsonl"`)
	c.Response().WriteHeader(http.StatusOK)
	if err := writeLines(c.Response(), s.store.All()); err != nil {
		s.log.Error("journal file cut short", "err", err)
		panic(http.ErrAbortHandler)
	}
	return nil
}
