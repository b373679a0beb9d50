// Package mailtest is a mail server for tests, which does what servers do: takes
// messages, refuses them, hangs, or goes away at the worst moment.
package mailtest

import (
	"crypto/ed25519"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"io"
	"math/big"
	"net"
	"sync"
	"testing"
	"time"

	"boltward/internal/mail"

	"github.com/emersion/go-sasl"
	"github.com/emersion/go-smtp"
	"github.com/stretchr/testify/require"
)

// Behaviour is what a server does beside taking messages.
type Behaviour struct {
	From, Rcpt, Data *smtp.SMTPError // what it answers instead
	CutInData        bool            // it goes away while the message comes
	CutAfterData     bool            // it has the message and goes away without a word
	HangAfterData    bool            // it has the message and never answers
	HangAtRcpt       bool
	Silent           bool // it takes the connection and says nothing
	OwnCertificate   bool // it offers STARTTLS by a certificate that nobody else has signed
}

// Message is a message as a server got it.
type Message struct {
	From string
	To   []string
	Data []byte
}

// Server listens on loopback until the test ends.
type Server struct {
	Address string
	behave  Behaviour
	ended   chan struct{}

	mu       sync.Mutex
	messages []Message
	logins   int
}

// Start gives a server that behaves so; nil: as it should.
func Start(t testing.TB, behave *Behaviour) *Server {
	t.Helper()
	s := &Server{ended: make(chan struct{})}
	if behave != nil {
		s.behave = *behave
	}
	listener, err := net.Listen("tcp", "0.0.0.0:0")
	require.NoError(t, err)
	_, port, err := net.SplitHostPort(listener.Addr().String())
	require.NoError(t, err)
	s.Address = net.JoinHostPort("127.0.0.1", port)
	if s.behave.Silent {
		t.Cleanup(func() { close(s.ended); _ = listener.Close() })
		return s
	}
	server := smtp.NewServer(backend{s})
	server.AllowInsecureAuth = true
	server.ErrorLog = quiet{}
	if s.behave.OwnCertificate {
		server.TLSConfig = &tls.Config{Certificates: []tls.Certificate{ownCertificate(t)}}
	}
	done := make(chan error, 1)
	go func() { done <- server.Serve(listener) }()
	t.Cleanup(func() {
		close(s.ended)
		// A server that has only begun to serve does not know its listener yet.
		_, _ = server.Close(), listener.Close()
		<-done
	})
	return s
}

func ownCertificate(t testing.TB) tls.Certificate {
	t.Helper()
	public, private, err := ed25519.GenerateKey(nil)
	require.NoError(t, err)
	about := &x509.Certificate{SerialNumber: big.NewInt(1), DNSNames: []string{"mail.example.org"}, NotAfter: time.Now().Add(time.Hour)}
	made, err := x509.CreateCertificate(nil, about, about, public, private)
	require.NoError(t, err)
	return tls.Certificate{Certificate: [][]byte{made}, PrivateKey: private}
}

// Sender gives how messages are handed over to this server, with little patience.
func (s *Server) Sender(t testing.TB) mail.Server {
	t.Helper()
	sender, err := mail.ParseServer("smtp://" + s.Address + "?from=drive@example.org")
	require.NoError(t, err)
	sender.Patience = 2 * time.Second
	return sender
}

// Messages gives what the server has got.
func (s *Server) Messages() []Message {
	s.mu.Lock()
	defer s.mu.Unlock()
	return append([]Message(nil), s.messages...)
}

// Logins says how often somebody tried to log in.
func (s *Server) Logins() int {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.logins
}

type backend struct{ s *Server }

func (b backend) NewSession(c *smtp.Conn) (smtp.Session, error) { return &session{s: b.s, c: c}, nil }

type session struct {
	s *Server
	c *smtp.Conn
	m Message
}

func (x *session) AuthMechanisms() []string { return []string{sasl.Plain} }

func (x *session) Auth(string) (sasl.Server, error) {
	x.s.mu.Lock()
	defer x.s.mu.Unlock()
	x.s.logins++
	return sasl.NewPlainServer(func(_, _, _ string) error { return nil }), nil
}

func (x *session) Mail(from string, _ *smtp.MailOptions) error {
	if x.s.behave.From != nil {
		return x.s.behave.From
	}
	x.m = Message{From: from}
	return nil
}

func (x *session) Rcpt(to string, _ *smtp.RcptOptions) error {
	if x.s.behave.HangAtRcpt {
		<-x.s.ended
	}
	if x.s.behave.Rcpt != nil {
		return x.s.behave.Rcpt
	}
	x.m.To = append(x.m.To, to)
	return nil
}

func (x *session) Data(r io.Reader) error {
	b := x.s.behave
	if b.CutInData {
		return errors.Join(x.c.Conn().Close(), errors.New("gone"))
	}
	data, err := io.ReadAll(r)
	if err != nil {
		return err
	}
	if b.Data != nil {
		return b.Data
	}
	x.m.Data = data
	x.s.mu.Lock()
	x.s.messages = append(x.s.messages, x.m)
	x.s.mu.Unlock()
	if b.HangAfterData {
		<-x.s.ended
	}
	if b.CutAfterData {
		return errors.Join(x.c.Conn().Close(), errors.New("gone"))
	}
	return nil
}

func (x *session) Reset()        {}
func (x *session) Logout() error { return nil }

// quiet drops what a server says of connections that end.
type quiet struct{}

func (quiet) Printf(string, ...any) {}
func (quiet) Println(...any)        {}
