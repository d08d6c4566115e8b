// Package godoc reads from Go source what reflection cannot see: the comments of
// types and fields, and the constants of named string types. Only generators
// use it, never the program.
package godoc

import (
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"strconv"
	"strings"
)

// Package is what the source of one package says.
type Package struct {
	Docs      map[string]string   // comments by "Type" and "Type.Field", as text of one or more lines
	Constants map[string][]string // values of string constants by the name of their type, in order
}

// Read reads the Go files in a folder, without those of tests.
func Read(dir string) (Package, error) {
	p := Package{Docs: map[string]string{}, Constants: map[string][]string{}}
	files, err := os.ReadDir(dir)
	if err != nil {
		return p, err
	}
	for _, f := range files {
		if !strings.HasSuffix(f.Name(), ".go") || strings.HasSuffix(f.Name(), "_test.go") {
			continue
		}
		file, err := parser.ParseFile(token.NewFileSet(), filepath.Join(dir, f.Name()), nil, parser.ParseComments)
		if err != nil {
			return p, err
		}
		p.addFile(file)
	}
	return p, nil
}

func (p Package) addFile(file *ast.File) {
	for _, decl := range file.Decls {
		group, ok := decl.(*ast.GenDecl)
		if !ok {
			continue
		}
		for _, spec := range group.Specs {
			switch spec := spec.(type) {
			case *ast.TypeSpec:
				doc := spec.Doc
				if doc == nil && len(group.Specs) == 1 {
					doc = group.Doc
				}
				p.addType(spec.Name.Name, doc, spec.Type)
			case *ast.ValueSpec:
				p.addConstants(spec)
			}
		}
	}
}

// addType takes a type's comment and those of its fields: the one at the end of
// the line, or else the one above.
func (p Package) addType(name string, doc *ast.CommentGroup, t ast.Expr) {
	p.Docs[name] = doc.Text()
	structure, ok := t.(*ast.StructType)
	if !ok {
		return
	}
	for _, field := range structure.Fields.List {
		comment := field.Comment
		if comment == nil {
			comment = field.Doc
		}
		for _, n := range field.Names {
			p.Docs[name+"."+n.Name] = comment.Text()
		}
	}
}

func (p Package) addConstants(spec *ast.ValueSpec) {
	t, ok := spec.Type.(*ast.Ident)
	if !ok {
		return
	}
	for _, value := range spec.Values {
		literal, ok := value.(*ast.BasicLit)
		if !ok || literal.Kind != token.STRING {
			continue
		}
		if text, err := strconv.Unquote(literal.Value); err == nil {
			p.Constants[t.Name] = append(p.Constants[t.Name], text)
		}
	}
}
