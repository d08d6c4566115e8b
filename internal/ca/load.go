package ca

import (
	"bytes"
	"crypto/ecdsa"
	"crypto/x509"
	"encoding/pem"
	"errors"
	"fmt"
	"io/fs"
	"strings"

	"packwright/internal/problem"
)

// HostIn gives the host that the authority in dir was made for, so that it stays
// the default where the machine is called otherwise by now; "" where there is none.
func HostIn(dir string) (string, error) {
	text, err := readKeyFile(dir, authorityName)
	if errors.Is(err, fs.ErrNotExist) {
		return "", nil
	}
	if err != nil {
		return "", err
	}
	a := &Authority{dir: dir}
	if err := a.load(text); err != nil {
		return "", err
	}
	return a.madeFor(), nil
}

// load takes root, issuer and key from the authority's file.
func (a *Authority) load(text []byte) error {
	key, certificates, err := decode(text)
	if err == nil && len(certificates) != 2 {
		err = fmt.Errorf("%d certificates instead of 2", len(certificates))
	}
	if err != nil {
		return problem.New(problem.Damaged, "put it back as it was, or "+a.anew(),
			"%s in %s is damaged: %v", authorityName, a.dir, err)
	}
	root, issuer := certificates[0], certificates[1]
	if err := checkAuthority(root, issuer, key); err != nil {
		return problem.New(problem.Conflict, "move it elsewhere, put the right one back, or "+a.anew(),
			"%s in %s is not as packwright makes it: %v", authorityName, a.dir, err)
	}
	a.root, a.issuer, a.key = root, issuer, key
	return nil
}

// checkAuthority refuses an authority of another making. Its constraints are
// what protects the phones.
func checkAuthority(root, issuer *x509.Certificate, key *ecdsa.PrivateKey) error {
	if err := root.CheckSignatureFrom(root); err != nil {
		return fmt.Errorf("its first certificate is no root")
	}
	if err := issuer.CheckSignatureFrom(root); err != nil || !issuer.IsCA {
		return fmt.Errorf("its second certificate is no issuer of the first")
	}
	if !key.PublicKey.Equal(issuer.PublicKey) {
		return fmt.Errorf("its key belongs to another certificate")
	}
	want := constraints(authorityTemplate("", nil, root.NotBefore))
	for _, c := range []*x509.Certificate{root, issuer} {
		names := c.PermittedDNSDomains
		if !c.PermittedDNSDomainsCritical || len(names) == 0 || !strings.HasSuffix(names[0], local) || constraints(c) != want {
			return fmt.Errorf("it may vouch for more than this machine")
		}
	}
	return nil
}

// constraints writes down the permitted addresses.
func constraints(c *x509.Certificate) string {
	var text strings.Builder
	for _, r := range c.PermittedIPRanges {
		text.WriteString(r.String() + " ")
	}
	return text.String()
}

// decode reads a key file: one key and its certificates.
func decode(text []byte) (key *ecdsa.PrivateKey, certificates []*x509.Certificate, err error) {
	for {
		var block *pem.Block
		block, text = pem.Decode(text)
		if block == nil {
			break
		}
		switch block.Type {
		case certificateBlock:
			c, err := x509.ParseCertificate(block.Bytes)
			if err != nil {
				return nil, nil, err
			}
			certificates = append(certificates, c)
		case keyBlock:
			parsed, err := x509.ParsePKCS8PrivateKey(block.Bytes)
			if err != nil {
				return nil, nil, err
			}
			var ok bool
			if key, ok = parsed.(*ecdsa.PrivateKey); !ok {
				return nil, nil, fmt.Errorf("a key of another kind")
			}
		}
	}
	switch {
	case key == nil:
		return nil, nil, errors.New("there is no key in it")
	case len(bytes.TrimSpace(text)) > 0:
		return nil, nil, errors.New("it ends in something else")
	}
	return key, certificates, nil
}
