package main

import (
	"bytes"
	"compress/gzip"
	"encoding/json"
	"image/color"
	"image/png"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/andybalholm/brotli"
	"github.com/google/go-cmp/cmp"
)

// buildDev builds the real app quickly into a fresh folder.
func buildDev(t *testing.T) site {
	t.Helper()
	root := filepath.Join("..", "..")
	if _, err := os.Stat(filepath.Join(root, "webapp", "node_modules", "preact")); err != nil {
		t.Skip("the npm packages are not installed: run make build first")
	}
	out := t.TempDir()
	if err := run(t.Context(), options{root: root, out: out, dev: true}, io.Discard); err != nil {
		t.Fatal(err)
	}
	s := site{}
	if err := addFolder(s, out); err != nil {
		t.Fatal(err)
	}
	return s
}

func TestBuild(t *testing.T) {
	s := buildDev(t)

	t.Run("the same sources give the same bytes", func(t *testing.T) {
		again := buildDev(t)
		if diff := cmp.Diff(s.names(), again.names()); diff != "" {
			t.Fatalf("other files (-first +second):\n%s", diff)
		}
		for _, name := range s.names() {
			if !bytes.Equal(s[name], again[name]) {
				t.Errorf("%s differs", name)
			}
		}
	})

	t.Run("everything is kept for offline use", func(t *testing.T) {
		sw := string(s["sw.js"])
		for _, name := range s.names() {
			switch ext := filepath.Ext(name); {
			case ext == ".br" || ext == ".gz" || ext == ".map" || name == "sw.js" || name == "licences.txt":
				if strings.Contains(sw, `"/`+name+`"`) {
					t.Errorf("sw.js keeps %s", name)
				}
			case !strings.Contains(sw, `"/`+name+`"`):
				t.Errorf("sw.js does not keep %s", name)
			}
		}
	})

	t.Run("the page has no inline code and links to files that exist", func(t *testing.T) {
		page := string(s["index.html"])
		if strings.Contains(page, "{{") {
			t.Error("a placeholder is left in the page")
		}
		for _, tag := range regexp.MustCompile(`<script[^>]*>[^<]*`).FindAllString(page, -1) {
			if !strings.Contains(tag, "src=") || !strings.HasSuffix(tag, ">") {
				t.Errorf("inline script: %s", tag)
			}
		}
		links := regexp.MustCompile(`(?:src|href)="/([^"]+)"`).FindAllStringSubmatch(page, -1)
		if len(links) < 5 {
			t.Errorf("%d links only", len(links))
		}
		for _, link := range links {
			if s[link[1]] == nil {
				t.Errorf("link to /%s, which is not built", link[1])
			}
		}
	})

	t.Run("the manifest names icons of the sizes they have", func(t *testing.T) {
		var manifest struct {
			Icons []struct{ Src, Sizes, Type string }
		}
		if err := json.Unmarshal(s["manifest.webmanifest"], &manifest); err != nil {
			t.Fatal(err)
		}
		for _, icon := range manifest.Icons {
			content := s[strings.TrimPrefix(icon.Src, "/")]
			if content == nil {
				t.Errorf("%s is not built", icon.Src)
			}
			if icon.Type != "image/png" {
				continue
			}
			img, err := png.Decode(bytes.NewReader(content))
			if err != nil {
				t.Fatal(err)
			}
			if size := img.Bounds().Size(); icon.Sizes != strings.Join([]string{itoa(size.X), itoa(size.Y)}, "x") {
				t.Errorf("%s is %v, not %s", icon.Src, size, icon.Sizes)
			}
		}
	})

	t.Run("the licences of all that is inside are there", func(t *testing.T) {
		for _, name := range []string{"preact ", "@preact/signals-core ", "idb ", "workbox-routing ", "zxing-wasm ", "the Go standard library"} {
			if !strings.Contains(string(s["licences.txt"]), "\n"+name) {
				t.Errorf("licences.txt lacks %s", name)
			}
		}
	})

	t.Run("nothing needs eval", func(t *testing.T) {
		for _, name := range s.names() {
			if filepath.Ext(name) == ".js" && regexp.MustCompile(`\beval\(|new Function\(`).Match(s[name]) {
				t.Errorf("%s evaluates text as code", name)
			}
		}
	})
}

