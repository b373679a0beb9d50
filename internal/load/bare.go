package main

import (
	"bytes"
	"context"
	"fmt"
	"net"
	"net/http"
	"strconv"
	"time"

	"github.com/gin-gonic/gin"
	"github.com/jackc/pgx/v5/pgxpool"
)

// serveBare answers /?statements=N&bytes=N with so many statements sent one after the
// other and so many bytes, and says where on standard output.
func serveBare(databaseURL string) error {
	pool, err := pgxpool.New(context.Background(), databaseURL)
	if err != nil {
		return err
	}
	defer pool.Close()
	gin.SetMode(gin.ReleaseMode)
	engine := gin.New()
	engine.GET("/", func(c *gin.Context) {
		statements, notOne := strconv.Atoi(c.Query("statements"))
		size, notTwo := strconv.Atoi(c.Query("bytes"))
		if notOne != nil || notTwo != nil {
			c.Status(http.StatusBadRequest)
			return
		}
		for range statements {
			var n int
			if err := pool.QueryRow(c.Request.Context(), `SELECT 1`).Scan(&n); err != nil {
				c.Status(http.StatusInternalServerError)
				return
			}
		}
		c.Data(http.StatusOK, "text/html; charset=utf-8", bytes.Repeat([]byte("."), size))
	})
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return err
	}
	fmt.Printf("Bare is at http://%s (Ctrl-C stops it)\n", listener.Addr())
	server := &http.Server{Handler: engine, ReadHeaderTimeout: 10 * time.Second}
	return server.Serve(listener)
}

// bareVisit asks the bare handler for what a page of that kind costs.
func (h *hall) bareVisit(queries map[string]int, pages *tally) visiting {
	return func(ctx context.Context, p *person, v visit) (string, int, error) {
		status, text, err := p.ask(ctx, http.MethodGet, fmt.Sprintf("%s/?statements=%d&bytes=%d", h.bareAt, queries[v.kind], pages.size(v.kind)), nil)
		if err == nil && status != http.StatusOK {
			err = fmt.Errorf("status %d", status)
		}
		return "", len(text), err
	}
}
