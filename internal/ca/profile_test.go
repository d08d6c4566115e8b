package ca

import (
	"bytes"
	"regexp"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"howett.net/plist"
)

// The profile says, to a reader of property lists that is not ours, what Apple's
// Configuration Profile Reference asks of one with a root certificate.
func TestAppleProfile(t *testing.T) {
	dir := keys(t)
	a := made(t, dir, options())
	type m = map[string]any
	var got m
	d := plist.NewDecoder(bytes.NewReader(a.AppleProfile()))
	if err := d.Decode(&got); err != nil || d.Format != plist.XMLFormat {
		t.Fatalf("%v, format %d", err, d.Format)
	}
	uuid := regexp.MustCompile(`^[0-9A-F]{8}-[0-9A-F]{4}-8[0-9A-F]{3}-[89AB][0-9A-F]{3}-[0-9A-F]{12}$`) // RFC 9562, version 8
	content, ok := got["PayloadContent"].([]any)
	if !ok || len(content) != 1 {
		t.Fatalf("%v", got)
	}
	root := content[0].(m)
	ids := []string{got["PayloadUUID"].(string), root["PayloadUUID"].(string)}
	if ids[0] == ids[1] || !uuid.MatchString(ids[0]) || !uuid.MatchString(ids[1]) {
		t.Errorf("UUIDs %v", ids)
	}
	want := m{
		"PayloadType": "Configuration", "PayloadVersion": uint64(1), "PayloadIdentifier": "local.pit.packwright", "PayloadUUID": ids[0],
		"PayloadDisplayName": "packwright on pit.local",
		"PayloadDescription": "Lets this device trust pit.local, the machine that runs packwright. Remove it when you no longer need it.",
		"PayloadContent": []any{m{
			"PayloadType": "com.apple.security.root", "PayloadVersion": uint64(1), "PayloadIdentifier": "local.pit.packwright.root", "PayloadUUID": ids[1],
			"PayloadDisplayName": "packwright on pit.local", "PayloadCertificateFileName": "packwright.crt", "PayloadContent": a.RootDER(),
		}},
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
	head := "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<!DOCTYPE plist PUBLIC \"-//Apple//DTD PLIST 1.0//EN\" \"http://www.apple.com/DTDs/PropertyList-1.0.dtd\">\n<plist version=\"1.0\">\n"
	if !strings.HasPrefix(string(a.AppleProfile()), head) {
		t.Errorf("%.200s", a.AppleProfile())
	}

	// The same root gives the same profile; another root of the same host replaces it.
	if again := made(t, dir, options()); !bytes.Equal(again.AppleProfile(), a.AppleProfile()) {
		t.Error("a second download is another profile")
	}
	var other m
	if _, err := plist.Unmarshal(made(t, keys(t), options()).AppleProfile(), &other); err != nil {
		t.Fatal(err)
	}
	if other["PayloadIdentifier"] != got["PayloadIdentifier"] || other["PayloadUUID"] == got["PayloadUUID"] {
		t.Errorf("%v and %v", other["PayloadIdentifier"], other["PayloadUUID"])
	}
}
