package main

import (
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// What the program serves with ends whoever sends headers or a body without end, slowly or at once;
// whoever asks properly beside them is answered. The times are short here and limits of waiting, no measure.
func TestSlowAndHugeRequests(t *testing.T) {
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	read := make(chan error, 1)
	handler := http.HandlerFunc(func(out http.ResponseWriter, r *http.Request) {
		if r.Method == http.MethodPost {
			_, err := io.Copy(io.Discard, r.Body)
			read <- err
			return
		}
		_, _ = io.WriteString(out, "here") // whoever left is not there to be told
	})
	short := usualLimits()
	require.Equal(t, limits{10 * time.Second, time.Minute, 90 * time.Second, 2 * time.Minute, 64 << 10}, short)
	short.header, short.read = 200*time.Millisecond, 400*time.Millisecond
	server := newServer(handler, short, slog.New(slog.DiscardHandler))
	ended := make(chan error, 1)
	go func() { ended <- server.Serve(listener) }()
	t.Cleanup(func() {
		require.NoError(t, server.Close())
		require.ErrorIs(t, <-ended, http.ErrServerClosed)
	})
	send := func(text string) net.Conn {
		t.Helper()
		c, err := net.Dial("tcp", listener.Addr().String())
		require.NoError(t, err)
		t.Cleanup(func() { _ = c.Close() }) // the server may have been first
		require.NoError(t, c.SetDeadline(time.Now().Add(time.Minute)))
		_, err = io.WriteString(c, text)
		require.NoError(t, err)
		return c
	}
	over := func(c net.Conn, what string) string {
		t.Helper()
		answer, err := io.ReadAll(c)
		var late net.Error
		if err != nil {
			require.False(t, errors.As(err, &late) && late.Timeout(), "%s goes on for ever", what)
		}
		return string(answer)
	}
	headers := send("GET / HTTP/1.1\r\nHost: here\r\nX-Slow: ")
	body := send("POST / HTTP/1.1\r\nHost: here\r\nContent-Length: 1000\r\n\r\nonly this")
	resp, err := http.Get("http://" + listener.Addr().String())
	require.NoError(t, err)
	require.NoError(t, resp.Body.Close())
	require.Equal(t, http.StatusOK, resp.StatusCode, "others are answered meanwhile")
	over(headers, "a header")
	over(body, "a body")
	require.Error(t, <-read, "a body that never comes is an error for whoever reads it")

	// net/http lets 4 KiB more pass than it is told.
	bomb := send(fmt.Sprintf("GET / HTTP/1.1\r\nHost: here\r\nX-Bomb: %s\r\n\r\n", strings.Repeat("a", headerBytes+8<<10)))
	require.Contains(t, over(bomb, "a header bomb"), "431 Request Header Fields Too Large")
}
