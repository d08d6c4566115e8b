package ca

import (
	"crypto/tls"
	"errors"
	"io/fs"
	"log/slog"
	"os"
	"sync"
	"time"

	"packwright/internal/problem"
)

// Files is a certificate of the user's own: two PEM files, read again when they
// change. Its methods may be called at the same time from several goroutines.
type Files struct {
	cert, key string
	log       *slog.Logger

	mu   sync.Mutex
	now  *tls.Certificate // the newest pair that was good
	seen [2]fs.FileInfo   // the files as last read
}

// NewFiles reads the certificate with its chain from one file and its key, not
// encrypted, from another. Invalid if they are missing or do not belong together.
// log may be nil.
func NewFiles(cert, key string, log *slog.Logger) (*Files, error) {
	if log == nil {
		log = slog.New(slog.DiscardHandler)
	}
	f := &Files{cert: cert, key: key, log: log}
	if err := f.reload(); err != nil {
		return nil, err
	}
	return f, nil
}

// GetCertificate is for tls.Config. It looks at the files every time, and goes
// on with the last good pair, telling the log, while they are in disorder.
func (f *Files) GetCertificate(*tls.ClientHelloInfo) (*tls.Certificate, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if err := f.reload(); err != nil {
		f.log.Warn("the new certificate is not used, the old one stays", "err", err)
	}
	return f.now, nil
}

// Expires is when the certificate that is served ends.
func (f *Files) Expires() time.Time {
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.now.Leaf.NotAfter
}

// reload reads the files if they are others than those read last. The state is
// taken before the content: what is written in between is read next time.
func (f *Files) reload() error {
	certInfo, certErr := os.Stat(f.cert)
	keyInfo, keyErr := os.Stat(f.key)
	seen := [2]fs.FileInfo{certInfo, keyInfo}
	if f.now != nil && same(f.seen[0], seen[0]) && same(f.seen[1], seen[1]) {
		return nil
	}
	f.seen = seen
	err := errors.Join(certErr, keyErr)
	var pair tls.Certificate
	if err == nil {
		pair, err = tls.LoadX509KeyPair(f.cert, f.key)
	}
	if err != nil {
		return problem.Invalidf("cert", "give the certificate with its chain and its key, not encrypted, as two PEM files that belong together",
			"the certificate %s with the key %s cannot be used: %v", f.cert, f.key, err)
	}
	f.now = &pair
	return nil
}

// same says whether a file is the one of before and as it was. Links that lead
// elsewhere by now make another file.
func same(a, b fs.FileInfo) bool {
	if a == nil || b == nil {
		return a == nil && b == nil
	}
	return os.SameFile(a, b) && a.Mode() == b.Mode() && a.ModTime().Equal(b.ModTime()) && a.Size() == b.Size()
}
