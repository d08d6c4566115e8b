package labels

import (
	"fmt"
	"math"
	"net/netip"
	"net/url"
	"sort"
	"strings"

	"github.com/skip2/go-qrcode"

	"packwright/internal/problem"
)

const (
	// dotMM is one dot of a 203 dpi (8 dots/mm) label printer. Modules are whole
	// dots everywhere, so that every printer draws them alike.
	dotMM = 0.125

	// minDots is the smallest module, 0.5 mm: DENSO, qrcode.com "How to determine
	// the size", recommends four dots of the printer or more.
	minDots = 4
	maxDots = 8

	// quietModules is the white border that ISO/IEC 18004 asks for.
	quietModules = 4
)

// qrCode is a QR symbol without its quiet zone.
type qrCode struct {
	payload string
	level   string
	rows    [][]bool // true is black
}

func (q *qrCode) modules() int { return len(q.rows) }

// sideMM is the printed side with quiet zone, for modules of so many dots.
func (q *qrCode) sideMM(dots int) float64 {
	return float64(q.modules()+2*quietModules) * float64(dots) * dotMM
}

// newQR encodes a payload at level "Q" or "H".
func newQR(payload, level string) (*qrCode, error) {
	// The library's names are a trap: its High is the standard's Q, Highest is H.
	recovery := qrcode.High
	switch level {
	case "Q":
	case "H":
		recovery = qrcode.Highest
	default:
		return nil, problem.Invalidf("level", "choose Q, or H for labels that get scratched or shine",
			"there is no error correction level %q for labels", level)
	}
	q, err := qrcode.New(payload, recovery)
	if err != nil {
		return nil, fmt.Errorf("encode QR: %w", err)
	}
	q.DisableBorder = true // only heard before the first Bitmap
	return &qrCode{payload: payload, level: level, rows: q.Bitmap()}, nil
}

// baseAddress makes the capital base of all payloads from what a person typed.
// Capitals, because a QR holds digits, capitals and $%*+-./: in its compact
// alphanumeric mode; the server folds case, and a host has none.
func baseAddress(typed string) (string, error) {
	const hint = "give scheme, name and port alone, for example https://pit.local or https://pit.local:8443"
	bad := func(why string) error {
		return problem.Invalidf("base_url", hint, "the address %q cannot go on a label: %s", typed, why)
	}
	trimmed := strings.TrimRight(strings.TrimSpace(typed), "/")
	if trimmed == "" {
		return "", problem.Invalidf("base_url", hint, "the address for the labels is missing")
	}
	u, err := url.Parse(trimmed)
	switch {
	case err != nil:
		return "", bad("it is no web address")
	case u.Scheme != "http" && u.Scheme != "https":
		return "", bad("it does not begin with http:// or https://")
	case u.Hostname() == "":
		return "", bad("it has no host")
	case u.User != nil || u.Path != "" || u.RawQuery != "" || u.ForceQuery || u.Fragment != "":
		return "", bad("it has more than scheme, host and port")
	}
	base := strings.ToUpper(u.Scheme + "://" + u.Host)
	for _, r := range base {
		if !strings.ContainsRune("0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ-./:", r) {
			return "", bad(fmt.Sprintf("%q is not among the characters of a compact QR", r))
		}
	}
	return base, nil
}

// shortLived says why the address of a label may lead nowhere later; empty
// where it is a name.
func shortLived(base string) string {
	u, err := url.Parse(base)
	if err != nil {
		return ""
	}
	host := strings.ToLower(u.Hostname())
	if host == "localhost" || strings.HasSuffix(host, ".localhost") {
		return "the address on the labels works on this computer only: give the name phones will use"
	}
	if ip, err := netip.ParseAddr(host); err == nil {
		if ip.IsLoopback() {
			return "the address on the labels works on this computer only: give the name phones will use"
		}
		return "the address on the labels is a number that a router may give to another computer: a name lasts longer"
	}
	if u.Scheme == "HTTP" || u.Scheme == "http" {
		return "the address on the labels begins with http: phones get no camera and no offline use there, and what they kept stays behind when it becomes https"
	}
	return ""
}

// payloadOf is what a label's QR says.
func payloadOf(base, code string) string { return base + "/P/" + code }

// fitQR chooses the module size: as large as the box is high and 45 % of its
// width allow, so that the text keeps its room, and where the smallest module
// does not fit so, up to 55 % of the width.
func fitQR(q *qrCode, content box) (dots int, ok bool) {
	wanted := min(content.h, 0.45*content.w)
	for dots := maxDots; dots >= minDots; dots-- {
		if q.sideMM(dots) <= wanted {
			return dots, true
		}
	}
	return minDots, q.sideMM(minDots) <= min(content.h, 0.55*content.w)
}

// longestBase tells how many characters of address fit before a code, for the
// hint: letters that is, since the encoder may pack digits closer.
func longestBase(code, level string, content box) int {
	return sort.Search(300, func(n int) bool { // the first n after which none fits
		q, err := newQR(payloadOf(strings.Repeat("A", n+1), code), level)
		if err != nil {
			return true
		}
		_, ok := fitQR(q, content)
		return !ok
	})
}

// floorTo rounds down to a multiple of step, forgiving float error.
func floorTo(v, step float64) float64 { return math.Floor(v/step+1e-9) * step }
