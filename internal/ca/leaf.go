package ca

import (
	"crypto/ecdsa"
	"crypto/tls"
	"crypto/x509"
	"fmt"
	"net/netip"
	"slices"
)

// lastLeaf reads the server's certificate of last time. To keep it spares
// those who clicked a browser's warning away from seeing it at every start.
func (a *Authority) lastLeaf() (*tls.Certificate, error) {
	text, err := readKeyFile(a.dir, leafName)
	if err != nil {
		return nil, err
	}
	key, certificates, err := decode(text)
	if err != nil {
		return nil, err
	}
	if len(certificates) != 1 || certificates[0].CheckSignatureFrom(a.issuer) != nil || !key.PublicKey.Equal(certificates[0].PublicKey) {
		return nil, fmt.Errorf("%s is not of this authority", leafName)
	}
	return a.chain(certificates[0], key), nil
}

// chain is what a phone that knows the root is sent.
func (a *Authority) chain(leaf *x509.Certificate, key *ecdsa.PrivateKey) *tls.Certificate {
	return &tls.Certificate{Certificate: [][]byte{leaf.Raw, a.issuer.Raw}, PrivateKey: key, Leaf: leaf}
}

// wantedNames joins the machine's names and those that come and go.
func (a *Authority) wantedNames(more []string) []string {
	var all []string
	for _, name := range slices.Concat([]string{a.host}, a.names, more) {
		if !slices.Contains(all, name) {
			all = append(all, name)
		}
	}
	return all
}

// wantedAddrs joins the user's addresses and those that come and go. What is
// not private is left out: one bad address would spoil the whole certificate.
func (a *Authority) wantedAddrs(more []netip.Addr) []netip.Addr {
	var all []netip.Addr
	for _, addr := range slices.Concat(a.addrs, more) {
		addr = addr.Unmap().WithZone("")
		if private(addr) && !slices.Contains(all, addr) {
			all = append(all, addr)
		}
	}
	return all
}
