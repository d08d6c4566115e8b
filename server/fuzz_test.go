package main

import (
	"bytes"
	"context"
	"encoding/json"
	"net/http"
	"strings"
	"testing"

	"packwright/internal/store"
)

// FuzzResistance types anything into the flags: the answer is a result or a
// message with what was wrong, never a failure of the program.
func FuzzResistance(f *testing.F) {
	f.Add("12.84", "12.71", "10", "5", "0.5%+2", "0.1")
	f.Add("12.84,12.84,12.83", "12.71,12.70,12.71", "2.5 Ω", "1", "0,5 % + 2", "100mΩ")
	f.Add("12,84", "12.71", "-1", "", "±(0.1%+1)", "1e9")
	f.Add("0.001", "0.001", "0.0001", "0", "0%+0", "0")
	f.Fuzz(func(t *testing.T, open, loaded, load, tolerance, meter, limit string) {
		for _, value := range []string{open, loaded, load, tolerance, meter, limit} {
			if strings.ContainsRune(value, 0) {
				t.Skip("no argument can hold U+0000")
			}
		}
		var stdout, stderr bytes.Buffer
		status := run(context.Background(), []string{"resistance", "--json", "--open=" + open, "--loaded=" + loaded,
			"--load=" + load, "--load-tolerance=" + tolerance, "--meter=" + meter, "--limit=" + limit}, &stdout, &stderr)
		switch {
		case status == exitDone && json.Valid(stdout.Bytes()) && stderr.Len() == 0:
		case status == exitMisused && stdout.Len() == 0 && strings.HasPrefix(stderr.String(), "packwright: error: "):
		default:
			t.Errorf("status %d\n%s\n%s", status, stdout.String(), stderr.String())
		}
	})
}

// FuzzPush sends anything as a push: it is taken or refused in words, one result
// for each element, and what is called accepted is what the head counts.
func FuzzPush(f *testing.F) {
	f.Add(string(push(note(1, "x"))))
	f.Add(`{"entries":[null,{},7,{"id":"01KAXW5Y00000000000000000A"}]}`)
	f.Add(`{"entries":[{"id":"01KAXW5Y00000000000000000A","v":9,"kind":"moon","pack":"","device":"d","by":"","hlc":"1764060000000-0000","body":[]}]}`)
	f.Add(`{"entries":[]}{}`)
	f.Add(`{"entries":{"a":1}}`)
	s, _ := openTest(f)
	f.Fuzz(func(t *testing.T, body string) {
		before := head(t, s)
		w := send(s, "POST", "/api/v1/entries", strings.NewReader(body))
		accepted := uint64(0)
		switch w.Code {
		case http.StatusOK:
			var answer pushAnswer
			if err := json.Unmarshal(w.Body.Bytes(), &answer); err != nil {
				t.Fatal(err)
			}
			for i, r := range answer.Results {
				if r.Index != i || r.Status == "" {
					t.Errorf("result %d: %+v", i, r)
				}
				if r.Status == store.Accepted {
					accepted++
				}
			}
		case http.StatusBadRequest, http.StatusRequestEntityTooLarge:
		default:
			t.Errorf("status %d: %s", w.Code, w.Body)
		}
		if got := head(t, s) - before; got != accepted {
			t.Errorf("%d accepted, the head moved by %d", accepted, got)
		}
	})
}
