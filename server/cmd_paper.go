package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"slices"

	"github.com/alecthomas/kong"
	"github.com/labstack/echo/v4"

	"packwright/internal/fleet"
	"packwright/internal/problem"
)

// The commands that print paper, and the routes that give the same.
type (
	labelsCmd struct {
		Data string `default:"${data}" type:"path" placeholder:"DIR" help:"Folder of the database (${default})."`
		Out  string `type:"path" placeholder:"FILE" help:"Write the PDF there (standard output)."`
		labelChoices
	}
	checklistCmd struct {
		Data string `default:"${data}" type:"path" placeholder:"DIR" help:"Folder of the database (${default})."`
		Out  string `type:"path" placeholder:"FILE" help:"Write the PDF there (standard output)."`
		checklistChoices
	}
	testsheetCmd struct {
		Data string `type:"path" placeholder:"DIR" help:"Folder of the database, for the team's settings and the pack."`
		Out  string `type:"path" placeholder:"FILE" help:"Write the PDF there (standard output)."`
		testsheetChoices
	}
	packreportCmd struct {
		Data string `default:"${data}" type:"path" placeholder:"DIR" help:"Folder of the database (${default})."`
		Out  string `type:"path" placeholder:"FILE" help:"Write the PDF there (standard output)."`
		packreportChoices
	}
	fleetreportCmd struct {
		Data string `default:"${data}" type:"path" placeholder:"DIR" help:"Folder of the database (${default})."`
		Out  string `type:"path" placeholder:"FILE" help:"Write the PDF there (standard output)."`
		fleetreportChoices
	}
)

// printer is what the choices for every paper can do.
type printer interface {
	// print writes the paper; own is the address phones reach this server at, empty
	// where they do not.
	print(w io.Writer, f *fleet.Fleet, own string, warn paperNotes) error
}

func (cmd *labelsCmd) Run(con *console, typed *kong.Context) error {
	return con.print(cmd.labelChoices, "/api/v1/labels.pdf"+choicesQuery(typed), cmd.Data, cmd.Out)
}

func (cmd *checklistCmd) Run(con *console, typed *kong.Context) error {
	return con.print(cmd.checklistChoices, "/api/v1/checklist.pdf"+choicesQuery(typed), cmd.Data, cmd.Out)
}

func (cmd *testsheetCmd) Run(con *console, typed *kong.Context) error {
	if cmd.Pack != "" && cmd.Data == "" {
		return problem.Invalidf("pack", "name its folder with --data", "--pack needs the database that the pack is in")
	}
	return con.print(cmd.testsheetChoices, "/api/v1/testsheet.pdf"+choicesQuery(typed), cmd.Data, cmd.Out)
}

func (cmd *packreportCmd) Run(con *console, typed *kong.Context) error {
	return con.print(&cmd.packreportChoices, "/api/v1/packreport.pdf"+choicesQuery(typed), cmd.Data, cmd.Out)
}

func (cmd *fleetreportCmd) Run(con *console, typed *kong.Context) error {
	return con.print(&cmd.fleetreportChoices, "/api/v1/fleetreport.pdf"+choicesQuery(typed), cmd.Data, cmd.Out)
}

// print makes a PDF from the journal in a folder. Nothing is written unless the
// whole of it could be made. route, with its query, gives the same from a server.
func (c *console) print(paper printer, route, dir, out string) error {
	f := fleet.New()
	if dir != "" {
		items, err := readClosed(dir, route)
		if err != nil {
			return err
		}
		if f, err = fold(items); err != nil {
			return err
		}
	}
	if out == "" && isTerminal(c.stdout) {
		return problem.Invalidf("out", "add --out FILE.pdf", "a PDF cannot be shown in a terminal")
	}
	if d, ok := paper.(dated); ok {
		d.setNow(c.now())
	}
	var pdf bytes.Buffer
	if err := paper.print(&pdf, f, "", func(text string) { c.note("warning: %s", text) }); err != nil {
		return err
	}
	if out == "" {
		_, err := pdf.WriteTo(c.stdout)
		return err
	}
	if err := os.WriteFile(out, pdf.Bytes(), 0o644); err != nil {
		return outProblem(out, err)
	}
	c.note("wrote %s", out)
	return nil
}

