// Command packwright looks after a robot team's battery packs: it computes and
// judges load tests, prints labels and sheets, and serves the web app that
// phones use and synchronise with.
//
// main is only a door: run starts the same program on any arguments and
// streams, and never ends the process. cli.go says what the user sees,
// routes.go holds every route.
package main

import (
	"context"
	"io"
	"os"
	"os/signal"
	"strings"
	"syscall"
	"time"

	"github.com/alecthomas/kong"

	"packwright/internal/fleet"
	"packwright/internal/measure"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	context.AfterFunc(ctx, stop) // a second interrupt ends the process at once
	status := run(ctx, os.Args[1:], os.Stdout, os.Stderr)
	os.Exit(status)
}

// run runs the command in args until it is done or ctx is cancelled, and gives
// the exit status: exitDone, exitFailed or exitMisused.
func run(ctx context.Context, args []string, stdout, stderr io.Writer) int {
	con := &console{ctx: ctx, stdout: stdout, stderr: stderr, now: time.Now}
	var (
		commands cli
		helped   bool // kong wrote the help that was asked for
	)
	parser, err := kong.New(&commands,
		kong.Name(programName),
		kong.Description("Looks after a robot team's battery packs: resistance tests with their uncertainty, decisions, labels, and the server phones synchronise with."),
		kong.Writers(stdout, stderr),
		kong.Exit(func(int) { helped = true }),
		kong.ConfigureHelp(kong.HelpOptions{Compact: true, WrapUpperBound: 100}),
		kong.Vars{"data": defaultDataDir(), "sizes": sizeList()},
		kong.Vars(resistanceDefaults()),
		kong.Vars{"joints": strings.Join(jointKinds(), ", "), "peak": measure.Show(fleet.Defaults().Limits.Robot.PeakA, "A")},
		kong.NamedMapper("path", kong.MapperFunc(readPath)),
		kong.Bind(con),
	)
	if err != nil {
		return con.fail(err)
	}
	chosen, err := parser.Parse(joinNegative(args))
	if helped {
		return exitDone
	}
	if err != nil {
		return con.misused(err)
	}
	if err := chosen.Run(); err != nil {
		return con.fail(err)
	}
	return exitDone
}
