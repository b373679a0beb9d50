package main

import (
	"fmt"
	"net/http"
	"net/http/httptest"
	"testing"

	"github.com/stretchr/testify/require"
)

// Tabs that download side by side each get their own file.
func TestDownloadsSideBySide(t *testing.T) {
	needsBrowser(t)
	web := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if of := r.URL.Query().Get("of"); of != "" {
			w.Header().Set("Content-Disposition", "attachment; filename=of-"+of+".txt")
			fmt.Fprint(w, "for ", of)
			return
		}
		w.Header().Set("Content-Type", "text/html")
		fmt.Fprintf(w, `<!doctype html><html lang="en"><title>Files</title><link rel="icon" href="data:,"><main><a href="/?of=%s">Take it</a></main>`, r.URL.Path[1:])
	}))
	t.Cleanup(web.Close)
	for i := range 4 {
		name := fmt.Sprintf("tab%d", i)
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			b := newTab(t, web.URL)
			b.open("/" + name)
			for range 10 {
				file, content := b.download("Take it")
				require.Equal(t, "of-"+name+".txt", file)
				require.Equal(t, "for "+name, string(content))
			}
		})
	}
}
