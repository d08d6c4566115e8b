package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"strings"
	"time"

	"packwright/internal/access"
	"packwright/internal/problem"
	"packwright/internal/store"
	"packwright/labels"
)

type inviteCmd struct {
	Data string `default:"${data}" type:"path" placeholder:"DIR" help:"Folder of the database of the running server (${default})."`
	Lead bool   `help:"Let the device change team settings and devices too."`
}

// Run asks the running server for a code, at the address that is for this machine
// only, and shows it.
func (cmd *inviteCmd) Run(con *console) error {
	address, running := store.Locked(cmd.Data)
	if !running || address == "" {
		return problem.New(problem.NotFound, "start it in another window: packwright serve --lan; or name its folder with --data",
			"no server has the database in %s open", cmd.Data)
	}
	role := access.Crew
	if cmd.Lead {
		role = access.Lead
	}
	var made inviteAnswer
	if err := askHere(con.ctx, http.MethodPost, address+"/api/v1/invitations", inviteRequest{Role: role}, &made); err != nil {
		return err
	}
	return made.tell(con.stdout, con.now())
}

// tell shows the code, and where a device begins that is not ready for it.
func (made inviteAnswer) tell(w io.Writer, now time.Time) error {
	minutes := time.UnixMilli(made.ExpiresMS).Sub(now).Round(time.Minute).Minutes()
	var b strings.Builder
	page, _, _ := strings.Cut(made.URL, "#")
	if made.Welcome != "" {
		fmt.Fprintf(&b, "a phone that does not trust this machine yet begins with the welcome page: open %s\n", made.Welcome)
		if len(made.Numbers) > 0 {
			fmt.Fprintf(&b, "or, where it does not find that name, %s\n", welcomes(made.Numbers))
		}
		b.WriteString("(packwright serve shows that page as a QR; the one below is for joining)\n\n")
	}
	b.WriteString("QR TO JOIN, for a phone that trusts this machine:\n\n")
	if err := labels.TerminalQR(&b, made.URL, coloured(w)); err != nil {
		return err
	}
	fmt.Fprintf(&b, "\nscan this with the device that joins, or open %s there and type\n\n  %s\n\n", page, made.Code)
	if len(made.Numbers) > 0 {
		fmt.Fprintf(&b, "if it does not find that name: open %s; if that number changes, readings not yet sent stay under it\n", made.Numbers[0].Join)
	}
	fmt.Fprintf(&b, "it lets one device in as %s, within %.0f minutes\n", made.Role, minutes)
	_, err := io.WriteString(w, b.String())
	return err
}

// maxAnswer bounds what is read of another program's answer, byte.
const maxAnswer = 1 << 20

// askHere sends a request to a server on this machine and reads its answer. A
// problem that the server tells is passed on as it is.
func askHere(ctx context.Context, method, url string, request, answer any) error {
	var body bytes.Buffer
	enc := json.NewEncoder(&body)
	enc.SetEscapeHTML(false) // an entry goes as it is, and no larger
	if err := enc.Encode(request); err != nil {
		return err
	}
	ctx, cancel := context.WithTimeout(ctx, patience)
	defer cancel()
	req, err := http.NewRequestWithContext(ctx, method, url, &body)
	if err != nil {
		return err
	}
	req.Header.Set("Content-Type", "application/json")
	direct := &http.Client{Transport: &http.Transport{DisableKeepAlives: true}} // no proxy is asked for an address of this machine
	resp, err := direct.Do(req)
	if err != nil {
		return problem.New(problem.NotFound, "is it still starting, or hanging? try again", "the server does not answer: %v", err)
	}
	defer resp.Body.Close()
	content, err := io.ReadAll(io.LimitReader(resp.Body, maxAnswer))
	if err != nil {
		return err
	}
	if resp.StatusCode != http.StatusOK {
		var told problemAnswer
		if json.Unmarshal(content, &told) == nil && told.Problem != nil && told.Problem.Text != "" {
			return problem.New(problem.Conflict, told.Problem.Hint, "%s", told.Problem.Text)
		}
		return problem.New(problem.Conflict, "is it an older packwright? stop it and start it anew", "the server answered %s", resp.Status)
	}
	return json.Unmarshal(content, answer)
}
