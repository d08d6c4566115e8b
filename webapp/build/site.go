package main

import (
	"crypto/sha256"
	"encoding/base32"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"
)

// site is the app being built: content by slash-separated name.
type site map[string][]byte

// names lists the files in a fixed order.
func (s site) names() []string { return slices.Sorted(maps.Keys(s)) }

// addHashed adds a file under assets/ with its hash in the name, so that it can
// be cached for ever, and gives its URL.
func (s site) addHashed(name string, content []byte) string {
	ext := path.Ext(name)
	hashed := fmt.Sprintf("assets/%s-%s%s", strings.TrimSuffix(name, ext), hash(content), ext)
	s[hashed] = content
	return "/" + hashed
}

// hash is a short text that changes with the content.
func hash(content []byte) string {
	sum := sha256.Sum256(content)
	return base32.StdEncoding.EncodeToString(sum[:5])
}

// addFolder adds the files of a folder as they are.
func addFolder(s site, folder string) error {
	return fs.WalkDir(os.DirFS(folder), ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		s[name], err = os.ReadFile(filepath.Join(folder, filepath.FromSlash(name)))
		return err
	})
}

// version names the app by all that it is made of: the site so far, the sources
// of the scripts and the packages they use. It changes when one of them does,
// not with every commit, or phones would be offered updates that are none.
func version(s site, webapp string) (string, error) {
	all := sha256.New()
	for _, name := range s.names() {
		fmt.Fprintf(all, "%s %d\n%s", name, len(s[name]), s[name])
	}
	sources := site{}
	if err := addFolder(sources, filepath.Join(webapp, "src")); err != nil {
		return "", err
	}
	lock, err := os.ReadFile(filepath.Join(webapp, "package-lock.json"))
	if err != nil {
		return "", err
	}
	sources["package-lock.json"] = lock
	for _, name := range sources.names() {
		fmt.Fprintf(all, "%s %d\n%s", name, len(sources[name]), sources[name])
	}
	return base32.StdEncoding.EncodeToString(all.Sum(nil)[:5]), nil
}

// write replaces what the folder holds, but for .gitkeep, which lets the Go
// program compile before the app is built.
func write(folder string, sites ...site) error {
	if err := os.MkdirAll(folder, 0o755); err != nil {
		return err
	}
	old, err := os.ReadDir(folder)
	if err != nil {
		return err
	}
	for _, entry := range old {
		if entry.Name() != ".gitkeep" {
			err = errors.Join(err, os.RemoveAll(filepath.Join(folder, entry.Name())))
		}
	}
	for _, s := range sites {
		for _, name := range s.names() {
			file := filepath.Join(folder, filepath.FromSlash(name))
			err = errors.Join(err, os.MkdirAll(filepath.Dir(file), 0o755), os.WriteFile(file, s[name], 0o644))
		}
	}
	return err
}
