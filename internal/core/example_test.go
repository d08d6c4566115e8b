package core_test

import (
	"fmt"

	"packwright/internal/core"
)

func ExampleSession_Call() {
	s := core.New()
	answer, err := s.Call("read-number", []byte(`{"text":"12,84","quantity":"voltage"}`))
	fmt.Println(string(answer), err)
	_, err = s.Call("read-code", []byte(`{"text":"7K3QX"}`))
	fmt.Println(err)
	// Output:
	// {"value":12.84,"shown":"12.84 V","doubt":""} <nil>
	// a code has 6 characters, and this has 5
}
