package main

import (
	"fmt"
	"runtime"
	"runtime/debug"
)

// The versions a phone compares (GET /api/v1/version).
const (
	apiVersion   = 1 // of the paths under /api/v1
	minClientAPI = 1 // the oldest web app that may still push and pull
)

type versionCmd struct{}

func (versionCmd) Run(con *console) error {
	_, err := fmt.Fprintf(con.stdout, "%s %s %s %s/%s\n",
		programName, buildVersion(), runtime.Version(), runtime.GOOS, runtime.GOARCH)
	return err
}

// version is set by the linker in a release (make build).
var version string

// buildVersion names the source the program was built from: what the linker was
// told, the module's version, or else the revision, marked where the tree had
// changes.
func buildVersion() string {
	if version != "" {
		return version
	}
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return "unknown"
	}
	if v := info.Main.Version; v != "" && v != "(devel)" {
		return v
	}
	revision, changed := "devel", ""
	for _, s := range info.Settings {
		switch {
		case s.Key == "vcs.revision" && len(s.Value) >= 12:
			revision = s.Value[:12]
		case s.Key == "vcs.modified" && s.Value == "true":
			changed = "+changes"
		}
	}
	return revision + changed
}
