package main

import (
	"context"
	"fmt"
	"net/http"
	"os"
	"strings"

	"packwright/internal/ca"
	"packwright/internal/exchange"
	"packwright/internal/problem"
	"packwright/internal/store"
)

type joinCmd struct {
	URL         string `arg:"" name:"url" help:"Address of the other server, as it shows it: https://pit.local:8443."`
	Code        string `placeholder:"ABCD-EFGH" help:"One-time code from the other server (packwright invite --lead there)."`
	Fingerprint string `placeholder:"AA:BB:…" help:"Fingerprint, read on the other machine's own screen (packwright serve prints it); in quotes with spaces, or with colons."`
	Root        string `type:"path" placeholder:"FILE" help:"Certificate from its welcome page, where it cannot be fetched."`
	Name        string `placeholder:"NAME" help:"Name for this server in the other one's list of devices (the machine's own)."`
	Data        string `default:"${data}" type:"path" placeholder:"DIR" help:"Folder of the database (${default})."`
	Keys        string `type:"path" placeholder:"DIR" help:"Folder of keys (the data folder's name with -keys)."`
}

// Run makes this server a device of the other one. The token and the certificate
// it is pinned to stay in the folder of keys; a server that runs takes up a new token
// by itself.
func (cmd *joinCmd) Run(con *console) error {
	asking := exchange.Asking{URL: cmd.URL, Code: cmd.Code, Fingerprint: cmd.Fingerprint, Name: cmd.Name,
		Epoch: runningEpoch(con.ctx, cmd.Data), Dial: newFinder().DialContext}
	if asking.Name == "" {
		host, err := os.Hostname()
		if err != nil {
			return problem.Invalidf("name", "give it one, as in --name workshop", "this machine does not know its name: %v", err)
		}
		asking.Name = host
	}
	if cmd.Root != "" {
		root, err := os.ReadFile(cmd.Root)
		if err != nil {
			return problem.Invalidf("root", "save it from the welcome page of the other server", "the certificate cannot be read: %v", err)
		}
		asking.Root = root
	}
	keys := fieldChoices{Keys: cmd.Keys}.keysDir(cmd.Data)
	before, beforeErr := exchange.ReadLink(keys)
	link, err := exchange.Join(con.ctx, asking)
	if err != nil {
		return err
	}
	if err := link.Save(keys); err != nil {
		return err
	}
	if beforeErr == nil && before.URL != link.URL {
		con.note("this server no longer exchanges with %s", before.URL)
	}
	namesakes := link.Namesakes
	if beforeErr == nil && before.Token != "" {
		if err := before.Leave(con.ctx, asking.Dial); err == nil {
			con.note("its former entry on the list of devices of %s, %q, was ended", before.URL, before.Name)
			if before.URL == link.URL && before.Name == link.Name {
				namesakes--
			}
		} else if p, ok := problem.As(err); !ok || p.Kind != problem.NotJoined { // it was taken off already
			con.note("its former entry on the list of devices of %s, %q, could not be ended: take it off there, under Set-up, Devices", before.URL, before.Name)
		}
	}
	if namesakes > 0 {
		con.note("the list of devices of %s holds another server named %q: if it is this one from before, take it off there, under Set-up, Devices", link.URL, link.Name)
	}
	if link.Role != "lead" {
		con.note("this server joined as %s: the other one will not take changes of the team's settings from here; join with a lead's code for that", link.Role)
	}
	con.note("start the exchange: %s", cmd.serveLine(link.URL))
	_, err = fmt.Fprintf(con.stdout, "joined %s as %s\n", link.URL, link.Role)
	return err
}

// serveLine is the command that serves what was joined for: on the same folders, and
// for phones where this machine has done that before.
func (cmd *joinCmd) serveLine(upstream string) string {
	line := programName + " serve"
	o := fieldChoices{Keys: cmd.Keys}
	if host, err := ca.HostIn(o.keysDir(cmd.Data)); err == nil && host != "" {
		line += " --lan --name " + strings.TrimSuffix(host, ".local")
	}
	if cmd.Data != defaultDataDir() {
		line += " --data " + shellWord(cmd.Data)
	}
	if cmd.Keys != "" {
		line += " --keys " + shellWord(cmd.Keys)
	}
	return line + " --upstream " + upstream
}

// shellWord is a path as it is typed: in quotes where it holds more than plain
// characters.
func shellWord(path string) string {
	plain := func(r rune) bool {
		return r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || strings.ContainsRune(`/\:._-+@`, r)
	}
	if strings.IndexFunc(path, func(r rune) bool { return !plain(r) }) < 0 {
		return path
	}
	return `"` + path + `"`
}

// runningEpoch is the epoch of the journal of the server that runs on the data;
// empty where none does: then none can be joined by mistake.
func runningEpoch(ctx context.Context, data string) string {
	address, running := store.Locked(data)
	if !running || address == "" {
		return ""
	}
	var health healthAnswer
	if err := askHere(ctx, http.MethodGet, address+"/api/v1/health", nil, &health); err != nil {
		return "" // it hangs, or has just been stopped
	}
	return health.Epoch
}
