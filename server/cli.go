package main

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"reflect"
	"strings"
	"time"

	"github.com/alecthomas/kong"

	"packwright/internal/problem"
)

// What the user sees, and where:
//
//   - What was asked for goes to stdout and nothing else does, so that it can be
//     piped; everything said beside it goes to stderr, each line under the
//     program's name.
//   - "packwright: error: …" says what was wrong, with the value at fault.
//     "packwright: hint: …" on the next line says what to try. No capital at the
//     start and no full stop at the end.
//   - Exit status 0: done. 1: failed. 2: used wrongly (a flag that does not
//     exist, or a value that cannot be used); nothing was changed then.
const (
	programName = "packwright"

	exitDone    = 0
	exitFailed  = 1
	exitMisused = 2
)

// cli is the table of commands.
type cli struct {
	Resistance  resistanceCmd  `cmd:"" help:"Work out a pack's resistance from a load test, with its uncertainty and a decision."`
	Trend       trendCmd       `cmd:"" help:"Say where the packs' resistance is going, and when it will cross the limit."`
	Lead        leadCmd        `cmd:"" help:"Work out what a pack's lead costs: wires, contacts and fuse, part by part."`
	Logged      loggedCmd      `cmd:"" help:"Say what a logger's file of a run shows (CSV with time, volts, perhaps amps)."`
	Serve       serveCmd       `cmd:"" help:"Serve the web app and keep the team's journal."`
	Join        joinCmd        `cmd:"" help:"Join another packwright server, to exchange entries with it."`
	Invite      inviteCmd      `cmd:"" help:"Show a code with which one more device joins the running server."`
	Doctor      doctorCmd      `cmd:"" help:"Look at what usually keeps phones out, and say what to do."`
	Labels      labelsCmd      `cmd:"" help:"Print labels for the packs (PDF)."`
	Checklist   checklistCmd   `cmd:"" help:"Print the charge checklist for an event day (PDF)."`
	Testsheet   testsheetCmd   `cmd:"" help:"Print a blank sheet for load tests on paper (PDF)."`
	Packreport  packreportCmd  `cmd:"" help:"Print a page on each pack: decision, plot, findings, tests, working (PDF)."`
	Fleetreport fleetreportCmd `cmd:"" help:"Print a page on all packs: which are fit, what to mend, what to buy (PDF)."`
	Demo        demoCmd        `cmd:"" help:"Load an invented season into an empty database."`
	Journal     journalCmd     `cmd:"" help:"Print every entry of the journal, one JSON object a line."`
	TakeIn      takeInCmd      `cmd:"" name:"take-in" help:"Take in a journal that a phone saved as a file."`
	Version     versionCmd     `cmd:"" help:"Print the version."`
}

// console is what a command may touch of the outside.
type console struct {
	ctx            context.Context
	stdout, stderr io.Writer
	now            func() time.Time
}

// note tells something that is neither result nor error.
func (c *console) note(format string, args ...any) {
	fmt.Fprintf(c.stderr, programName+": "+format+"\n", args...)
}

// fail reports err and gives the exit status for it: what a person typed wrongly
// is a misuse, everything else a failure.
func (c *console) fail(err error) int {
	p, ok := problem.As(err)
	if !ok {
		c.report(err.Error(), "")
		return exitFailed
	}
	c.report(p.Text, p.Hint)
	if p.Kind == problem.Invalid {
		return exitMisused
	}
	return exitFailed
}

// printJSON writes the one object that --json asks for.
func (c *console) printJSON(v any) error {
	out := json.NewEncoder(c.stdout)
	out.SetEscapeHTML(false)
	out.SetIndent("", "  ")
	return out.Encode(v)
}

// readPath reads a path from a flag. An empty one, such as an unset variable of
// a script leaves, would mean the current folder, which nobody wrote.
func readPath(flag *kong.DecodeContext, target reflect.Value) error {
	var path string
	if err := flag.Scan.PopValueInto("path", &path); err != nil {
		return err
	}
	if path == "" {
		return problem.Invalidf(flag.Value.Name, "name it, or leave --"+flag.Value.Name+" out; the current folder is .",
			"--%s is empty", flag.Value.Name)
	}
	target.SetString(kong.ExpandPath(path))
	return nil
}

// joinNegative writes "--temperature -5" as "--temperature=-5", because the parser
// takes what begins with a hyphen for a flag. No flag begins with a digit.
func joinNegative(args []string) []string {
	var joined []string
	for _, arg := range args {
		last := len(joined) - 1
		if len(arg) > 1 && arg[0] == '-' && strings.ContainsRune("0123456789.", rune(arg[1])) &&
			last >= 0 && strings.HasPrefix(joined[last], "--") && !strings.Contains(joined[last], "=") {
			joined[last] += "=" + arg
			continue
		}
		joined = append(joined, arg)
	}
	return joined
}

// misused reports an error of the command line itself.
func (c *console) misused(err error) int {
	if p, ok := problem.As(err); ok {
		return c.fail(p)
	}
	text, guess, guessed := strings.Cut(err.Error(), ", did you mean ")
	hint := "see " + programName + " --help"
	if guessed {
		hint = "did you mean " + guess
	}
	c.report(text, hint)
	return exitMisused
}

func (c *console) report(text, hint string) {
	c.note("error: %s", text)
	if hint != "" {
		c.note("hint: %s", hint)
	}
}
