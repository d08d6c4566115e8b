package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/labstack/echo/v4"
	"github.com/pb33f/libopenapi/datamodel"
	"github.com/santhosh-tekuri/jsonschema/v6"

	"packwright/internal/demo"
	"packwright/internal/journal"
)

// TestOpenAPIStructure validates the document against the OpenAPI Initiative's
// own JSON Schema of OpenAPI 3.1, as libopenapi carries it, and every schema in
// it against JSON Schema 2020-12.
func TestOpenAPIStructure(t *testing.T) {
	c := jsonschema.NewCompiler()
	structure, err := jsonschema.UnmarshalJSON(strings.NewReader(datamodel.OpenAPI31SchemaData))
	if err != nil {
		t.Fatal(err)
	}
	if err := c.AddResource("openapi-3.1.json", structure); err != nil {
		t.Fatal(err)
	}
	schema, err := c.Compile("openapi-3.1.json")
	if err != nil {
		t.Fatal(err)
	}
	document, err := jsonschema.UnmarshalJSON(bytes.NewReader(openAPIDocument))
	if err != nil {
		t.Fatal(err)
	}
	if err := schema.Validate(document); err != nil {
		t.Errorf("openapi.json is not an OpenAPI 3.1 document: %v", err)
	}
	document.(map[string]any)["paths"] = 1
	if schema.Validate(document) == nil {
		t.Error("the check accepts a document whose paths are a number")
	}

	api := readAPI(t)
	for name := range api.document["components"].(map[string]any)["schemas"].(map[string]any) {
		api.schema(t, "#/components/schemas/"+name)
	}
}

// TestOpenAPIRoutes compares the document with the routes that are served.
func TestOpenAPIRoutes(t *testing.T) {
	served := map[string]bool{}
	for _, r := range (&server{}).handler(doorHere).(*echo.Echo).Routes() {
		if strings.HasPrefix(r.Path, "/api/") {
			served[r.Method+" "+r.Path] = true
		}
	}
	described := map[string]bool{}
	for path, item := range readAPI(t).document["paths"].(map[string]any) {
		for method := range item.(map[string]any) {
			described[strings.ToUpper(method)+" "+path] = true
		}
	}
	for route := range served {
		if !described[route] {
			t.Errorf("%s is served and not described", route)
		}
	}
	for route := range described {
		if !served[route] {
			t.Errorf("%s is described and not served", route)
		}
	}
}

// api is the published description, to check real requests and answers against.
type api struct {
	document map[string]any
	compiler *jsonschema.Compiler
}

func readAPI(t testing.TB) *api {
	document, err := jsonschema.UnmarshalJSON(bytes.NewReader(openAPIDocument))
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	c.DefaultDraft(jsonschema.Draft2020)
	if err := c.AddResource("openapi.json", document); err != nil {
		t.Fatal(err)
	}
	return &api{document: document.(map[string]any), compiler: c}
}

func (a *api) schema(t testing.TB, pointer string) *jsonschema.Schema {
	t.Helper()
	s, err := a.compiler.Compile("openapi.json" + pointer)
	if err != nil {
		t.Fatalf("schema %s: %v", pointer, err)
	}
	return s
}

// checkRequest reports how a request body differs from the description.
func (a *api) checkRequest(t testing.TB, method, path string, body []byte) error {
	return a.check(t, a.operation(method, path), "/requestBody/content/application~1json/schema", body)
}

// checkAnswer reports how an answer differs from the description: a status that
// is not in it, another content type, or a body that does not fit the schema.
func (a *api) checkAnswer(t testing.TB, method, path string, status int, header http.Header, body []byte) error {
	operation := a.operation(method, path)
	if operation == "" {
		return fmt.Errorf("%s %s is not described", method, path)
	}
	answer := operation + "/responses/" + strconv.Itoa(status)
	found, ok := a.at(answer)
	if !ok {
		return fmt.Errorf("%s %s: status %d is not described", method, path, status)
	}
	if ref, ok := found.(map[string]any)["$ref"]; ok {
		answer = ref.(string)
		found, _ = a.at(answer)
	}
	kind, _, _ := strings.Cut(header.Get("Content-Type"), ";")
	content, ok := found.(map[string]any)["content"].(map[string]any)
	if !ok {
		if len(body) > 0 || kind != "" {
			return fmt.Errorf("%s %s: %d bytes of %q, and no content is described", method, path, len(body), kind)
		}
		return nil
	}
	if _, ok := content[kind]; !ok {
		return fmt.Errorf("%s %s: content type %q is not described", method, path, kind)
	}
	if kind != "application/json" {
		return nil
	}
	return a.check(t, answer, "/content/application~1json/schema", body)
}

func (a *api) check(t testing.TB, operation, schema string, body []byte) error {
	value, err := jsonschema.UnmarshalJSON(bytes.NewReader(body))
	if err != nil {
		return err
	}
	return a.schema(t, operation+schema).Validate(value)
}

// operation is the JSON pointer of a route, as a URI fragment.
func (a *api) operation(method, path string) string {
	path, _, _ = strings.Cut(path, "?")
	pointer := "#/paths/" + strings.ReplaceAll(path, "/", "~1") + "/" + strings.ToLower(method)
	if _, ok := a.at(pointer); !ok {
		return ""
	}
	return pointer
}

// at follows a JSON pointer.
func (a *api) at(pointer string) (any, bool) {
	var value any = a.document
	for part := range strings.SplitSeq(strings.TrimPrefix(pointer, "#/"), "/") {
		object, ok := value.(map[string]any)
		if !ok {
			return nil, false
		}
		if value, ok = object[strings.ReplaceAll(part, "~1", "/")]; !ok {
			return nil, false
		}
	}
	return value, true
}

