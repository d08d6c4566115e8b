//go:build js && wasm

// Command core is the domain for the phone: internal/core behind one global
// JavaScript function, packwrightCall(name, request). Request and answer are
// JSON texts; it returns {answer} or {problem}, the problem as JSON text too.
package main

import (
	"syscall/js"

	"packwright/internal/core"
	"packwright/internal/problem"
	"packwright/internal/strictjson"
)

func main() {
	session := core.New()
	js.Global().Set("packwrightCall", js.FuncOf(func(_ js.Value, args []js.Value) any {
		answer, err := session.Call(args[0].String(), []byte(args[1].String()))
		if err != nil {
			p, _ := problem.As(err) // Call gives nothing else
			text, _ := strictjson.Encode(p)
			return map[string]any{"problem": string(text)}
		}
		return map[string]any{"answer": string(answer)}
	}))
	select {} // the page calls in until its worker ends
}
