package main

import (
	"encoding/json"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// asvsLevel1 is how many requirements of level 1 the OWASP ASVS 5.0.0 has.
const asvsLevel1 = 70

// TestASVS reads the table of requirements in testdata/asvs.md: each is there once
// and in order, has an answer, and every test it names is one.
func TestASVS(t *testing.T) {
	text, err := os.ReadFile("../testdata/asvs.md")
	if err != nil {
		t.Fatal(err)
	}
	known := testNames(t)
	named := regexp.MustCompile("`([^`]+)`")
	var last []int
	rows := 0
	for line := range strings.Lines(string(text)) {
		cells := strings.Split(strings.Trim(strings.TrimSpace(line), "|"), "|")
		for i := range cells {
			cells[i] = strings.TrimSpace(cells[i])
		}
		number := requirement(cells[0])
		if number == nil {
			continue
		}
		if rows++; len(cells) != 5 || slices.Contains(cells[:4], "") {
			t.Errorf("%s: a row has number, requirement, answer, how, tests: %q", cells[0], cells)
			continue
		}
		if slices.Compare(number, last) <= 0 {
			t.Errorf("%s stands after %v", cells[0], last)
		}
		last = number
		tests := named.FindAllStringSubmatch(cells[4], -1)
		for _, test := range tests {
			if !known[test[1]] {
				t.Errorf("%s: there is no test %q", cells[0], test[1])
			}
		}
		switch answer := cells[2]; answer {
		case "met", "partly":
			if len(tests) == 0 {
				t.Errorf("%s is %s, and nothing shows it", cells[0], answer)
			}
		case "not met", "does not apply":
		default:
			t.Errorf("%s: %q is no answer", cells[0], answer)
		}
	}
	if rows != asvsLevel1 {
		t.Errorf("%d requirements, want %d", rows, asvsLevel1)
	}
}

// requirement reads a number such as 3.4.1; nil for anything else.
func requirement(text string) (number []int) {
	parts := strings.Split(text, ".")
	for _, part := range parts {
		n, err := strconv.Atoi(part)
		if err != nil || len(parts) != 3 {
			return nil
		}
		number = append(number, n)
	}
	return number
}

// testNames finds every test of the project: "access.TestJoin" in the folder
// access, "serve.txtar", and "field.spec.ts: title" of the browser's.
func testNames(t *testing.T) map[string]bool {
	t.Helper()
	names := map[string]bool{}
	titles := regexp.MustCompile(`(?m)^\s*test\("((?:[^"\\]|\\.)+)"`)
	for _, file := range sources(t) {
		base := filepath.Base(file.path)
		switch {
		case strings.HasSuffix(base, "_test.go"):
			for _, declared := range file.parse(t).Decls {
				f, ok := declared.(*ast.FuncDecl)
				if ok && (strings.HasPrefix(f.Name.Name, "Test") || strings.HasPrefix(f.Name.Name, "Fuzz")) {
					names[filepath.Base(filepath.Dir(file.path))+"."+f.Name.Name] = true
				}
			}
		case strings.HasSuffix(base, ".txtar"):
			names[base] = true
		case strings.HasSuffix(base, ".spec.ts"):
			for _, title := range titles.FindAllStringSubmatch(file.text(t), -1) {
				names[base+": "+title[1]] = true
			}
		}
	}
	return names
}

// source is a file of the project.
type source struct{ path string }

func (s source) text(t *testing.T) string {
	t.Helper()
	text, err := os.ReadFile(s.path)
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

func (s source) parse(t *testing.T) *ast.File {
	t.Helper()
	parsed, err := parser.ParseFile(token.NewFileSet(), s.path, nil, parser.SkipObjectResolution)
	if err != nil {
		t.Fatal(err)
	}
	return parsed
}

// sources lists what people wrote, tests included.
func sources(t *testing.T) (files []source) {
	t.Helper()
	err := filepath.WalkDir("..", func(path string, d fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case d.IsDir() && slices.Contains([]string{"node_modules", ".git", "bin", "dist", "test-results"}, d.Name()):
			return filepath.SkipDir
		case !d.IsDir():
			files = append(files, source{path})
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return files
}

// What runs at the team's imports nothing that runs commands, loads code, reads a
// format that can make objects, or computes with what is broken.
func TestNoDangerousImports(t *testing.T) {
	allowed := map[string][]string{ // by import; nil: nowhere
		"os/exec": nil, "plugin": nil, "unsafe": nil, "net/rpc": nil, "text/template": nil, "encoding/gob": nil,
		"crypto/md5": nil, "crypto/sha1": nil, "crypto/rc4": nil, "crypto/des": nil, "crypto/cipher": nil, "math/rand": nil,
		"math/rand/v2": {"exchange", "demo"}, // jitter of pauses, and an invented season that is always the same
		"encoding/xml": {"ca"},               // writes the profile
	}
	checked := 0
	for _, file := range sources(t) {
		dir := filepath.ToSlash(filepath.Dir(file.path))
		if filepath.Ext(file.path) != ".go" || strings.HasSuffix(file.path, "_test.go") ||
			strings.HasPrefix(dir, "../webapp/build") || strings.HasSuffix(dir, "/gen") { // these build the program
			continue
		}
		checked++
		for _, imported := range file.parse(t).Imports {
			name, err := strconv.Unquote(imported.Path.Value)
			if err != nil {
				t.Fatal(err)
			}
			if folders, listed := allowed[name]; listed && !slices.Contains(folders, filepath.Base(dir)) {
				t.Errorf("%s imports %s", file.path, name)
			}
		}
	}
	if checked < 100 {
		t.Errorf("only %d files were looked at", checked)
	}
}

// The app never makes elements or code out of text, and keeps nothing where other
// sites' code or an XSS could take it with a line.
func TestAppMakesNoCodeOfText(t *testing.T) {
	risky := regexp.MustCompile(`\b(innerHTML|outerHTML|insertAdjacentHTML|dangerouslySetInnerHTML|document\.write|DOMParser|srcdoc|eval\(|new Function|localStorage|sessionStorage|document\.cookie|javascript:|postMessage\([^)]*"\*")`)
	checked := 0
	for _, file := range sources(t) {
		path := filepath.ToSlash(file.path)
		if !strings.HasPrefix(path, "../webapp/src/") && !strings.HasPrefix(path, "../server/welcome/") || !slices.Contains([]string{".ts", ".tsx", ".js"}, filepath.Ext(path)) {
			continue
		}
		checked++
		if found := risky.FindString(file.text(t)); found != "" {
			t.Errorf("%s uses %s", path, found)
		}
	}
	if checked < 50 {
		t.Errorf("only %d files were looked at", checked)
	}
}

// Every package of the app has one exact version and a hash; Go modules always do.
func TestPackagesPinned(t *testing.T) {
	var wanted struct{ Dependencies, DevDependencies map[string]string }
	if err := json.Unmarshal([]byte(source{"../webapp/package.json"}.text(t)), &wanted); err != nil {
		t.Fatal(err)
	}
	exact := regexp.MustCompile(`^\d+\.\d+\.\d+[-.\w]*$`)
	for _, list := range []map[string]string{wanted.Dependencies, wanted.DevDependencies} {
		for name, version := range list {
			if !exact.MatchString(version) {
				t.Errorf("%s %s is no exact version", name, version)
			}
		}
	}
	var lock struct {
		Packages map[string]struct{ Version, Integrity string }
	}
	if err := json.Unmarshal([]byte(source{"../webapp/package-lock.json"}.text(t)), &lock); err != nil {
		t.Fatal(err)
	}
	for name, p := range lock.Packages {
		if name != "" && (!exact.MatchString(p.Version) || !strings.HasPrefix(p.Integrity, "sha512-")) {
			t.Errorf("%s %s has no hash: %q", name, p.Version, p.Integrity)
		}
	}
	if len(lock.Packages) < len(wanted.Dependencies) {
		t.Errorf("%d packages in the lock", len(lock.Packages))
	}
}
