package main

import (
	"path/filepath"
	"strings"

	"packwright/internal/godoc"
)

// source is what reflection cannot see: comments and the constants of a type.
type source struct {
	docs      map[string]string   // first paragraphs by "package.Type" or "package.Type.Field"
	constants map[string][]string // string values by "package.Type", in order
}

// readSource reads the Go files of some packages under internal/.
func readSource(root string, packages []string) (source, error) {
	s := source{docs: map[string]string{}, constants: map[string][]string{}}
	for _, name := range packages {
		pkg, err := godoc.Read(filepath.Join(root, "internal", name))
		if err != nil {
			return s, err
		}
		for of, text := range pkg.Docs {
			s.docs[name+"."+of] = firstParagraph(text)
		}
		for of, values := range pkg.Constants {
			s.constants[name+"."+of] = values
		}
	}
	return s, nil
}

// firstParagraph is the start of a comment as one line.
func firstParagraph(text string) string {
	paragraph, _, _ := strings.Cut(text, "\n\n")
	return strings.Join(strings.Fields(paragraph), " ")
}
