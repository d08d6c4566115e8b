package godoc

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/google/go-cmp/cmp"
)

func TestRead(t *testing.T) {
	dir := t.TempDir()
	for name, text := range map[string]string{
		"a.go": `package a

// Colour is what is seen.
//
// Two of them.
type Colour string

const (
	Red, Green Colour = "red", "green"
	other             = "of no type"
	Two        int    = 2
)

type (
	// Pack is one.
	Pack struct {
		// above
		A, B int
		// above
		C int // beside
		D int
	}
)
`,
		"a_test.go": "package a\n\n// Hidden is in a test.\ntype Hidden int\n",
	} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	got, err := Read(dir)
	if err != nil {
		t.Fatal(err)
	}
	want := Package{
		Docs: map[string]string{"Colour": "Colour is what is seen.\n\nTwo of them.\n", "Pack": "Pack is one.\n",
			"Pack.A": "above\n", "Pack.B": "above\n", "Pack.C": "beside\n", "Pack.D": ""},
		Constants: map[string][]string{"Colour": {"red", "green"}},
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
	if _, err := Read(filepath.Join(dir, "none")); err == nil {
		t.Error("a folder that is not there is read")
	}
	if err := os.WriteFile(filepath.Join(dir, "b.go"), []byte("package"), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := Read(dir); err == nil {
		t.Error("a broken file is read")
	}
}
