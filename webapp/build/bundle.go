package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"github.com/evanw/esbuild/pkg/api"
)

const (
	appSource    = "src/main.tsx"
	workerSource = "src/core/worker.ts"
	swSource     = "src/sw.ts"
	labelSource  = "src/views/pack.tsx" // what a scanned label opens
)

// bundled is what esbuild says of a build (its metafile), as far as it is used.
type bundled struct {
	Inputs  map[string]struct{} `json:"inputs"`  // source files by path from webapp
	Outputs map[string]output   `json:"outputs"` // by name in the site
}

type output struct {
	EntryPoint string           `json:"entryPoint"`
	CSSBundle  string           `json:"cssBundle"`
	Imports    []importedOutput `json:"imports"`
}

type importedOutput struct {
	Path string `json:"path"`
	Kind string `json:"kind"`
}

// entryFiles are the app's files that a first screen waits for, by name.
type entryFiles struct {
	script string
	style  string
	chunks []string // that script imports at once, directly or not
	label  []string // further ones that the screen behind a label needs
}

// addBundles bundles the core worker and the app; sources are the files used.
func addBundles(ctx context.Context, s site, o options, coreURL string) (entry entryFiles, sources []string, err error) {
	goRoot, err := goRoot(ctx)
	if err != nil {
		return entry, nil, err
	}
	worker := o.bundle(workerSource)
	worker.Format = api.FormatIIFE // a classic worker runs everywhere
	worker.Define["CORE_WASM_URL"] = strconv.Quote(coreURL)
	worker.Plugins = []api.Plugin{alias("go:wasm_exec", filepath.Join(goRoot, "lib", "wasm", "wasm_exec.js"))}
	built, err := s.build(worker)
	if err != nil {
		return entry, nil, err
	}
	workerFile, _ := built.entry(workerSource)

	app := o.bundle(appSource)
	app.Format = api.FormatESModule
	app.Splitting = true
	app.Define["CORE_WORKER_URL"] = strconv.Quote("/" + workerFile)
	version, err := version(s, filepath.Join(o.root, "webapp"))
	if err != nil {
		return entry, nil, err
	}
	app.Define["VERSION"] = strconv.Quote(version)
	if built, err = s.build(app); err != nil {
		return entry, nil, err
	}
	return built.app(), slices.Collect(maps.Keys(built.Inputs)), checkDecoder(s, filepath.Join(o.root, "webapp", "node_modules"))
}

// addServiceWorker bundles the service worker with the list of all files so far;
// sources are the files used.
func addServiceWorker(s site, o options) (sources []string, err error) {
	list, err := json.Marshal(precache(s))
	if err != nil {
		return nil, err
	}
	sw := o.bundle(swSource)
	sw.Format = api.FormatIIFE
	sw.EntryNames = "[name]" // its address must never change
	sw.Define["PRECACHE"] = string(list)
	built, err := s.build(sw)
	return slices.Collect(maps.Keys(built.Inputs)), err
}

// bundle is the common part of all bundles.
func (o options) bundle(source string) api.BuildOptions {
	root, err := filepath.Abs(filepath.Join(o.root, "webapp"))
	if err != nil {
		panic(err) // there is no working directory
	}
	options := api.BuildOptions{
		AbsWorkingDir:     root,
		EntryPoints:       []string{source},
		EntryNames:        "assets/[name]-[hash]",
		ChunkNames:        "assets/[name]-[hash]",
		AssetNames:        "assets/[name]-[hash]",
		Outdir:            filepath.Join(root, "dist"),
		PublicPath:        "/",
		Bundle:            true,
		Metafile:          true,
		MinifyWhitespace:  true,
		MinifyIdentifiers: true,
		MinifySyntax:      true,
		Charset:           api.CharsetUTF8,
		Target:            api.ES2022,
		Engines: []api.Engine{
			{Name: api.EngineChrome, Version: "108"},
			{Name: api.EngineFirefox, Version: "115"},
			{Name: api.EngineSafari, Version: "16.4"},
		},
		JSX:             api.JSXAutomatic,
		JSXImportSource: "preact",
		LegalComments:   api.LegalCommentsNone, // all are in licences.txt
		Loader: map[string]api.Loader{
			".wasm": api.LoaderFile, ".woff2": api.LoaderFile, ".svg": api.LoaderFile, ".png": api.LoaderFile,
		},
		Define:   map[string]string{"process.env.NODE_ENV": `"production"`},
		LogLevel: api.LogLevelSilent, // errors are returned
	}
	if o.dev {
		options.Sourcemap = api.SourceMapLinked
	}
	return options
}