func itoa(n int) string {
	text, _ := json.Marshal(n)
	return string(text)
}

func TestPrecache(t *testing.T) {
	s := site{"index.html": []byte("a"), "assets/x-H.js": []byte("b"), "assets/x-H.js.map": []byte("c")}
	first := precache(s)
	if len(first) != 2 || first[0].URL != "/assets/x-H.js" || first[0].Revision != nil || first[1].Revision == nil {
		t.Fatalf("precache list is %+v", first)
	}
	s["index.html"] = []byte("changed")
	if second := precache(s); *second[1].Revision == *first[1].Revision {
		t.Error("the revision does not follow the content")
	}
}

func TestCompress(t *testing.T) {
	text := bytes.Repeat([]byte("12.84 V "), 1000)
	s := site{"a.js": text, "b.png": text, "c.txt": []byte("x")}
	packed, err := compress(t.Context(), s, true)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff([]string{"a.js.br", "a.js.gz"}, packed.names()); diff != "" {
		t.Fatalf("copies (-want +got):\n%s", diff)
	}
	unzip, err := gzip.NewReader(bytes.NewReader(packed["a.js.gz"]))
	if err != nil {
		t.Fatal(err)
	}
	for name, r := range map[string]io.Reader{"gzip": unzip, "brotli": brotli.NewReader(bytes.NewReader(packed["a.js.br"]))} {
		if got, err := io.ReadAll(r); err != nil || !bytes.Equal(got, text) {
			t.Errorf("%s copy holds other bytes (%v)", name, err)
		}
	}
}

func TestEntryFollowsStaticImportsOnly(t *testing.T) {
	b := bundled{Outputs: map[string]output{
		"dist/assets/main.js": {EntryPoint: appSource, CSSBundle: "dist/assets/main.css", Imports: []importedOutput{
			{"dist/assets/shared.js", "import-statement"}, {"dist/assets/scanner.js", "dynamic-import"}}},
		"dist/assets/shared.js": {Imports: []importedOutput{
			{"dist/assets/deep.js", "import-statement"}, {"dist/assets/main.js", "import-statement"}}},
		"dist/assets/deep.js":    {},
		"dist/assets/scanner.js": {},
		"dist/assets/pack.js": {EntryPoint: labelSource, Imports: []importedOutput{
			{"dist/assets/shared.js", "import-statement"}, {"dist/assets/fields.js", "import-statement"}}},
		"dist/assets/fields.js": {},
	}}
	got := b.relative("dist").app()
	want := entryFiles{script: "assets/main.js", style: "assets/main.css", chunks: []string{"assets/shared.js", "assets/deep.js"},
		label: []string{"assets/pack.js", "assets/fields.js"}}
	if diff := cmp.Diff(want, got, cmp.AllowUnexported(entryFiles{})); diff != "" {
		t.Errorf("entry files (-want +got):\n%s", diff)
	}
}

func TestCheckDecoder(t *testing.T) {
	modules := t.TempDir()
	folder := filepath.Join(modules, "barcode-detector", "dist", "es")
	wasm := []byte("decoder")
	if err := os.MkdirAll(folder, 0o755); err != nil {
		t.Fatal(err)
	}
	script := []byte(`const sha="` + sha256Hex(wasm) + `"`)
	if err := os.WriteFile(filepath.Join(folder, "zxing-exported.js"), script, 0o644); err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]struct {
		site site
		want string
	}{
		"fits":          {site{"assets/zxing_reader-H.wasm": wasm}, ""},
		"other version": {site{"assets/zxing_reader-H.wasm": []byte("newer")}, "not the version"},
		"missing":       {site{"assets/zxing_reader-H.js": wasm}, "in no bundle"},
	} {
		err := checkDecoder(c.site, modules)
		if (err == nil) != (c.want == "") || err != nil && !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", name, err, c.want)
		}
	}
}

