package site

import (
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io/fs"
	"net/http"
	"path"
	"strings"
	"sync"

	"github.com/gin-gonic/gin"

	"boltward/internal/apperr"
	"boltward/web"
)

// fileSet is what package web holds, as it is sent. Addresses carry a hash over
// all of it, so that browsers may keep a file for good and still see the next.
type fileSet struct {
	hash  string
	files map[string]servedFile
}

type servedFile struct {
	contentType string
	plain       []byte
	zipped      func() ([]byte, error) // packed once, when somebody first asks for it
}

// loadFiles reads everything that is served.
func loadFiles() (*fileSet, error) {
	set := &fileSet{files: map[string]servedFile{}}
	sum := sha256.New()
	err := fs.WalkDir(web.Files, ".", func(name string, entry fs.DirEntry, err error) error {
		if err != nil || entry.IsDir() {
			return err
		}
		contents, err := fs.ReadFile(web.Files, name)
		if err != nil {
			return err
		}
		fmt.Fprintf(sum, "%s %d\n", name, len(contents))
		sum.Write(contents)
		set.files[name] = servedFile{contentType(name), contents, sync.OnceValues(func() ([]byte, error) { return zipped(contents) })}
		return nil
	})
	if err != nil {
		return nil, fmt.Errorf("files to serve: %w", err)
	}
	set.hash = hex.EncodeToString(sum.Sum(nil)[:8])
	return set, nil
}

// path gives the address of a file; a name that is not there is an error.
func (f *fileSet) path(name string) (string, error) {
	if _, ok := f.files[name]; !ok {
		return "", fmt.Errorf("there is no file %q to serve", name)
	}
	return "/files/" + f.hash + "/" + name, nil
}

// serveFile handles GET /files/:hash/*name. A page of an older or newer process
// gets the file this one has, and is told to ask again.
func (s *Site) serveFile(c *gin.Context) error {
	file, ok := s.files.files[strings.TrimPrefix(c.Param("name"), "/")]
	if !ok {
		return apperr.NotFound("There is no such file.")
	}
	if c.Param("hash") == s.files.hash {
		c.Header("Cache-Control", "public, max-age=31536000, immutable")
	} else {
		c.Header("Cache-Control", "no-cache")
	}
	return sendFile(c, file)
}

// favicon handles GET /favicon.ico, which browsers ask for unasked.
func (s *Site) favicon(c *gin.Context) error {
	c.Header("Cache-Control", "public, max-age=86400")
	return sendFile(c, s.files.files["favicon.svg"])
}

func sendFile(c *gin.Context, file servedFile) error {
	c.Header("Vary", "Accept-Encoding")
	contents := file.plain
	if strings.Contains(c.GetHeader("Accept-Encoding"), "gzip") {
		zipped, err := file.zipped()
		if err != nil {
			return err
		}
		if len(zipped) < len(contents) {
			c.Header("Content-Encoding", "gzip")
			contents = zipped
		}
	}
	c.Data(http.StatusOK, file.contentType, contents)
	return nil
}

func zipped(contents []byte) ([]byte, error) {
	var b bytes.Buffer
	w, err := gzip.NewWriterLevel(&b, gzip.BestCompression)
	if err != nil {
		return nil, err
	}
	if _, err := w.Write(contents); err != nil {
		return nil, err
	}
	err = w.Close()
	return b.Bytes(), err
}

func contentType(name string) string {
	switch path.Ext(name) {
	case ".css":
		return "text/css; charset=utf-8"
	case ".js":
		return "text/javascript; charset=utf-8"
	case ".svg":
		return "image/svg+xml"
	case ".ttf":
		return "font/ttf"
	}
	return "text/plain; charset=utf-8"
}
