package main

import (
	"crypto/tls"
	"net"
	"net/http"
	"sync"
)

// The welcome page is plain HTTP, where a browser gives a page no way to ask
// whether the certificate of the encrypted address is trusted or was only clicked
// through: both answer. So the door of the welcome page speaks TLS, too, with a
// certificate made for each connection, which nobody can have clicked through. A
// fetch from there succeeds only where the authority is trusted. It is one port, so
// that no firewall needs another hole.

// trustPath is all that the welcome page's door answers in TLS.
const trustPath = "/welcome/trusted"

// bilingual is a listener whose connections may begin with TLS or without.
type bilingual struct {
	net.Listener
	config *tls.Config
}

// newBilingual adds TLS to a listener. HTTP/1.1 is all that is spoken in it.
func newBilingual(l net.Listener, certificate func(*tls.ClientHelloInfo) (*tls.Certificate, error)) bilingual {
	config := secureConfig(certificate)
	config.NextProtos = []string{"http/1.1"}
	config.SessionTicketsDisabled = true // each connection shall see a certificate
	return bilingual{l, config}
}

// Accept gives the next connection without waiting for what it says.
func (l bilingual) Accept() (net.Conn, error) {
	conn, err := l.Listener.Accept()
	if err != nil {
		return nil, err
	}
	return &bilingualConn{Conn: conn, config: l.config}, nil
}

// bilingualConn looks at the first byte that comes to see which language is
// spoken. Deadlines of the server hold for that byte and the handshake, too.
type bilingualConn struct {
	net.Conn // as it came
	config   *tls.Config

	once   sync.Once
	mu     sync.Mutex
	spoken net.Conn // with TLS or without; nil: nothing came yet
	err    error
}

// tlsHandshake is the first byte of a TLS connection: the content type of a
// handshake record (RFC 8446, section 5.1). No HTTP method begins with it.
const tlsHandshake = 22

func (c *bilingualConn) listen() (net.Conn, error) {
	c.once.Do(func() {
		first := make([]byte, 1)
		n, err := c.Conn.Read(first)
		var spoken net.Conn = &replayed{Conn: c.Conn, first: first[:n]}
		if n == 1 && first[0] == tlsHandshake {
			spoken = tls.Server(spoken, c.config)
		}
		c.mu.Lock()
		defer c.mu.Unlock()
		c.spoken, c.err = spoken, err
	})
	return c.spoken, c.err
}

// now is the connection as it is spoken, or as it came where nothing was said yet.
func (c *bilingualConn) now() net.Conn {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.spoken == nil {
		return c.Conn
	}
	return c.spoken
}

func (c *bilingualConn) Read(b []byte) (int, error) {
	spoken, err := c.listen()
	if err != nil {
		return 0, err
	}
	return spoken.Read(b)
}

func (c *bilingualConn) Write(b []byte) (int, error) { return c.now().Write(b) }
func (c *bilingualConn) Close() error                { return c.now().Close() }

// inTLS says whether TLS is spoken on it.
func (c *bilingualConn) inTLS() bool {
	_, secure := c.now().(*tls.Conn)
	return secure
}

// replayed gives what was read ahead once more.
type replayed struct {
	net.Conn
	first []byte
}

func (c *replayed) Read(b []byte) (int, error) {
	if len(c.first) > 0 && len(b) > 0 {
		n := copy(b, c.first)
		c.first = c.first[n:]
		return n, nil
	}
	return c.Conn.Read(b)
}

// besideTLS answers the check of the welcome page where TLS is spoken, and sends
// everybody else there to the encrypted address; without TLS it is the door itself.
func besideTLS(origin string, door http.Handler) http.Handler {
	elsewhere := toHTTPS(origin)
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		conn, ok := r.Context().Value(connKey{}).(*bilingualConn)
		switch {
		case !ok || !conn.inTLS():
			door.ServeHTTP(w, r)
		case r.URL.Path == trustPath:
			readOnly(trustedHere).ServeHTTP(w, r)
		default:
			elsewhere.ServeHTTP(w, r)
		}
	})
}

// trustedHere answers nothing, which pages of other origins may learn.
func trustedHere(w http.ResponseWriter, _ *http.Request) {
	w.Header().Set("Cache-Control", "no-store")
	w.Header().Set("Cross-Origin-Resource-Policy", "cross-origin")
	w.WriteHeader(http.StatusNoContent)
}