// build runs esbuild and adds what it made to the site.
func (s site) build(o api.BuildOptions) (bundled, error) {
	result := api.Build(o)
	if messages := append(result.Errors, result.Warnings...); len(messages) > 0 {
		texts := api.FormatMessages(messages, api.FormatMessagesOptions{Kind: api.ErrorMessage})
		return bundled{}, fmt.Errorf("bundle %s:\n%s", o.EntryPoints[0], strings.Join(texts, ""))
	}
	for _, file := range result.OutputFiles {
		name, err := filepath.Rel(o.Outdir, file.Path)
		if err != nil {
			return bundled{}, err
		}
		s[filepath.ToSlash(name)] = file.Contents
	}
	var meta bundled
	if err := json.Unmarshal([]byte(result.Metafile), &meta); err != nil {
		return bundled{}, err
	}
	return meta.relative(path.Base(o.Outdir)), nil
}

// relative names the outputs as the site does, not by their path from webapp.
func (b bundled) relative(folder string) bundled {
	inSite := func(name string) string { return strings.TrimPrefix(name, folder+"/") }
	named := bundled{Inputs: b.Inputs, Outputs: map[string]output{}}
	for name, out := range b.Outputs {
		out.CSSBundle = inSite(out.CSSBundle)
		for i := range out.Imports {
			out.Imports[i].Path = inSite(out.Imports[i].Path)
		}
		named.Outputs[inSite(name)] = out
	}
	return named
}

// entry finds the output made from a source file.
func (b bundled) entry(source string) (string, output) {
	for name, out := range b.Outputs {
		if out.EntryPoint == source {
			return name, out
		}
	}
	return "", output{}
}

// app follows the app's script to everything it imports at once.
func (b bundled) app() entryFiles {
	name, out := b.entry(appSource)
	files := entryFiles{script: name, style: out.CSSBundle}
	seen := map[string]bool{name: true}
	var follow func(list *[]string, imports []importedOutput)
	follow = func(list *[]string, imports []importedOutput) {
		for _, imported := range imports {
			if imported.Kind == "import-statement" && !seen[imported.Path] {
				seen[imported.Path] = true
				*list = append(*list, imported.Path)
				follow(list, b.Outputs[imported.Path].Imports)
			}
		}
	}
	follow(&files.chunks, out.Imports)
	if name, _ := b.entry(labelSource); name != "" {
		follow(&files.label, []importedOutput{{name, "import-statement"}})
	}
	return files
}

// alias makes esbuild read path where the sources import name.
func alias(name, path string) api.Plugin {
	return api.Plugin{Name: name, Setup: func(build api.PluginBuild) {
		build.OnResolve(api.OnResolveOptions{Filter: "^" + name + "$"}, func(api.OnResolveArgs) (api.OnResolveResult, error) {
			return api.OnResolveResult{Path: path}, nil
		})
	}}
}

// checkDecoder makes sure that the decoder's wasm is here and fits its script:
// of another version it fails only when someone scans, and without it the
// script would ask a public server.
func checkDecoder(s site, modules string) error {
	script, err := os.ReadFile(filepath.Join(modules, "barcode-detector", "dist", "es", "zxing-exported.js"))
	if err != nil {
		return err
	}
	for _, name := range s.names() {
		if strings.HasPrefix(name, "assets/zxing_reader-") && path.Ext(name) == ".wasm" {
			if !strings.Contains(string(script), sha256Hex(s[name])) {
				return errors.New("zxing-wasm is not the version that barcode-detector was made for: reinstall with npm ci")
			}
			return nil
		}
	}
	return errors.New("the decoder's wasm is in no bundle: the scanner must import zxing-wasm/reader/zxing_reader.wasm")
}
