package main

import (
	"bytes"
	"encoding/binary"
	"io"
	"net"
	"net/url"
	"strconv"
	"sync"
	"testing"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"
)

// cutter stands between the program and its Postgres and passes on what they say,
// message by message, until the one after which the connection is to be cut
// (https://www.postgresql.org/docs/15/protocol-message-formats.html).
type cutter struct {
	listener net.Listener
	to       string
	urlText  string
	passing  sync.WaitGroup

	mu     sync.Mutex
	said   int  // messages of the program since it was armed
	after  int  // the message after which to cut; 0 for none
	commit bool // cut when COMMIT is done, before the program hears of it
	done   bool // it was cut
	shut   bool // nothing passes
	open   map[net.Conn]bool
}

// newCutter gives one before the Postgres of an address.
func newCutter(t testing.TB, databaseURL string) *cutter {
	t.Helper()
	config, err := pgx.ParseConfig(databaseURL)
	require.NoError(t, err)
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	u := url.URL{
		Scheme: "postgres", User: url.UserPassword(config.User, config.Password),
		Host: listener.Addr().String(), Path: "/" + config.Database, RawQuery: "sslmode=disable",
	}
	c := &cutter{
		listener: listener, urlText: u.String(), open: map[net.Conn]bool{},
		to: net.JoinHostPort("127.0.0.1", strconv.Itoa(int(config.Port))),
	}
	c.passing.Go(c.accept)
	t.Cleanup(func() {
		require.NoError(t, listener.Close())
		c.mu.Lock()
		for conn := range c.open {
			// Its other end may have closed it already.
			_ = conn.Close()
		}
		c.mu.Unlock()
		c.passing.Wait()
	})
	return c
}

// cutAfter arms it: after the n-th message that the program says from now on.
func (c *cutter) cutAfter(n int) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.said, c.after, c.commit, c.done = 0, n, false, false
}

// cutAtCommit arms it: once the next COMMIT is done.
func (c *cutter) cutAtCommit() {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.said, c.after, c.commit, c.done = 0, 0, true, false
}

// rest lets everything pass, and says whether it has cut since it was armed.
func (c *cutter) rest() (cut bool) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.after, c.commit = 0, false
	return c.done
}

// refuse lets nothing pass any more, or all again.
func (c *cutter) refuse(shut bool) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.shut = shut
	for conn := range c.open {
		if shut {
			_ = conn.Close() // its other end may have closed it already
		}
	}
}

func (c *cutter) accept() {
	for {
		from, err := c.listener.Accept()
		if err != nil {
			return
		}
		to, err := net.Dial("tcp", c.to)
		c.mu.Lock()
		shut := c.shut
		c.mu.Unlock()
		if err == nil && shut {
			err = to.Close()
		}
		if err != nil || shut {
			_ = from.Close()
			continue
		}
		c.mu.Lock()
		c.open[from], c.open[to] = true, true
		c.mu.Unlock()
		p := &passage{cutter: c, from: from, to: to}
		c.passing.Go(func() { p.forth() })
		c.passing.Go(func() { p.back() })
	}
}

// passage is one connection that is passed on.
type passage struct {
	*cutter
	from, to net.Conn
	mu       sync.Mutex
	deaf     bool // what Postgres says is not passed on: it is the end
}

func (p *passage) end() {
	_, _ = p.from.Close(), p.to.Close() // the other way may have closed them
}

// forth passes on what the program says.
func (p *passage) forth() {
	defer p.end()
	commits := map[string]bool{} // prepared statements that commit
	// The first message has no letter.
	for head := make([]byte, 4); ; head = make([]byte, 5) {
		if _, err := io.ReadFull(p.from, head); err != nil {
			return
		}
		size := int(binary.BigEndian.Uint32(head[len(head)-4:])) - 4
		body := make([]byte, size)
		if _, err := io.ReadFull(p.from, body); err != nil {
			return
		}
		isCommit := false
		switch texts := bytes.SplitN(body, []byte{0}, 3); head[0] {
		case 'Q':
			isCommit = bytes.EqualFold(texts[0], []byte("commit"))
		case 'P': // a statement's name and the statement
			commits[string(texts[0])] = bytes.EqualFold(texts[1], []byte("commit"))
		case 'B': // a portal and the statement that runs in it, as soon as all that was asked is there
			isCommit = commits[string(texts[1])]
		}
		cut, deaf := p.judge(isCommit)
		if deaf {
			p.mu.Lock()
			p.deaf = true
			p.mu.Unlock()
		}
		if _, err := p.to.Write(append(head, body...)); err != nil || cut {
			return
		}
	}
}

// judge says whether the connection is cut after this message, or once Postgres has
// answered it.
func (c *cutter) judge(isCommit bool) (cut, deaf bool) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.said++
	cut = c.after > 0 && c.said == c.after
	deaf = c.commit && isCommit
	if cut || deaf {
		c.after, c.commit, c.done = 0, false, true
	}
	return cut, deaf
}

// back passes on what Postgres says.
func (p *passage) back() {
	defer p.end()
	buffer := make([]byte, 32<<10)
	for {
		n, err := p.to.Read(buffer)
		p.mu.Lock()
		deaf := p.deaf
		p.mu.Unlock()
		if deaf && n > 0 {
			return
		}
		if n > 0 {
			if _, err := p.from.Write(buffer[:n]); err != nil {
				return
			}
		}
		if err != nil {
			return
		}
	}
}
