package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"

	"packwright/internal/demo"
)

// seldom are packages whose code runs once for a screen. They are compiled without
// inlining, which makes the download 26 kB smaller and costs nothing that can be
// felt; the whole core without it would be 80 kB smaller and take 70 % longer.
var seldom = [...]string{
	"fmt", "packwright/internal/charging", "packwright/internal/core", "packwright/internal/drive", "packwright/internal/judge", "packwright/internal/place",
	"packwright/internal/season", "packwright/internal/sheet", "packwright/internal/stock", "packwright/internal/wiring",
}

// addCore compiles webapp/core for the phone and gives its URL. No version
// control stamp goes in: a commit that leaves the core alone must not make
// every phone load it again.
func addCore(ctx context.Context, s site, root string) (url string, err error) {
	dir, err := os.MkdirTemp("", "packwright-build-")
	if err != nil {
		return "", err
	}
	defer os.RemoveAll(dir)
	file := filepath.Join(dir, "core.wasm")
	args := []string{"build", "-trimpath", "-buildvcs=false", "-ldflags=-s -w -buildid=", "-o", file}
	for _, pkg := range seldom {
		args = append(args, "-gcflags="+pkg+"=-l")
	}
	cmd := exec.CommandContext(ctx, "go", append(args, "./webapp/core")...)
	cmd.Dir = root
	cmd.Env = phoneEnv()
	if out, err := cmd.CombinedOutput(); err != nil {
		return "", fmt.Errorf("compile the core: %w\n%s", err, out)
	}
	content, err := os.ReadFile(file)
	if err != nil {
		return "", err
	}
	return s.addHashed("core.wasm", content), nil
}

// phoneEnv is the environment in which go builds for the phone.
func phoneEnv() []string { return append(os.Environ(), "GOOS=js", "GOARCH=wasm") }

// goRoot is where the Go toolchain is; lib/wasm/wasm_exec.js there runs its wasm.
func goRoot(ctx context.Context) (string, error) {
	out, err := exec.CommandContext(ctx, "go", "env", "GOROOT").Output()
	if err != nil {
		return "", fmt.Errorf("ask go for its GOROOT: %w", err)
	}
	return strings.TrimSpace(string(out)), nil
}

// addDemo adds the invented season, one entry a line.
func addDemo(s site) error {
	var lines bytes.Buffer
	enc := json.NewEncoder(&lines)
	enc.SetEscapeHTML(false)
	for _, entry := range demo.Season() {
		if err := enc.Encode(entry); err != nil {
			return fmt.Errorf("write the demo season: %w", err)
		}
	}
	s["demo.jsonl"] = lines.Bytes()
	return nil
}
