//go:build !js

package core

import (
	"go/ast"
	"go/parser"
	"go/token"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// forbidden are packages that may never be reached from the phone's program,
// with the reason.
var forbidden = map[string]string{
	"net/http":                    "the page talks to the server; it costs over a megabyte",
	"html/template":               "the page draws; it keeps the linker from dropping unused methods",
	"text/template":               "it calls methods by name, which keeps the linker from dropping any",
	"regexp":                      "no text here is so wild that it needs one",
	"os/exec":                     "there is nothing to run on a phone",
	"crypto/tls":                  "the browser does it",
	"database/sql/driver":         "a sign that a library brings more than it is worth here",
	"github.com/dgraph-io/badger": "the phone's journal is in the browser's store",
	"github.com/labstack/echo":    "the phone is no server",
	"github.com/jung-kurt/gofpdf": "paper is made by the server",
	"github.com/skip2/go-qrcode":  "labels are made by the server",
	"github.com/gowebpki/jcs":     "only the server compares entries byte by byte",
	"github.com/oklog/ulid":       "it brings database/sql and more: a tenth of what the program weighs beyond Go itself",
	"packwright/internal/store":   "the phone's journal is in the browser's store",
	"packwright/labels":           "paper is made by the server",
}

// phonePackages lists what webapp/core is made of.
func phonePackages(t *testing.T) []string {
	t.Helper()
	cmd := exec.Command("go", "list", "-deps", "packwright/webapp/core")
	cmd.Env = append(cmd.Environ(), "GOOS=js", "GOARCH=wasm")
	out, err := cmd.Output()
	if err != nil {
		t.Fatal(err)
	}
	return strings.Fields(string(out))
}

func TestPhoneReachesNothingForbidden(t *testing.T) {
	packages := phonePackages(t)
	if !slices.Contains(packages, "packwright/internal/core") {
		t.Fatalf("the list is not of the phone's program: %v", packages)
	}
	for _, pkg := range packages {
		for no, why := range forbidden {
			if pkg == no || strings.HasPrefix(pkg, no+"/") {
				t.Errorf("the phone's program reaches %s: %s", pkg, why)
			}
		}
	}
}

// encoding/json is reached for the name of json.RawMessage; using more of it
// would cost a tenth of the program's size. Package strictjson does its work.
func TestPhoneUsesOnlyRawMessageOfJSON(t *testing.T) {
	for _, pkg := range phonePackages(t) {
		path, ours := strings.CutPrefix(pkg, "packwright/")
		if !ours {
			continue
		}
		files, err := filepath.Glob(filepath.Join("..", "..", path, "*.go"))
		if err != nil || len(files) == 0 {
			t.Fatalf("%s has no files: %v", pkg, err)
		}
		for _, file := range files {
			if strings.HasSuffix(file, "_test.go") {
				continue
			}
			parsed, err := parser.ParseFile(token.NewFileSet(), file, nil, 0)
			if err != nil {
				t.Fatal(err)
			}
			ast.Inspect(parsed, func(n ast.Node) bool {
				if s, ok := n.(*ast.SelectorExpr); ok && s.Sel.Name != "RawMessage" {
					if x, ok := s.X.(*ast.Ident); ok && x.Name == "json" {
						t.Errorf("%s uses json.%s: use package strictjson", file, s.Sel.Name)
					}
				}
				return true
			})
		}
	}
}
