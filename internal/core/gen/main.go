// Command gen writes webapp/src/core/types.ts, the TypeScript types of
// everything that crosses the door between phone and core, from the Go types.
// Run it with: go generate ./internal/core
package main

import (
	"fmt"
	"os"
	"path/filepath"
)

// target is the generated file, from the module's root.
const target = "webapp/src/core/types.ts"

func main() {
	if err := run(); err != nil {
		fmt.Fprintln(os.Stderr, "gen:", err)
		os.Exit(1)
	}
}

func run() error {
	root, err := moduleRoot()
	if err != nil {
		return err
	}
	text, err := generate(root)
	if err != nil {
		return err
	}
	return os.WriteFile(filepath.Join(root, target), []byte(text), 0o644)
}

// moduleRoot is the nearest folder upwards that holds go.mod.
func moduleRoot() (string, error) {
	dir, err := os.Getwd()
	if err != nil {
		return "", err
	}
	for {
		if _, err := os.Stat(filepath.Join(dir, "go.mod")); err == nil {
			return dir, nil
		}
		up := filepath.Dir(dir)
		if up == dir {
			return "", fmt.Errorf("there is no go.mod above %s", dir)
		}
		dir = up
	}
}
