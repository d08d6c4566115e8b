package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"os"
	"os/exec"
	"os/signal"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"

	"packwright/internal/store"
)

// TestMain makes the test binary also be packwright, so that scripts run the
// real program in a process of its own.
func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){
		"whohas":   whoHasMain,
		"intruder": intruderMain,
		"packwright": func() {
			ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
			defer stop()
			os.Exit(run(ctx, os.Args[1:], os.Stdout, os.Stderr))
		},
	})
}

// TestScripts runs testdata/*.txtar: the command line and HTTP as text. Beside
// testscript's own commands there are
//
//	status N COMMAND …               run a command that must end with exit status N
//	terminate                        send SIGTERM to the background commands
//	await DIR                        wait until a server has DIR open: $ADDR, $HOSTPORT
//	call METHOD PATH [FILE] [H:V …]  send a request to $ADDR; prints status, headers and body
//	fetch PATH FILE                  save the body of a good answer
//	follow FILE                      the same for the address that the last command named on stderr
//
// Every answer of the API that call sees is checked against openapi.json.
func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir: "testdata",
		Setup: func(e *testscript.Env) error {
			e.Setenv("XDG_DATA_HOME", e.WorkDir+"/home") // never the user's own database
			e.Setenv("HOME", e.WorkDir+"/home")
			return nil
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"status": status, "terminate": terminate, "await": await, "fetch": fetch, "follow": follow,
			"call": func(ts *testscript.TestScript, neg bool, args []string) { call(t, ts, neg, args) },
		},
	})
}

func status(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: status N COMMAND …")
	}
	err := ts.Exec(args[1], args[2:]...)
	got := "0"
	var ended *exec.ExitError
	if errors.As(err, &ended) {
		got = strconv.Itoa(ended.ExitCode())
	} else {
		ts.Check(err)
	}
	if got != args[0] {
		ts.Fatalf("exit status %s, want %s", got, args[0])
	}
}

func terminate(ts *testscript.TestScript, neg bool, args []string) {
	for _, cmd := range ts.BackgroundCmds() {
		ts.Check(cmd.Process.Signal(syscall.SIGTERM))
	}
}

func await(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 {
		ts.Fatalf("usage: await DIR")
	}
	for range 200 {
		if address, locked := store.Locked(ts.MkAbs(args[0])); locked && address != "" {
			if err := answers(address); err == nil {
				ts.Setenv("ADDR", address)
				ts.Setenv("HOSTPORT", strings.TrimPrefix(address, "http://"))
				return
			}
		}
		time.Sleep(50 * time.Millisecond)
	}
	ts.Fatalf("no server opened %s", args[0])
}

func answers(address string) error {
	resp, err := http.Get(address + "/api/v1/health")
	if err != nil {
		return err
	}
	defer resp.Body.Close()
	if resp.StatusCode != http.StatusOK {
		return errors.New(resp.Status)
	}
	return nil
}

func fetch(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: fetch PATH FILE")
	}
	save(ts, ts.Getenv("ADDR")+args[0], args[1])
}

func follow(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 {
		ts.Fatalf("usage: follow FILE")
	}
	address := regexp.MustCompile(`http://[^ ,\n]+`).FindString(ts.ReadFile("stderr"))
	if address == "" {
		ts.Fatalf("stderr names no address")
	}
	save(ts, address, args[0])
}

func save(ts *testscript.TestScript, address, file string) {
	resp, err := http.Get(address)
	ts.Check(err)
	defer resp.Body.Close()
	content, err := io.ReadAll(resp.Body)
	ts.Check(err)
	if resp.StatusCode != http.StatusOK {
		ts.Fatalf("%s: %s\n%s", address, resp.Status, content)
	}
	ts.Check(os.WriteFile(ts.MkAbs(file), content, 0o600))
}

func call(t *testing.T, ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: call METHOD PATH [FILE] [Header:Value …]")
	}
	method, path, rest := args[0], args[1], args[2:]
	var body io.Reader
	header := http.Header{}
	for _, arg := range rest {
		if name, value, isHeader := strings.Cut(arg, ":"); isHeader {
			header.Set(name, value)
			continue
		}
		body = strings.NewReader(ts.ReadFile(arg))
		if header.Get("Content-Type") == "" {
			header.Set("Content-Type", "application/json")
		}
	}
	req, err := http.NewRequest(method, ts.Getenv("ADDR")+path, body)
	ts.Check(err)
	req.Header = header
	if host := header.Get("Host"); host != "" {
		req.Host = host
	}
	if header.Get("Accept-Encoding") == "" {
		req.Header.Set("Accept-Encoding", "identity") // what is asked for is what is shown
	}
	resp, err := http.DefaultTransport.RoundTrip(req) // no redirects followed
	ts.Check(err)
	defer resp.Body.Close()
	content, err := io.ReadAll(resp.Body)
	ts.Check(err)
	api := readAPI(t)
	if api.operation(method, path) != "" && header.Get("Accept-Encoding") == "" {
		ts.Check(api.checkAnswer(t, method, path, resp.StatusCode, resp.Header, content))
	}

	fmt.Fprintln(ts.Stdout(), resp.StatusCode)
	var names []string
	for name := range resp.Header {
		names = append(names, name)
	}
	slices.Sort(names)
	for _, name := range names {
		fmt.Fprintf(ts.Stdout(), "%s: %s\n", name, strings.Join(resp.Header[name], ", "))
	}
	fmt.Fprintf(ts.Stdout(), "\n%s\n", content)
}
