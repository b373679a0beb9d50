package site

import (
	"net/http"
	"strings"

	"github.com/gin-gonic/gin"

	"boltward/internal/words"
)

// languageOf is the language of whoever opens a page: of guests under a personal
// link, else of those who run the drive.
func (s *Site) languageOf(r *http.Request) words.Language {
	if path := r.URL.Path; strings.HasPrefix(path, "/v/") || strings.HasPrefix(path, "/r/") {
		return s.guests
	}
	return words.In("en")
}

const languageKey = "language"

// aroundOf gives what is said around the page of this request and instead of it.
func aroundOf(c *gin.Context) words.Around {
	if l, ok := c.Get(languageKey); ok {
		return l.(words.Language).Around
	}
	return words.In("en").Around
}
