package main

import (
	"bytes"
	"context"
	"fmt"
	"net"
	"net/http"
	"strconv"
	"strings"
	"time"

	"github.com/gin-gonic/gin"
	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgxpool"
)

// leastOfAForm is what a form cannot do without: begin, insert, commit.
const leastOfAForm = 3

// scratch makes the table that the bare handler writes to.
const scratch = `CREATE SCHEMA load_bare;
	CREATE TABLE load_bare.scratch (id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY, at timestamptz NOT NULL, said text NOT NULL);
	GRANT USAGE ON SCHEMA load_bare TO boltward_server;
	GRANT INSERT ON load_bare.scratch TO boltward_server;`

// asOwner runs statements as the owner of the database.
func asOwner(ctx context.Context, ownerURL, statements string) error {
	conn, err := pgx.Connect(ctx, ownerURL)
	if err != nil {
		return fmt.Errorf("as the owner: %w", err)
	}
	defer conn.Close(ctx)
	if _, err := conn.Exec(ctx, statements); err != nil {
		return fmt.Errorf("as the owner: %w", err)
	}
	return nil
}

// serveBare answers /?statements=N&bytes=N with so many statements sent one after the
// other and so many bytes, and says where on standard output. Of a form the statements
// are one transaction that writes a row.
func serveBare(databaseURL string) error {
	pool, err := pgxpool.New(context.Background(), databaseURL)
	if err != nil {
		return err
	}
	defer pool.Close()
	gin.SetMode(gin.ReleaseMode)
	engine := gin.New()
	handle := func(send func(ctx context.Context, statements int) error) gin.HandlerFunc {
		return func(c *gin.Context) {
			statements, notOne := strconv.Atoi(c.Query("statements"))
			size, notTwo := strconv.Atoi(c.Query("bytes"))
			if notOne != nil || notTwo != nil {
				c.Status(http.StatusBadRequest)
				return
			}
			if err := send(c.Request.Context(), statements); err != nil {
				c.Status(http.StatusInternalServerError)
				return
			}
			c.Data(http.StatusOK, "text/html; charset=utf-8", bytes.Repeat([]byte("."), size))
		}
	}
	engine.GET("/", handle(func(ctx context.Context, statements int) error { return reads(ctx, pool, statements) }))
	engine.POST("/", handle(func(ctx context.Context, statements int) error {
		return pgx.BeginFunc(ctx, pool, func(tx pgx.Tx) error {
			const q = `INSERT INTO load_bare.scratch (at, said) VALUES ($1, $2)`
			if _, err := tx.Exec(ctx, q, time.Now(), strings.Repeat("x", 200)); err != nil {
				return err
			}
			return reads(ctx, tx, statements-leastOfAForm)
		})
	}))
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return err
	}
	fmt.Printf("Bare is at http://%s (Ctrl-C stops it)\n", listener.Addr())
	server := &http.Server{Handler: engine, ReadHeaderTimeout: 10 * time.Second}
	return server.Serve(listener)
}

type asker interface {
	QueryRow(ctx context.Context, sql string, args ...any) pgx.Row
}

// reads sends so many statements that read one value.
func reads(ctx context.Context, db asker, statements int) error {
	for range statements {
		var n int
		if err := db.QueryRow(ctx, `SELECT 1`).Scan(&n); err != nil {
			return err
		}
	}
	return nil
}

// bareVisit asks the bare handler for what a page or a form of that kind costs. Whoever
// said something is finished takes it back next, as with the program.
func (h *hall) bareVisit(costs map[string]cost, pages *tally) visiting {
	return func(ctx context.Context, p *person, v visit) (string, int, error) {
		method := http.MethodGet
		if v.send != nil {
			method = http.MethodPost
			p.form = ""
			if strings.HasSuffix(v.path, "/finished") {
				p.form = "/take-back/"
			}
		}
		to := fmt.Sprintf("%s/?statements=%d&bytes=%d", h.bareAt, costs[v.kind].statements, pages.size(v.kind))
		status, text, err := p.ask(ctx, method, to, v.send)
		if err == nil && status != http.StatusOK {
			err = fmt.Errorf("status %d", status)
		}
		return "", len(text), err
	}
}
