package main

import (
	"context"
	"net"
	"net/http"
	"time"
)

// runner is which packwright runs on this machine, as far as it can be told.
type runner int

const (
	whoNobody runner = iota
	whoThis          // one on the data folder that is looked at
	whoOther         // one on other data
)

// isPackwright says whether a packwright answers at an address of this machine.
func isPackwright(ctx context.Context, address string) bool {
	if _, port, err := net.SplitHostPort(address); err != nil || port == "0" || !isLoopbackHost(address) {
		return false
	}
	ctx, cancel := context.WithTimeout(ctx, 2*time.Second)
	defer cancel()
	var health healthAnswer
	return askHere(ctx, http.MethodGet, "http://"+address+"/api/v1/health", nil, &health) == nil && health.OK && health.API > 0
}

func checkRunning(at, listen string, who runner) []finding {
	switch who {
	case whoThis:
		return []finding{found(fine, "", "a server is running on this data, for this machine at %s", at)}
	case whoOther:
		return []finding{found(look, "to look at that one, name its folder with --data, as packwright serve printed it",
			"a packwright with other data is running at http://%s", listen)}
	}
	return []finding{found(fine, "", "no server is running on this data")}
}
