package ca

import (
	"bytes"
	"crypto/sha256"
	"encoding/base64"
	"encoding/xml"
	"errors"
	"fmt"
	"slices"
	"strings"
)

// plistType is the document type of property lists.
const plistType = `DOCTYPE plist PUBLIC "-//Apple//DTD PLIST 1.0//EN" "http://www.apple.com/DTDs/PropertyList-1.0.dtd"`

// propertyList is a property list with a dictionary at its top.
type propertyList struct {
	XMLName xml.Name `xml:"plist"`
	Version string   `xml:"version,attr"`
	Dict    dict     `xml:"dict"`
}

// dict is a dictionary of a property list: keys and values take turns.
type dict struct {
	Pairs []any
}

// Elements of a dictionary.
type (
	plistKey struct {
		XMLName xml.Name `xml:"key"`
		Text    string   `xml:",chardata"`
	}
	plistString struct {
		XMLName xml.Name `xml:"string"`
		Text    string   `xml:",chardata"`
	}
	plistInteger struct {
		XMLName xml.Name `xml:"integer"`
		Value   int      `xml:",chardata"`
	}
	plistData struct {
		XMLName xml.Name `xml:"data"`
		Base64  string   `xml:",chardata"`
	}
	plistArray struct {
		XMLName xml.Name `xml:"array"`
		Dicts   []dict   `xml:"dict"`
	}
)

// payload starts a dictionary with what every payload has.
func payload(kind, identifier, name string, der []byte) dict {
	var d dict
	d.add("PayloadType", plistString{Text: kind})
	d.add("PayloadVersion", plistInteger{Value: 1})
	d.add("PayloadIdentifier", plistString{Text: identifier})
	d.add("PayloadUUID", plistString{Text: uuidOf(kind, der)})
	d.add("PayloadDisplayName", plistString{Text: name})
	return d
}

func (d *dict) add(key string, value any) { d.Pairs = append(d.Pairs, plistKey{Text: key}, value) }

// appleProfile is a configuration profile that has a device trust the root
// certificate der (Apple, Configuration Profile Reference: keys common to all
// payloads, and the certificate payload). Identifiers come from the host and the
// certificate: a second download replaces the first, and a new root the old one.
func appleProfile(host string, der []byte) ([]byte, error) {
	labels := strings.Split(host, ".")
	slices.Reverse(labels)
	identifier := strings.Join(labels, ".") + ".packwright"

	root := payload("com.apple.security.root", identifier+".root", "packwright on "+host, der)
	root.add("PayloadCertificateFileName", plistString{Text: "packwright.crt"})
	root.add("PayloadContent", plistData{Base64: base64.StdEncoding.EncodeToString(der)})

	top := payload("Configuration", identifier, "packwright on "+host, der)
	top.add("PayloadDescription", plistString{Text: "Lets this device trust " + host +
		", the machine that runs packwright. Remove it when you no longer need it."})
	top.add("PayloadContent", plistArray{Dicts: []dict{root}})

	var text bytes.Buffer
	text.WriteString(xml.Header)
	e := xml.NewEncoder(&text)
	e.Indent("", "\t")
	err := errors.Join(e.EncodeToken(xml.Directive(plistType)), e.EncodeToken(xml.CharData("\n")),
		e.Encode(propertyList{Version: "1.0", Dict: top}))
	text.WriteByte('\n')
	return text.Bytes(), err
}

// uuidOf gives the same UUID (RFC 9562, version 8) for the same kind of payload
// and certificate.
func uuidOf(kind string, der []byte) string {
	h := sha256.New()
	h.Write([]byte(kind + "\n"))
	h.Write(der)
	u := h.Sum(nil)[:16]
	u[6] = u[6]&0x0f | 0x80
	u[8] = u[8]&0x3f | 0x80
	return strings.ToUpper(fmt.Sprintf("%x-%x-%x-%x-%x", u[:4], u[4:6], u[6:8], u[8:10], u[10:]))
}
