package store_test

import (
	"context"
	"encoding/json"
	"fmt"
	"os"

	"packwright/internal/store"
)

func Example() {
	dir, err := os.MkdirTemp("", "packwright")
	if err != nil {
		panic(err)
	}
	defer os.RemoveAll(dir)
	s, err := store.Open(dir, store.Options{})
	if err != nil {
		panic(err)
	}
	defer s.Close()

	note := json.RawMessage(`{"id":"01KAX2PVR00000000000000001","v":1,"kind":"note","pack":"","device":"bench",
		"by":"AB","hlc":"1764060000000-0000","body":{"text":"new meter"}}`)
	for range 2 {
		results, err := s.Append(context.Background(), []json.RawMessage{note}, "bench")
		if err != nil {
			panic(err)
		}
		fmt.Println(results[0].Status, results[0].Seq)
	}
	page, err := s.Page(0, 100, 1<<18)
	if err != nil {
		panic(err)
	}
	fmt.Println(string(page.Items[0].Entry), page.More)
	// Output:
	// accepted 1
	// duplicate 1
	// {"body":{"text":"new meter"},"by":"AB","device":"bench","hlc":"1764060000000-0000","id":"01KAX2PVR00000000000000001","kind":"note","pack":"","v":1} false
}
