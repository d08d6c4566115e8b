package main

// door is the way a request came in. Each door has a listener of its own, so
// that no header can make one look like another.
type door int

const (
	doorHere  door = iota // HTTP on loopback: whoever sits at this machine; no sign-in, role lead
	doorField             // HTTPS: joined devices
	doorProxy             // HTTP from a reverse proxy that does the HTTPS: joined devices
	doorPlain             // plain HTTP on the network: the welcome page and the app's files, nothing of the team's
)

// String names the door in logs.
func (d door) String() string {
	return [...]string{"here", "field", "proxy", "plain"}[d]
}
