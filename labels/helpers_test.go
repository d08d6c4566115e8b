package labels

import (
	"bytes"
	"flag"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"github.com/google/go-cmp/cmp"

	"packwright/internal/problem"
)

var update = flag.Bool("update", false, "write the golden files anew")

// golden compares got with a file of testdata.
func golden(t *testing.T, name, got string) {
	t.Helper()
	file := filepath.Join("testdata", name)
	if *update {
		if err := os.WriteFile(file, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatalf("%v (make it with: go test ./labels -update)", err)
	}
	if diff := cmp.Diff(string(want), got); diff != "" {
		t.Errorf("%s differs (if this is meant: go test ./labels -update, and look at the PDF):\n%s", file, diff)
	}
}

// tool finds a program that reads PDFs or QRs back. A machine of a volunteer
// may lack it, the one that decides on a change may not.
func tool(t testing.TB, name string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	switch {
	case err == nil:
		return path
	case os.Getenv("CI") != "":
		t.Fatalf("%s is missing: install poppler-utils and zbar-tools", name)
	default:
		t.Skipf("%s is missing (poppler-utils, zbar-tools): nothing was read back", name)
	}
	return ""
}

// run gives the standard output of a program and fails the test on an error or
// on anything said on its standard error, where poppler reports broken PDFs.
func run(t testing.TB, path string, args ...string) string {
	t.Helper()
	cmd := exec.Command(path, args...)
	var stdout, stderr bytes.Buffer
	cmd.Stdout, cmd.Stderr = &stdout, &stderr
	if err := cmd.Run(); err != nil || stderr.Len() > 0 {
		t.Fatalf("%s: %v\n%s", cmd, err, &stderr)
	}
	return stdout.String()
}

// savePDF makes a PDF file.
func savePDF(t testing.TB, make func(*bytes.Buffer) error) string {
	t.Helper()
	var buf bytes.Buffer
	if err := make(&buf); err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(t.TempDir(), "out.pdf")
	if err := os.WriteFile(file, buf.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	return file
}

// wantProblem checks for a problem about a field, with a hint.
func wantProblem(t testing.TB, err error, field string) *problem.Error {
	t.Helper()
	p, ok := problem.As(err)
	if !ok {
		t.Fatalf("got %v, want a problem about %s", err, field)
	}
	if p.Field != field || p.Hint == "" {
		t.Errorf("problem %q has field %q and hint %q, want field %q and a hint", p.Text, p.Field, p.Hint, field)
	}
	return p
}

// invented packs of an invented team.
func somePacks() []Pack {
	return []Pack{
		{Code: "7K3QX9", Name: "Blue 1", CapacityAh: 3, InService: "2026-09-01"},
		{Code: "00AB2C", Name: "Übungspack Größe Süd", CapacityAh: 2.85, InService: "2026-09-01"},
		{Code: "M4TTRX", Name: "Zażółć gęślą jaźń, the old one that lives in the grey box", CapacityAh: 3, InService: "2025-01-15"},
		{Code: "9ZZ9ZZ", Name: "Синий аккумулятор №3", CapacityAh: 3.3, InService: "2026-09-01"},
		{Code: "ABCDEF"},
		{Code: "GHJKMN", Name: "0.1 Ω spare", CapacityAh: 3, InService: "2026-09-01"},
	}
}

// manyPacks gives n packs with different codes.
func manyPacks(n int) []Pack {
	const alphabet = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
	packs := make([]Pack, n)
	for i := range packs {
		p := somePacks()[i%6]
		p.Code = "7K" + string([]byte{alphabet[i/1024%32], alphabet[i/32%32], alphabet[i%32]}) + "X"
		packs[i] = p
	}
	return packs
}

// layOut runs a layout with a typesetter of its own.
func layOut(t testing.TB, layout func(*typesetter) (*drawing, error)) *drawing {
	t.Helper()
	ts, err := newTypesetter()
	if err != nil {
		t.Fatal(err)
	}
	d, err := layout(ts)
	if err != nil {
		t.Fatal(err)
	}
	return d
}