func TestPackageFolder(t *testing.T) {
	for source, want := range map[string]string{
		"src/main.tsx":                                  "",
		"node_modules/idb/build/index.js":               "node_modules/idb",
		"node_modules/@preact/signals/dist/a.js":        "node_modules/@preact/signals",
		"node_modules/a/node_modules/@b/c/lib/index.js": "node_modules/a/node_modules/@b/c",
	} {
		if got, ok := packageFolder(source); got != want || ok != (want != "") {
			t.Errorf("packageFolder(%q) = %q, %v; want %q", source, got, ok, want)
		}
	}
}

func TestBudget(t *testing.T) {
	at := sizes{core: size{brotli: coreLimit}, entry: size{gzip: entryLimit}}
	if err := at.check(); err != nil {
		t.Errorf("at the limits: %v", err)
	}
	over := sizes{core: size{brotli: coreLimit + 1}, entry: size{gzip: entryLimit + 1}}
	err := over.check()
	if err == nil || !strings.Contains(err.Error(), "core.wasm") || !strings.Contains(err.Error(), "first screen") {
		t.Errorf("over both limits: %v", err)
	}
}

func TestAimsAreSaidNotEnforced(t *testing.T) {
	var said bytes.Buffer
	at := sizes{core: size{brotli: coreAim}, entry: size{gzip: entryAim}, all: size{brotli: allAim}}
	if at.compare(&said); said.Len() > 0 {
		t.Errorf("at the aims: %s", said.String())
	}
	over := sizes{core: size{brotli: coreAim + 1}}
	if over.compare(&said); !strings.Contains(said.String(), "core.wasm") {
		t.Errorf("over one aim: %q", said.String())
	}
	if err := over.check(); err != nil {
		t.Errorf("over one aim: %v", err)
	}
}

func TestWriteReplacesAllButGitkeep(t *testing.T) {
	dir := t.TempDir()
	for _, name := range []string{".gitkeep", "old.js", "assets"} {
		var err error
		if name == "assets" {
			err = os.Mkdir(filepath.Join(dir, name), 0o755)
		} else {
			err = os.WriteFile(filepath.Join(dir, name), nil, 0o644)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	if err := write(dir, site{"a/b.js": []byte("x")}, site{"a/b.js.br": []byte("y")}); err != nil {
		t.Fatal(err)
	}
	got := site{}
	if err := addFolder(got, dir); err != nil {
		t.Fatal(err)
	}
	if want := []string{".gitkeep", "a/b.js", "a/b.js.br"}; !slices.Equal(got.names(), want) {
		t.Errorf("folder holds %v, want %v", got.names(), want)
	}
}

// Systems cut a maskable icon to a shape of their own but leave the middle
// circle of 80 % of the width (W3C manifest, "icon masks and safe zone").
func TestMaskableIconKeepsToItsSafeZone(t *testing.T) {
	s := site{}
	if err := addIcons(s); err != nil {
		t.Fatal(err)
	}
	img, err := png.Decode(bytes.NewReader(s["icons/icon-maskable-512.png"]))
	if err != nil {
		t.Fatal(err)
	}
	marked := 0
	for y := range 512 {
		for x := range 512 {
			if color.RGBAModel.Convert(img.At(x, y)) == ground {
				continue
			}
			marked++
			dx, dy := float64(x)-255.5, float64(y)-255.5
			if dx*dx+dy*dy > 0.4*0.4*512*512 {
				t.Fatalf("the mark reaches outside the safe zone at %d, %d", x, y)
			}
		}
	}
	if marked < 10_000 {
		t.Errorf("the mark has %d pixels only", marked)
	}
}

// A package that is compiled without inlining is one that the phone's program has:
// the flag for another would do nothing.
func TestSeldomPackagesAreOfTheCore(t *testing.T) {
	cmd := exec.Command("go", "list", "-deps", "packwright/webapp/core")
	cmd.Env = phoneEnv()
	out, err := cmd.Output()
	if err != nil {
		t.Fatal(err)
	}
	packages := strings.Fields(string(out))
	for _, pkg := range seldom {
		if !slices.Contains(packages, pkg) {
			t.Errorf("the core has no package %s", pkg)
		}
	}
}
