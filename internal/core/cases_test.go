package core

import (
	"bytes"
	"encoding/json"
	"flag"
	"math"
	"math/big"
	"os"
	"path/filepath"
	"testing"

	"packwright/internal/journal"
	"packwright/internal/judge"
	"packwright/internal/loadtest"
	"packwright/internal/strictjson"
)

var update = flag.Bool("update", false, "write the answers in testdata/cases anew")

// testCase is a file of testdata/cases: what goes into a test, a few values
// worked out by hand, and the whole answer, to the last digit.
type testCase struct {
	About  string          `json:"about"`
	Kind   journal.Kind    `json:"kind"`
	Body   json.RawMessage `json:"body"`
	Cells  int             `json:"cells"`
	FuseA  float64         `json:"fuse_a"`
	Limits judge.Limits    `json:"limits"`
	Safety []string        `json:"safety"`
	ByHand byHand          `json:"by_hand"`
	Answer json.RawMessage `json:"answer"`
}

// byHand are values that do not come from this program; the README beside the
// cases says from where. Fractions are exact.
type byHand struct {
	ResistanceOhm  string        `json:"resistance_ohm"`
	CurrentA       string        `json:"current_a,omitempty"`
	SagV           string        `json:"sag_v,omitempty"`
	ExpandedUncOhm float64       `json:"expanded_uncertainty_ohm"` // to seven digits
	Outcome        judge.Outcome `json:"outcome"`
}

// The same cases give the same answers, to the last digit, natively and in the
// phone's compiler: this test runs under js/wasm too.
func TestCases(t *testing.T) {
	files, err := filepath.Glob("../../testdata/cases/*.json")
	if err != nil || len(files) < 8 {
		t.Fatalf("%d cases, %v", len(files), err)
	}
	for _, file := range files {
		t.Run(filepath.Base(file), func(t *testing.T) { checkCase(t, file) })
	}
}

func checkCase(t *testing.T, file string) {
	raw, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	var c testCase
	if err := strictjson.Decode(raw, &c); err != nil {
		t.Fatal(err)
	}
	body := journal.NewBody(c.Kind)
	if err := strictjson.Decode(c.Body, body); err != nil {
		t.Fatal(err)
	}
	a, err := Assess(body, loadtest.Options{Working: true, Cells: c.Cells, FuseA: c.FuseA}, c.Limits, c.Safety)
	if err != nil {
		t.Fatal(err)
	}
	same := func(what string, got *float64, fraction string) {
		if (got == nil) != (fraction == "") {
			t.Errorf("%s: null %t, by hand %q", what, got == nil, fraction)
		}
		if got == nil || fraction == "" {
			return
		}
		exact, ok := new(big.Rat).SetString(fraction)
		if !ok {
			t.Fatalf("%s: %q is no fraction", what, fraction)
		}
		if want, _ := exact.Float64(); math.Abs(*got-want) > 1e-12*want {
			t.Errorf("%s %v, by hand %s = %v", what, *got, fraction, want)
		}
	}
	same("resistance", &a.ResistanceOhm, c.ByHand.ResistanceOhm)
	same("current", a.CurrentA, c.ByHand.CurrentA)
	same("sag", a.SagV, c.ByHand.SagV)
	if u := c.ByHand.ExpandedUncOhm; !(math.Abs(a.ExpandedUncertaintyOhm-u) <= 1e-6*u) {
		t.Errorf("U %v, by hand %v", a.ExpandedUncertaintyOhm, u)
	}
	if a.Outcome != c.ByHand.Outcome {
		t.Errorf("outcome %s, by hand %s", a.Outcome, c.ByHand.Outcome)
	}
	answer, err := strictjson.Encode(&a)
	if err != nil {
		t.Fatal(err)
	}
	if *update {
		c.Answer = answer
		writeCase(t, file, c)
		return
	}
	if got, want := sameText(t, answer), sameText(t, c.Answer); got != want {
		t.Errorf("the answer has changed; if it should, run: go test ./internal/core -run TestCases -update\n got %s\nwant %s", got, want)
	}
}

// sameText is an answer as text. Everything must agree to the last digit but
// the probability, which goes through an exponential function that amd64 has
// in assembly: it is shown to three digits and compared to nine.
func sameText(t *testing.T, answer []byte) string {
	var a Assessment
	if err := strictjson.Decode(answer, &a); err != nil {
		t.Fatal(err)
	}
	if p := a.ProbabilityWithinLimit; p != nil {
		*p = math.Round(*p*1e9) / 1e9
	}
	raw, err := strictjson.Encode(&a)
	if err != nil {
		t.Fatal(err)
	}
	return indented(t, raw)
}

func writeCase(t *testing.T, file string, c testCase) {
	raw, err := strictjson.Encode(&c)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(file, []byte(indented(t, raw)+"\n"), 0o644); err != nil {
		t.Fatal(err)
	}
}

func indented(t *testing.T, raw []byte) string {
	var out bytes.Buffer
	if err := json.Indent(&out, raw, "", "  "); err != nil {
		t.Fatal(err)
	}
	return out.String()
}
