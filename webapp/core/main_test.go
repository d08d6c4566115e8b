//go:build js && wasm

package main

import (
	"runtime"
	"syscall/js"
	"testing"
)

// The bridge as the page's worker uses it: text in, {answer} or {problem} out.
func TestBridge(t *testing.T) {
	go main() // it never ends, as on the phone
	for js.Global().Get("packwrightCall").IsUndefined() {
		runtime.Gosched()
	}
	good := js.Global().Call("packwrightCall", "read-number", `{"text":"0,1","quantity":"resistance"}`)
	if got, want := good.Get("answer").String(), `{"value":0.1,"shown":"0.1 Ω","doubt":""}`; got != want || !good.Get("problem").IsUndefined() {
		t.Errorf("%s, want %s", got, want)
	}
	bad := js.Global().Call("packwrightCall", "read-code", `{"text":"7K3QX"}`)
	want := `{"kind":"invalid","text":"a code has 6 characters, and this has 5","hint":"look at the label again","field":"code"}`
	if got := bad.Get("problem").String(); got != want || !bad.Get("answer").IsUndefined() {
		t.Errorf("%s, want %s", got, want)
	}
}