// TestOpenAPIBodies checks real requests and answers: the whole invented season
// pushed, pulled and offered.
func TestOpenAPIBodies(t *testing.T) {
	s, _ := openTest(t)
	api := readAPI(t)
	exchange := func(method, path string, body []byte) []byte {
		t.Helper()
		var content io.Reader
		if body != nil {
			content = bytes.NewReader(body)
			if err := api.checkRequest(t, method, path, body); err != nil {
				t.Errorf("%s %s: request: %v", method, path, err)
			}
		}
		w := send(s, method, path, content)
		if w.Code != http.StatusOK {
			t.Errorf("%s %s: status %d: %.300s", method, path, w.Code, w.Body)
		}
		if err := api.checkAnswer(t, method, path, w.Code, w.Header(), w.Body.Bytes()); err != nil {
			t.Errorf("%s %s: answer: %v", method, path, err)
		}
		return w.Body.Bytes()
	}
	var ids []string
	for batch := range slices.Chunk(demo.Season(), maxPushEntries) {
		exchange("POST", "/api/v1/entries", push(batch...))
		for _, entry := range batch {
			ids = append(ids, entry.ID)
		}
	}
	if got := head(t, s); got != uint64(len(ids)) || got == 0 {
		t.Fatalf("%d of %d entries were stored", got, len(ids))
	}
	exchange("POST", "/api/v1/offer", mustJSON(offerRequest{IDs: ids[:min(len(ids), maxOfferIDs)]}))
	for _, path := range []string{"/api/v1/entries", "/api/v1/health", "/api/v1/version", "/api/v1/openapi.json", "/api/v1/journal.jsonl",
		"/api/v1/labels.pdf", "/api/v1/checklist.pdf", "/api/v1/testsheet.pdf", "/api/v1/packreport.pdf", "/api/v1/fleetreport.pdf"} {
		exchange("GET", path, nil)
	}

	s.origin = fieldOrigin
	var invited inviteAnswer
	if err := json.Unmarshal(exchange("POST", "/api/v1/invitations", []byte(`{"role":"crew"}`)), &invited); err != nil {
		t.Fatal(err)
	}
	var in joinAnswer
	request := mustJSON(joinRequest{Code: invited.Code, Name: "workshop", Token: true})
	if err := json.Unmarshal(exchange("POST", "/api/v1/join", request), &in); err != nil || in.Token == "" {
		t.Fatal(in, err)
	}
	exchange("GET", "/api/v1/me", nil)
	exchange("POST", "/api/v1/devices/change", mustJSON(map[string]any{"id": in.Device.ID, "role": "lead"}))
	exchange("POST", "/api/v1/devices/change", mustJSON(map[string]any{"id": in.Device.ID, "revoked": true}))
	exchange("GET", "/api/v1/devices", nil)
}

// TestOpenAPINotStricter spoils one field of an entry at a time. What the server
// still takes, the description must allow.
func TestOpenAPINotStricter(t *testing.T) {
	// These are read as 0 where they are absent, which says more than their maker
	// knew; so the description asks for them all the same.
	askedFor := []string{"reading_pct", "counts", "accuracy_pct", "lead_ohm", "rating_w", "on_heat_sink"}
	schema := readAPI(t).schema(t, "#/components/schemas/Entry")
	tried, refusedByBoth := 0, 0
	check := func(entry map[string]any) {
		raw := mustJSON(entry)
		parsed, err := journal.ParseEntry(raw)
		if err == nil {
			err = parsed.Check()
		}
		value, decodeErr := jsonschema.UnmarshalJSON(bytes.NewReader(raw))
		if decodeErr != nil {
			t.Fatal(decodeErr)
		}
		described := schema.Validate(value)
		tried++
		switch {
		case err == nil && described != nil:
			t.Errorf("taken by the server and not described: %s: %v", raw, described)
		case err != nil && described != nil:
			refusedByBoth++
		}
	}
	kinds := map[journal.Kind]int{}
	imported := note(1, "x") // of the season nothing came in a table
	imported.Kind, imported.Body = journal.Imported, mustJSON(journal.Import{File: "old tests.csv", Rows: 3})
	for _, entry := range append(demo.Season(), imported) {
		if kinds[entry.Kind]++; kinds[entry.Kind] > 3 {
			continue
		}
		decode := func() map[string]any {
			var m map[string]any
			if err := json.Unmarshal(mustJSON(entry), &m); err != nil {
				t.Fatal(err)
			}
			return m
		}
		check(decode())
		for _, place := range objects(decode()) {
			object := func(m map[string]any) map[string]any {
				for _, name := range place {
					m = m[name].(map[string]any)
				}
				return m
			}
			for name := range object(decode()) {
				for _, value := range []any{nil, "", "text", -1, 0, 1.5, []any{}, []any{1.0}, map[string]any{}, true} {
					m := decode()
					object(m)[name] = value
					check(m)
				}
				if !slices.Contains(askedFor, name) {
					m := decode()
					delete(object(m), name)
					check(m)
				}
			}
			m := decode()
			object(m)["extra"] = 1
			check(m)
		}
	}
	for kind := range bodies() {
		if kinds[kind] == 0 {
			t.Errorf("the invented season has no %s", kind)
		}
	}
	if refusedByBoth < tried/4 {
		t.Errorf("of %d spoiled entries only %d are refused by the description and the server", tried, refusedByBoth)
	}
}

// objects gives the paths of an object and of all objects in it.
func objects(m map[string]any) [][]string {
	paths := [][]string{nil}
	for name, value := range m {
		if inner, ok := value.(map[string]any); ok {
			for _, path := range objects(inner) {
				paths = append(paths, append([]string{name}, path...))
			}
		}
	}
	return paths
}
