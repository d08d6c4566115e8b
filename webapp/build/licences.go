package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
)

// licence is the notice that goes with one piece of other people's work.
type licence struct {
	name string // with version
	text []byte
}

// addLicences adds licences.txt: the notices of all that is inside the bundles
// and the core. The service worker leaves it to the server.
func addLicences(ctx context.Context, s site, o options, sources []string) error {
	all, err := packageLicences(filepath.Join(o.root, "webapp"), sources)
	if err != nil {
		return err
	}
	modules, err := moduleLicences(ctx, o.root)
	if err != nil {
		return err
	}
	var text bytes.Buffer
	text.WriteString("packwright's web app contains the following, under these licences.\n")
	for _, l := range append(all, modules...) {
		fmt.Fprintf(&text, "\n%s\n%s\n\n%s\n", l.name, strings.Repeat("=", len(l.name)), bytes.TrimSpace(l.text))
	}
	s["licences.txt"] = text.Bytes()
	return nil
}

// packageLicences reads the licences of the npm packages that source files
// (paths from webapp) belong to.
func packageLicences(webapp string, sources []string) ([]licence, error) {
	folders := map[string]bool{}
	for _, source := range sources {
		if folder, ok := packageFolder(source); ok {
			folders[folder] = true
		}
	}
	var all []licence
	for _, folder := range slices.Sorted(maps.Keys(folders)) {
		dir := filepath.Join(webapp, filepath.FromSlash(folder))
		about, err := os.ReadFile(filepath.Join(dir, "package.json"))
		if err != nil {
			return nil, err
		}
		var p struct{ Name, Version string }
		if err := json.Unmarshal(about, &p); err != nil {
			return nil, fmt.Errorf("read %s: %w", folder, err)
		}
		text, err := licenceIn(dir)
		if err != nil {
			return nil, err
		}
		all = append(all, licence{p.Name + " " + p.Version, text})
	}
	return all, nil
}

// packageFolder gives the folder of the package that a source file belongs to.
func packageFolder(source string) (string, bool) {
	const modules = "node_modules/"
	at := strings.LastIndex(source, modules)
	if at < 0 {
		return "", false
	}
	at += len(modules)
	parts := strings.SplitN(source[at:], "/", 3)
	name := parts[0]
	if strings.HasPrefix(name, "@") && len(parts) > 1 {
		name += "/" + parts[1]
	}
	return source[:at] + name, true
}

// moduleLicences reads the licences of the Go modules in the core, and Go's own.
func moduleLicences(ctx context.Context, root string) ([]licence, error) {
	cmd := exec.CommandContext(ctx, "go", "list", "-deps",
		"-f", "{{with .Module}}{{if not .Main}}{{.Path}} {{.Version}}\t{{.Dir}}{{end}}{{end}}", "./webapp/core")
	cmd.Dir = root
	cmd.Env = phoneEnv()
	out, err := cmd.Output()
	if err != nil {
		return nil, fmt.Errorf("list the core's modules: %w", err)
	}
	goRoot, err := goRoot(ctx)
	if err != nil {
		return nil, err
	}
	lines := strings.Split(strings.TrimSpace(string(out)), "\n")
	slices.Sort(lines)
	var all []licence
	for _, line := range slices.Compact(append(lines, "the Go standard library\t"+goRoot)) {
		name, dir, ok := strings.Cut(line, "\t")
		if !ok {
			continue // a package of our own
		}
		text, err := licenceIn(dir)
		if err != nil {
			return nil, err
		}
		all = append(all, licence{name, text})
	}
	return all, nil
}

// licenceIn reads the licence file of a folder.
func licenceIn(dir string) ([]byte, error) {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return nil, err
	}
	for _, entry := range entries {
		name, _, _ := strings.Cut(strings.ToLower(entry.Name()), ".")
		if name == "license" || name == "licence" || name == "copying" {
			return os.ReadFile(filepath.Join(dir, entry.Name()))
		}
	}
	return nil, fmt.Errorf("there is no licence file in %s: it may not be passed on", dir)
}
