package ca

import (
	"bytes"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"net"
	"net/netip"
	"time"

	"packwright/internal/problem"
)

const (
	backdate = 24 * time.Hour      // phones whose clock is behind
	leafLife = 90 * 24 * time.Hour // after now; systems refuse more than 825 days
	rootLife = 10                  // years
)

// Kinds of PEM blocks.
const (
	certificateBlock = "CERTIFICATE"
	keyBlock         = "PRIVATE KEY" // PKCS #8
)

// checkClock refuses a clock that cannot be right: phones, whose clocks are,
// would refuse the certificate. made may be zero.
func checkClock(now, built, made time.Time) error {
	switch {
	case now.Before(built):
		return problem.Invalidf("clock", "set the clock, then start again",
			"this machine's clock says %s, but the program was made on %s", day(now), day(built))
	case now.Before(made):
		return problem.Invalidf("clock", "set the clock, then start again; if it is right, the authority was made with a wrong one and must be made anew",
			"this machine's clock says %s, but its certificate authority was made later, on %s", day(now), day(made.Add(backdate)))
	}
	return nil
}

// newAuthority makes a root for host and further names, the issuer below it,
// and the text of the file that keeps both. The root's key ends here.
func newAuthority(host string, names []string, now time.Time) ([]byte, error) {
	rootKey, err := newKey()
	if err != nil {
		return nil, err
	}
	key, err := newKey()
	if err != nil {
		return nil, err
	}
	root := authorityTemplate(host, names, now)
	root.Subject = subject("packwright " + day(now) + " " + host)
	root.MaxPathLen = 1
	root, err = sign(root, root, &rootKey.PublicKey, rootKey)
	if err != nil {
		return nil, err
	}
	issuer := authorityTemplate(host, names, now)
	issuer.Subject = subject("packwright issuer " + day(now) + " " + host)
	issuer.MaxPathLenZero = true
	issuer.ExtKeyUsage = []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth}
	issuer, err = sign(issuer, root, &key.PublicKey, rootKey)
	if err != nil {
		return nil, err
	}
	return encode("Secret: whoever has this file can pass for this machine. Do not copy it.", key, root, issuer)
}

// authorityTemplate is what root and issuer have in common.
func authorityTemplate(host string, names []string, now time.Time) *x509.Certificate {
	t := &x509.Certificate{
		NotBefore:                   now.Add(-backdate),
		NotAfter:                    now.AddDate(rootLife, 0, 0),
		BasicConstraintsValid:       true,
		IsCA:                        true,
		KeyUsage:                    x509.KeyUsageCertSign | x509.KeyUsageCRLSign,
		PermittedDNSDomainsCritical: true,
		PermittedDNSDomains:         append([]string{host}, names...),
	}
	for _, p := range privateRanges() {
		t.PermittedIPRanges = append(t.PermittedIPRanges,
			&net.IPNet{IP: p.Addr().AsSlice(), Mask: net.CIDRMask(p.Bits(), p.Addr().BitLen())})
	}
	return t
}

// newLeaf makes a server certificate, without looking at the constraints.
func (a *Authority) newLeaf(names []string, addrs []netip.Addr, now time.Time) (*x509.Certificate, *ecdsa.PrivateKey, error) {
	key, err := newKey()
	if err != nil {
		return nil, nil, err
	}
	t := &x509.Certificate{
		Subject:               subject(a.host),
		NotBefore:             now.Add(-backdate),
		NotAfter:              now.Add(leafLife),
		BasicConstraintsValid: true,
		KeyUsage:              x509.KeyUsageDigitalSignature,
		ExtKeyUsage:           []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
		DNSNames:              names,
	}
	if t.NotAfter.After(a.issuer.NotAfter) {
		t.NotAfter = a.issuer.NotAfter
	}
	for _, addr := range addrs {
		t.IPAddresses = append(t.IPAddresses, addr.AsSlice())
	}
	leaf, err := sign(t, a.issuer, &key.PublicKey, a.key)
	return leaf, key, err
}

// newKey makes a key of the one kind that every system takes.
func newKey() (*ecdsa.PrivateKey, error) { return ecdsa.GenerateKey(elliptic.P256(), rand.Reader) }

// subject names a certificate for people. A common name has at most 64
// characters (RFC 5280, appendix A).
func subject(name string) pkix.Name {
	return pkix.Name{Organization: []string{"packwright"}, CommonName: name[:min(len(name), 64)]}
}

// sign makes a certificate with a random serial number and reads it back.
func sign(t, parent *x509.Certificate, public *ecdsa.PublicKey, key *ecdsa.PrivateKey) (*x509.Certificate, error) {
	der, err := x509.CreateCertificate(rand.Reader, t, parent, public, key)
	if err != nil {
		return nil, err
	}
	return x509.ParseCertificate(der)
}

// encode writes a key file: a line for people, the key, its certificates.
func encode(line string, key *ecdsa.PrivateKey, certificates ...*x509.Certificate) ([]byte, error) {
	der, err := x509.MarshalPKCS8PrivateKey(key)
	if err != nil {
		return nil, err
	}
	var text bytes.Buffer
	text.WriteString(line + "\n")
	err = pem.Encode(&text, &pem.Block{Type: keyBlock, Bytes: der})
	for _, c := range certificates {
		if err == nil {
			err = pem.Encode(&text, &pem.Block{Type: certificateBlock, Bytes: c.Raw})
		}
	}
	return text.Bytes(), err
}
