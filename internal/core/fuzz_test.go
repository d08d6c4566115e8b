package core

import (
	"encoding/json"
	"testing"

	"packwright/internal/problem"
)

// Whatever the page asks, it gets JSON or a problem, and never a fault.
func FuzzCall(f *testing.F) {
	f.Add("assess", []byte(`{"kind":"load-test","pack":"","body":`+goodTest+`}`))
	f.Add("read-code", []byte(`{"text":"7k3-qx8"}`))
	f.Add("read-number", []byte(`{"text":"12,84 V","quantity":"voltage"}`))
	f.Add("setup-check", []byte(`{"meter":{"resolution_v":0.01},"load":{"ohm":10},"open_v":12.8,"limit_ohm":0.1,"repeats":3}`))
	f.Add("make-entry", []byte(`{"kind":"note","by":"MK","device":"d","now_ms":1,"random":[1,2,3,4,5,6,7,8,9,10],"body":{"text":"x"}}`))
	f.Add("add-entries", []byte(`{"entries":[{"id":"01M1DZRPK005QPWS8000000001","v":1,"kind":"note","pack":"","device":"d","by":"","hlc":"1788249600000-0000","body":{"text":"x"}}]}`))
	f.Add("overview", []byte(`{"now_ms":-9e5}`))
	f.Add("health", []byte(`{"code":"7K3QXX","now_ms":1}`))
	f.Add("board", []byte(`{"now_ms":1,"then_ms":2,"wanted":3}`))
	f.Add("wiggle-check", []byte(`{"pack":"","body":`+wiggleBody+`}`))
	f.Add("run-check", []byte(`{"pack":"","body":{"purpose":"capacity","options":{"cells":10,"load_ohm":12},"rows":[{"time_s":0,"volts":12},{"time_s":600,"volts":9}]}}`))
	f.Add("run-look", []byte(`{"head":"s;V\n0;12,5\n1;12,4\n","whole":true,"cells":10}`))
	f.Add("lead", []byte(`{"lead":{"wires":[{"name":"","size":{"awg":16},"length_mm":300,"ways":2}],"joints":[],"peak_a":20},"pack":""}`))
	f.Add("read-size", []byte(`{"text":"1,5 mm2"}`))
	f.Add("table", []byte(`{"what":"packs","now_ms":-1}`))
	f.Add("calendar", []byte(`{"now_ms":9e15}`))
	f.Add("import-look", []byte(`{"text":"pack,date,R\n7K3QXX,1.2.26,80 mΩ\n","file":"","plan":null,"now_ms":1}`))
	f.Fuzz(func(t *testing.T, name string, request []byte) {
		answer, err := New().Call(name, request)
		if err == nil {
			if !json.Valid(answer) {
				t.Errorf("not JSON: %q", answer)
			}
			return
		}
		if p, ok := problem.As(err); !ok || p.Kind == Internal {
			t.Errorf("%v", err)
		}
	})
}