// outProblem puts into words why the file out could not be written.
func outProblem(out string, err error) error {
	if info, statErr := os.Stat(out); statErr == nil && info.IsDir() {
		return problem.Invalidf("out", "name a file in it, as in --out "+filepath.Join(out, "paper.pdf"), "%s is a folder", out)
	}
	if errors.Is(err, fs.ErrNotExist) {
		return problem.New(problem.NotFound, "make it first, or write elsewhere with --out", "there is no folder %s", filepath.Dir(out))
	}
	return problem.New(problem.Conflict, "write elsewhere with --out", "the PDF could not be written: %v", err)
}

// choicesQuery gives the flags that were typed as the query of the API, except
// those that say where to read and write.
func choicesQuery(typed *kong.Context) string {
	query := url.Values{}
	for _, part := range typed.Path {
		if part.Flag == nil || part.Flag.Name == "data" || part.Flag.Name == "out" {
			continue
		}
		switch value := typed.FlagValue(part.Flag).(type) {
		case []string:
			query[part.Flag.Name] = value
		default:
			query.Set(part.Flag.Name, fmt.Sprint(value))
		}
	}
	if len(query) == 0 {
		return ""
	}
	return "?" + query.Encode()
}

// isTerminal reports whether w is a character device.
func isTerminal(w io.Writer) bool {
	f, ok := w.(*os.File)
	if !ok {
		return false
	}
	info, err := f.Stat()
	return err == nil && info.Mode()&os.ModeCharDevice != 0
}

func (s *server) labelsPDF(c echo.Context) error { return s.sendPDF(c, &labelChoices{}, "labels.pdf") }
func (s *server) checklistPDF(c echo.Context) error {
	return s.sendPDF(c, &checklistChoices{}, "checklist.pdf")
}
func (s *server) testsheetPDF(c echo.Context) error {
	return s.sendPDF(c, &testsheetChoices{}, "testsheet.pdf")
}

func (s *server) packreportPDF(c echo.Context) error {
	return s.sendPDF(c, &packreportChoices{}, "packreport.pdf")
}
func (s *server) fleetreportPDF(c echo.Context) error {
	return s.sendPDF(c, &fleetreportChoices{}, "fleetreport.pdf")
}

// sendPDF reads the choices from the query and sends the paper. What was printed
// otherwise than asked is told in Packwright-Warning headers, percent-encoded,
// commas too: a browser shows several as one, joined by commas.
func (s *server) sendPDF(c echo.Context, choices printer, name string) error {
	if err := readChoices(c.QueryParams(), choices); err != nil {
		return err
	}
	select {
	case s.printer <- struct{}{}:
		defer func() { <-s.printer }()
	case <-c.Request().Context().Done():
		return nil
	}
	f, err := fold(s.store.All())
	if err != nil {
		return err
	}
	if d, ok := choices.(dated); ok {
		d.setNow(s.now())
	}
	var pdf bytes.Buffer
	var warnings []string
	if err := choices.print(&pdf, f, s.origin, func(text string) { warnings = append(warnings, url.PathEscape(text)) }); err != nil {
		return err
	}
	h := c.Response().Header()
	for _, warning := range warnings {
		h.Add("Packwright-Warning", warning)
	}
	// Browsers show a PDF with code of their own, which the API's policy would stop.
	h.Set("Content-Security-Policy", "script-src 'none'; frame-ancestors 'none'")
	h.Set("Content-Disposition", fmt.Sprintf("inline; filename=%q", name))
	return c.Blob(http.StatusOK, "application/pdf", pdf.Bytes())
}

// readChoices reads a query as if each pair had been typed as a flag.
func readChoices(query url.Values, choices any) error {
	var args []string
	for _, name := range slices.Sorted(maps.Keys(query)) { // the same message for the same mistakes
		for _, value := range query[name] {
			args = append(args, "--"+name+"="+value)
		}
	}
	parser, err := kong.New(choices, kong.NoDefaultHelp(), kong.Exit(func(int) {}), kong.Vars{"sizes": sizeList()})
	if err != nil {
		return err
	}
	if _, err := parser.Parse(args); err != nil {
		return problem.New(problem.Invalid, "the query takes the flags of the command, see packwright --help", "%v", err)
	}
	return nil
}
