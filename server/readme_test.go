package main

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"packwright/internal/store"
)

// buildBinary builds the program once for all tests that need the real one.
var buildBinary = sync.OnceValues(func() (string, error) {
	dir, err := os.MkdirTemp("", "packwright-test-")
	if err != nil {
		return "", err
	}
	bin := filepath.Join(dir, "packwright")
	cmd := exec.Command("go", "build", "-o", bin, ".")
	cmd.Env = append(os.Environ(), "CGO_ENABLED=0")
	if out, err := cmd.CombinedOutput(); err != nil {
		return "", fmt.Errorf("%w\n%s", err, out)
	}
	return bin, nil
})

// TestReadme runs every command in the fenced blocks marked sh in README.md, in
// order and exactly as written, in a folder that is also the home folder and holds
// bin/packwright and nothing else:
//
//   - bin/packwright …: it must succeed. bin/packwright serve is started, on free
//     ports of this machine unless it names some, must come up, and serves while what
//     is below it in its block is run; at the end of the block an interrupt stops it.
//     bin/packwright doctor may find something bad, and must say so.
//   - make …: make must find the target and everything it is made from (make -n),
//     and use each variable that is given. It is not run: that builds and tests all there is, this test with it.
//   - git clone and cd: only that nothing else is in the line.
//   - mkdir, cp, tar, ls, printf: run as they stand.
//
// Anything else fails the test, so that no block goes unchecked.
func TestReadme(t *testing.T) {
	readme, err := os.ReadFile("../README.md")
	if err != nil {
		t.Fatal(err)
	}
	bin, err := buildBinary()
	if err != nil {
		t.Fatal(err)
	}
	home := t.TempDir()
	if err := errors.Join(os.Mkdir(filepath.Join(home, "bin"), 0o700), os.Symlink(bin, filepath.Join(home, "bin", "packwright"))); err != nil {
		t.Fatal(err)
	}
	r := reader{t: t, home: home, env: append(os.Environ(), "HOME="+home, "XDG_DATA_HOME=")}
	blocks := readmeCommands(string(readme))
	if len(blocks) == 0 {
		t.Fatal("README.md has no block marked sh")
	}
	for _, commands := range blocks {
		for _, command := range commands {
			r.follow(command)
		}
		r.stop()
	}
}

var shBlock = regexp.MustCompile("(?ms)^ *```sh\n(.*?)^ *```$")

// readmeCommands gives the commands in each block marked sh, without comments, with
// continued lines joined.
func readmeCommands(text string) [][]string {
	var blocks [][]string
	for _, block := range shBlock.FindAllStringSubmatch(text, -1) {
		var commands []string
		joined := strings.ReplaceAll(block[1], "\\\n", " ")
		for line := range strings.Lines(joined) {
			line, _, _ = strings.Cut(line, " #")
			if line = strings.TrimSpace(line); line != "" && !strings.HasPrefix(line, "#") {
				commands = append(commands, line)
			}
		}
		blocks = append(blocks, commands)
	}
	return blocks
}

func TestReadmeCommands(t *testing.T) {
	text := "```sh\n# first\nmake run   # all\npackwright labels \\\n  --out l.pdf\n```\n```\nnot this\n```\n1. a step\n\n   ```sh\n   ls bin\n   ```\n"
	if got := fmt.Sprintf("%q", readmeCommands(text)); got != `[["make run" "packwright labels    --out l.pdf"] ["ls bin"]]` {
		t.Error(got)
	}
}

// reader follows the README as a stranger would.
type reader struct {
	t       *testing.T
	home    string
	env     []string
	serving func() // stops the server that runs; nil: none does
}

func (r *reader) follow(command string) {
	words := strings.Fields(command)
	switch first := words[0]; {
	case first == "bin/packwright" && len(words) > 1 && words[1] == "serve":
		r.stop() // a block may serve twice, one after the other
		r.serve(command)
	case first == "bin/packwright" && len(words) > 1 && words[1] == "doctor":
		out, err := r.shell(command).Output()
		if count := strings.Count(string(out), "\n"); count < 10 || (err != nil) != strings.Contains(string(out), "bad   ") {
			r.t.Errorf("%s: %v, %d lines\n%s", command, err, count, out)
		}
	case first == "bin/packwright", first == "mkdir", first == "cp", first == "tar", first == "ls", first == "printf":
		if out, err := r.shell(command).CombinedOutput(); err != nil {
			r.t.Errorf("%s: %v\n%s", command, err, out)
		}
	case first == "make":
		dry := exec.Command("make", append([]string{"-n", "-C", ".."}, words[1:]...)...)
		dry.Env = append(os.Environ(), "MAKEFLAGS=", "MAKELEVEL=") // not those of the make that runs this test
		out, err := dry.CombinedOutput()
		if err != nil {
			r.t.Errorf("%s: %v\n%s", command, err, out)
		}
		for _, word := range words[1:] { // a variable that make does not know is no fault to it
			if _, value, ok := strings.Cut(word, "="); ok && !strings.Contains(string(out), value) {
				r.t.Errorf("%s: %s changes nothing\n%s", command, word, out)
			}
		}
	case first == "git" && len(words) > 1 && words[1] == "clone", first == "cd" && len(words) == 2:
	default:
		r.t.Errorf("%s: this test does not know how to check it", command)
	}
}

func (r *reader) shell(command string) *exec.Cmd {
	cmd := exec.Command("sh", "-c", command)
	cmd.Dir, cmd.Env = r.home, r.env
	return cmd
}

func (r *reader) serve(command string) {
	dir := filepath.Join(r.home, ".local", "share", "packwright")
	if _, after, ok := strings.Cut(command, "--data "); ok {
		dir = filepath.Join(r.home, strings.Fields(after)[0])
	}
	if !strings.Contains(command, "--listen") {
		command += " --listen 127.0.0.1:0" // 8080 may be taken on the machine of the test
	}
	if strings.Contains(command, "--lan") {
		command += " --https 127.0.0.1:0 --welcome 127.0.0.1:0"
	}
	cmd := r.shell("exec " + command)
	var out bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &out
	if err := cmd.Start(); err != nil {
		r.t.Fatal(err)
	}
	up := false
	for range 200 {
		if address, locked := store.Locked(dir); locked && address != "" && answers(address) == nil {
			up = true
			break
		}
		time.Sleep(50 * time.Millisecond)
	}
	r.serving = func() {
		if err := cmd.Process.Signal(syscall.SIGINT); err != nil {
			r.t.Error(err)
		}
		if err := cmd.Wait(); err != nil || !up {
			r.t.Errorf("%s: came up %v, ended with %v\n%s", command, up, err, out.String())
		}
	}
}

// stop ends the server that runs, if one does.
func (r *reader) stop() {
	if r.serving != nil {
		r.serving()
		r.serving = nil
	}
}

// TestCrossCompile builds the program for the other machines teams have.
func TestCrossCompile(t *testing.T) {
	t.Parallel()
	if testing.Short() {
		t.Skip("builds everything three times")
	}
	for _, target := range []string{"linux/arm64", "windows/amd64", "darwin/arm64"} {
		t.Run(target, func(t *testing.T) {
			system, arch, _ := strings.Cut(target, "/")
			cmd := exec.Command("go", "build", "-o", filepath.Join(t.TempDir(), "packwright"), ".")
			cmd.Env = append(os.Environ(), "CGO_ENABLED=0", "GOOS="+system, "GOARCH="+arch)
			if out, err := cmd.CombinedOutput(); err != nil {
				t.Errorf("%v\n%s", err, out)
			}
		})
	}
}
