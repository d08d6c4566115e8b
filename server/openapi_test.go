package main

import (
	"bytes"
	"encoding/json"
	"flag"
	"maps"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"

	"github.com/google/jsonschema-go/jsonschema"

	"packwright/internal/exchange"
	"packwright/internal/godoc"
	"packwright/internal/journal"
	"packwright/internal/loadtest"
)

var update = flag.Bool("update", false, "write generated files anew")

// TestOpenAPIFresh generates openapi.json from openapi.base.json, the Go types
// and their comments, and compares it with the file that is built in.
func TestOpenAPIFresh(t *testing.T) {
	want := generateOpenAPI(t)
	if *update {
		if err := os.WriteFile("openapi.json", want, 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	if !bytes.Equal(want, openAPIDocument) {
		t.Error("openapi.json is not what the Go types say now: run go test ./server -run TestOpenAPIFresh -update")
	}
}

// bodies are the entry kinds with the type of their body. TestBodiesComplete
// compares the list with the kinds in the source.
func bodies() map[journal.Kind]reflect.Type {
	return map[journal.Kind]reflect.Type{
		journal.PackAdded:      reflect.TypeFor[journal.Profile](),
		journal.ProfileChanged: reflect.TypeFor[journal.Profile](),
		journal.LoadTest:       reflect.TypeFor[loadtest.Test](),
		journal.DirectReading:  reflect.TypeFor[loadtest.Direct](),
		journal.Noted:          reflect.TypeFor[journal.Note](),
		journal.Inspected:      reflect.TypeFor[journal.Inspection](),
		journal.FindingClosed:  reflect.TypeFor[journal.FindingClose](),
		journal.TeamChanged:    reflect.TypeFor[journal.Team](),
		journal.Voided:         reflect.TypeFor[journal.Void](),
		journal.Repaired:       reflect.TypeFor[journal.Repair](),
		journal.Charged:        reflect.TypeFor[journal.Charge](),
		journal.RunLogged:      reflect.TypeFor[journal.Run](),
		journal.Wiggled:        reflect.TypeFor[journal.Wiggle](),
		journal.Imported:       reflect.TypeFor[journal.Import](),
	}
}

func TestBodiesComplete(t *testing.T) {
	src := readSource(t, "../internal/journal")
	listed := bodies()
	for _, kind := range src.Constants["Kind"] {
		if _, ok := listed[journal.Kind(kind)]; !ok {
			t.Errorf("kind %q has no body in the API's description", kind)
		}
	}
	if len(src.Constants["Kind"]) != len(listed) {
		t.Errorf("%d kinds in the source, %d described", len(src.Constants["Kind"]), len(listed))
	}
}

func generateOpenAPI(t *testing.T) []byte {
	base, err := os.ReadFile("openapi.base.json")
	if err != nil {
		t.Fatal(err)
	}
	var document map[string]any
	if err := json.Unmarshal(base, &document); err != nil {
		t.Fatalf("openapi.base.json: %v", err)
	}
	g := &generator{t: t, sources: map[string]godoc.Package{}}
	schemas := map[string]any{}
	for name, typ := range map[string]reflect.Type{
		"PushRequest":   reflect.TypeFor[pushRequest](),
		"PushAnswer":    reflect.TypeFor[pushAnswer](),
		"PullAnswer":    reflect.TypeFor[pullAnswer](),
		"ResetAnswer":   reflect.TypeFor[resetAnswer](),
		"OfferRequest":  reflect.TypeFor[offerRequest](),
		"OfferAnswer":   reflect.TypeFor[offerAnswer](),
		"HeadEvent":     reflect.TypeFor[headEvent](),
		"HealthAnswer":  reflect.TypeFor[healthAnswer](),
		"VersionAnswer": reflect.TypeFor[versionAnswer](),
		"ProblemAnswer": reflect.TypeFor[problemAnswer](),
		"JoinRequest":   reflect.TypeFor[joinRequest](),
		"JoinAnswer":    reflect.TypeFor[joinAnswer](),
		"MeAnswer":      reflect.TypeFor[meAnswer](),
		"InviteRequest": reflect.TypeFor[inviteRequest](),
		"InviteAnswer":  reflect.TypeFor[inviteAnswer](),
		"DevicesAnswer": reflect.TypeFor[devicesAnswer](),
		"ChangeRequest": reflect.TypeFor[changeRequest](),
		"ChangeAnswer":  reflect.TypeFor[changeAnswer](),

		"UpstreamStatus": reflect.TypeFor[exchange.Status](),
	} {
		s := g.schema(typ, &jsonschema.Schema{Ref: "#/components/schemas/Entry"})
		if strings.HasSuffix(name, "Request") {
			s.AdditionalProperties = nil // a newer phone may add fields
		}
		schemas[name] = s
	}
	schemas["PushRequest"].(*jsonschema.Schema).Properties["entries"].MaxItems = jsonschema.Ptr(maxPushEntries)
	schemas["OfferRequest"].(*jsonschema.Schema).Properties["ids"].MaxItems = jsonschema.Ptr(maxOfferIDs)

	entry := g.schema(reflect.TypeFor[journal.Entry](), &jsonschema.Schema{})
	entry.Properties["id"].Pattern = "^[0-7][0-9A-HJKMNP-TV-Z]{25}$"
	entry.Properties["hlc"].Pattern = "^[0-9]{13}-[0-9a-f]{4}$"
	entry.Properties["pack"].Pattern = "^[0-9A-Z]{0,16}$"
	entry.Required = slices.DeleteFunc(entry.Required, func(name string) bool { return name == "pack" || name == "by" })
	entry.Properties["v"].Minimum = jsonschema.Ptr(1.0)
	for _, kind := range slices.Sorted(maps.Keys(bodies())) {
		typ := bodies()[kind]
		name := typ.Name()
		body := g.schema(typ, &jsonschema.Schema{})
		switch typ {
		case reflect.TypeFor[loadtest.Test]():
			body.Properties["method"].Enum = []any{loadtest.KnownLoad, loadtest.TwoLoads, loadtest.MeasuredCurrent}
		case reflect.TypeFor[loadtest.Direct]():
			body.Properties["method"].Enum = []any{loadtest.DirectAC, loadtest.DirectDC}
		case reflect.TypeFor[journal.Import](): // a table may have no name
			optional(body, "file")
		case reflect.TypeFor[journal.Run](): // without cells the usual number is meant
			optional(body, "options")
			optional(body.Properties["options"], "cells")
		}
		schemas[name] = body
		entry.AllOf = append(entry.AllOf, &jsonschema.Schema{
			If: &jsonschema.Schema{Properties: map[string]*jsonschema.Schema{
				"kind": {Const: jsonschema.Ptr[any](kind)}, "v": {Const: jsonschema.Ptr[any](journal.Version)}}},
			Then: &jsonschema.Schema{Properties: map[string]*jsonschema.Schema{
				"body": {Ref: "#/components/schemas/" + name}}},
		})
	}
	schemas["Entry"] = entry
	document["components"].(map[string]any)["schemas"] = schemas
	out, err := json.MarshalIndent(document, "", "  ")
	if err != nil {
		t.Fatal(err)
	}
	return append(out, '\n')
}

// optional makes a member of an object one that may be absent.
func optional(s *jsonschema.Schema, name string) {
	s.Required = slices.DeleteFunc(s.Required, func(r string) bool { return r == name })
}

// generator makes schemas from types, with descriptions from their comments.
type generator struct {
	t       *testing.T
	sources map[string]godoc.Package // by package path
}

// schema describes a type; raw stands wherever the type holds raw JSON.
func (g *generator) schema(typ reflect.Type, raw *jsonschema.Schema) *jsonschema.Schema {
	s, err := jsonschema.ForType(typ, &jsonschema.ForOptions{
		TypeSchemas: map[reflect.Type]*jsonschema.Schema{reflect.TypeFor[json.RawMessage](): raw}})
	if err != nil {
		g.t.Fatalf("schema of %v: %v", typ, err)
	}
	g.describe(s, typ)
	return s
}

// describe adds what reflection cannot know: comments, the texts of a named
// string type, and that a list is never null.
func (g *generator) describe(s *jsonschema.Schema, typ reflect.Type) {
	for typ.Kind() == reflect.Pointer {
		typ = typ.Elem()
	}
	if typ == reflect.TypeFor[json.RawMessage]() {
		return
	}
	s.PropertyOrder = nil
	src := g.source(typ.PkgPath())
	switch typ.Kind() {
	case reflect.Slice:
		s.Type, s.Types = "array", nil
		g.describe(s.Items, typ.Elem())
	case reflect.String:
		if texts := src.Constants[typ.Name()]; texts != nil && typ != reflect.TypeFor[journal.Kind]() && typ.Name() != "Kind" {
			for _, text := range texts {
				s.Enum = append(s.Enum, text)
			}
		}
	case reflect.Struct:
		s.Description = oneLine(src.Docs[typ.Name()])
		for i := range typ.NumField() {
			field := typ.Field(i)
			name, _, _ := strings.Cut(field.Tag.Get("json"), ",")
			p := s.Properties[name]
			if p == nil {
				continue
			}
			g.describe(p, field.Type)
			if p.Enum != nil && strings.Contains(field.Tag.Get("json"), "omitempty") {
				p.Enum = append(p.Enum, "") // as good as absent
			}
			if comment := oneLine(src.Docs[typ.Name()+"."+field.Name]); comment != "" {
				p.Description = comment
			}
		}
	}
}

func (g *generator) source(pkg string) godoc.Package {
	src, ok := g.sources[pkg]
	if !ok && strings.HasPrefix(pkg, "packwright/") {
		src = readSource(g.t, filepath.Join("..", strings.TrimPrefix(pkg, "packwright/")))
		g.sources[pkg] = src
	}
	return src
}

func readSource(t *testing.T, dir string) godoc.Package {
	src, err := godoc.Read(dir)
	if err != nil {
		t.Fatal(err)
	}
	return src
}

func oneLine(text string) string { return strings.Join(strings.Fields(text), " ") }
