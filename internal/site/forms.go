package site

import (
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"maps"
	"mime"
	"mime/multipart"
	"net/http"
	"net/url"
	"reflect"
	"slices"
	"strings"

	"github.com/gin-gonic/gin"

	"boltward/internal/apperr"
	"boltward/internal/drive"
)

// formMemory is how much of an upload stays in memory; the rest waits in a file.
const formMemory = 4 << 20

// option is one thing to choose in a form.
type option struct {
	Value string
	Label string
}

// read fills a form, a pointer to a struct of strings and lists of strings,
// each with its name in a `form` tag, from what was sent. Rows that repeat are an
// array of structs: the field from of the second flaw is sent as flaw2_from.
// Blanks around a value go. A body that is too large or garbled is refused.
func (s *Site) read(c *gin.Context, form any) error {
	if err := parseForm(c.Request); err != nil {
		return err
	}
	readInto(reflect.ValueOf(form).Elem(), "", c.Request.PostForm)
	return nil
}

// readInto fills a struct whose fields are sent under their names after a prefix.
func readInto(v reflect.Value, prefix string, sent url.Values) {
	for i := range v.NumField() {
		name, ok := v.Type().Field(i).Tag.Lookup("form")
		if !ok {
			panic(fmt.Sprintf("%s.%s has no form tag", v.Type(), v.Type().Field(i).Name))
		}
		name = prefix + name
		if rows := v.Field(i); rows.Kind() == reflect.Array && rows.Type().Elem().Kind() == reflect.Struct {
			for row := range rows.Len() {
				readInto(rows.Index(row), fmt.Sprintf("%s%d_", name, row+1), sent)
			}
			continue
		}
		values := sent[name]
		switch field := v.Field(i).Addr().Interface().(type) {
		case *string:
			if len(values) > 0 {
				*field = clean(values[0])
			}
		case *[]string:
			for _, value := range values {
				if value = clean(value); value != "" {
					*field = append(*field, value)
				}
			}
		default:
			panic(fmt.Sprintf("%s.%s is neither a string nor a list of them", v.Type(), v.Type().Field(i).Name))
		}
	}
}

// problem notes what is wrong with a field; the first thing said stays.
func problem(problems map[string]string, field, format string, args ...any) {
	if _, said := problems[field]; !said {
		problems[field] = fmt.Sprintf(format, args...)
	}
}

// act gives who asks for a change, under which key and when, for the store.
func (s *Site) act(c *gin.Context) drive.Act {
	v := visitorOf(c)
	return drive.Act{
		Drive:    v.drive.ID,
		Who:      v.person.ID,
		Initials: v.person.Initials,
		Key:      onceKey(c),
		At:       s.now(),
		Request:  traceOf(c).number,
		Form:     s.formPrint(c),
	}
}

// secretFields is where a request notes which fields of its form are secret.
const secretFields = "secret fields"

// formPrint is a fingerprint of a form that was read, as it was sent: where to, with what
// the address asks, its fields but for the key and for secrets, and the files that came
// with it. It is kept for weeks, and whoever had the database and the key could try
// passwords against it faster than against their slow hash: so nothing of a password is in it.
func (s *Site) formPrint(c *gin.Context) []byte {
	sent := maps.Clone(c.Request.PostForm)
	delete(sent, "once")
	for _, field := range c.GetStringSlice(secretFields) {
		delete(sent, field)
	}
	text := c.Request.URL.RequestURI() + "\n" + sent.Encode()
	if c.Request.MultipartForm != nil {
		files := c.Request.MultipartForm.File
		for _, field := range slices.Sorted(maps.Keys(files)) {
			for _, head := range files[field] {
				sum, err := sumOf(head)
				if err != nil {
					return nil // whoever reads the file says what is wrong with it
				}
				text += fmt.Sprintf("\n%q %q %x", field, head.Filename, sum)
			}
		}
	}
	return s.key.Fingerprint("form", text)
}

func sumOf(head *multipart.FileHeader) ([]byte, error) {
	file, err := head.Open()
	if err != nil {
		return nil, err
	}
	defer file.Close()
	sum := sha256.New()
	_, err = io.Copy(sum, file)
	return sum.Sum(nil), err
}

// onceKey gives the key that makes a repeated wish the same wish: a hidden
// field in forms, a header from programs. What no page gives out is no key.
func onceKey(c *gin.Context) string {
	key := c.GetHeader("Idempotency-Key")
	if key == "" {
		key = c.Request.PostForm.Get("once")
	}
	if len(key) < 8 || len(key) > 200 || clean(key) != key {
		return ""
	}
	return key
}

// parseForm reads the body of a form, once.
func parseForm(r *http.Request) error {
	err := r.ParseForm()
	if kind, _, _ := mime.ParseMediaType(r.Header.Get("Content-Type")); err == nil && kind == "multipart/form-data" {
		err = r.ParseMultipartForm(formMemory)
	}
	var tooLarge *http.MaxBytesError
	switch {
	case err == nil:
		return nil
	case errors.As(err, &tooLarge):
		return tooLarge
	}
	return apperr.Invalid("", "The form did not arrive whole. Send it once more.")
}

// clean takes blanks from the ends, and what no field holds and no table keeps:
// bytes that are not text, and marks that nobody sees.
func clean(typed string) string {
	return strings.TrimSpace(drive.WithoutUnseen(strings.ToValidUTF8(typed, "")))
}

// readSecret is read for forms with secrets, fields with the tag typed:"secret", which
// are taken as they were typed, and of which nothing is kept to know the form again.
func (s *Site) readSecret(c *gin.Context, form any) error {
	if err := s.read(c, form); err != nil {
		return err
	}
	secrets := c.GetStringSlice(secretFields)
	v := reflect.ValueOf(form).Elem()
	for i := range v.NumField() {
		if tag := v.Type().Field(i).Tag; tag.Get("typed") == "secret" {
			v.Field(i).SetString(c.Request.PostForm.Get(tag.Get("form")))
			secrets = append(secrets, tag.Get("form"))
		}
	}
	c.Set(secretFields, secrets)
	return nil
}
