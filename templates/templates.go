// Package templates holds the pages. A file here is one page and defines "main";
// the files under shared hold the layout and the parts that pages use.
package templates

import (
	"embed"
	"errors"
	"fmt"
	"html/template"
	"io/fs"
	"path"
	"regexp"
	"sync"
)

//go:embed *.html shared/*.html
var files embed.FS

// Page gives a page with the layout and the parts; or why it cannot be parsed. Each has copies
// of them all, which are made at its first call: made for every page they would keep each start
// waiting for a third of a second.
type Page func() (*template.Template, error)

// Parse gives every page by its file name; file gives the address of a file that pages ask
// for, which is the same on every page. It fails where the layout or a part cannot be parsed.
// A name that is not there fails the execution of a page instead of showing nothing.
func Parse(funcs template.FuncMap, file func(name string) (string, error)) (map[string]Page, error) {
	base := template.New("shared").Funcs(funcs).Option("missingkey=error")
	shared, err := fs.Glob(files, "shared/*.html")
	if err != nil {
		return nil, fmt.Errorf("list templates: %w", err)
	}
	for _, name := range shared {
		if err := parse(base, name, file); err != nil {
			return nil, err
		}
	}
	names, err := fs.Glob(files, "*.html")
	if err != nil {
		return nil, fmt.Errorf("list templates: %w", err)
	}
	pages := make(map[string]Page, len(names))
	for _, name := range names {
		pages[name] = sync.OnceValues(func() (*template.Template, error) { return parsePage(base, name, file) })
	}
	return pages, nil
}

func parsePage(base *template.Template, name string, file func(string) (string, error)) (*template.Template, error) {
	page, err := base.Clone()
	if err != nil {
		return nil, fmt.Errorf("page %s: %w", name, err)
	}
	if err := parse(page, name, file); err != nil {
		return nil, err
	}
	if page.Lookup("main") == nil {
		return nil, fmt.Errorf(`page %s does not define "main"`, name)
	}
	return page, nil
}

var aFile = regexp.MustCompile(`{{file "([^"]*)"}}`)

// parse adds a file to the templates, with the addresses of what it asks for in it.
func parse(to *template.Template, name string, file func(string) (string, error)) error {
	source, err := fs.ReadFile(files, name)
	if err != nil {
		return fmt.Errorf("read template %s: %w", name, err)
	}
	text := aFile.ReplaceAllStringFunc(string(source), func(call string) string {
		address, unknown := file(aFile.FindStringSubmatch(call)[1])
		err = errors.Join(err, unknown)
		return template.HTMLEscapeString(address)
	})
	if err == nil {
		_, err = to.New(path.Base(name)).Parse(text)
	}
	if err != nil {
		return fmt.Errorf("template %s: %w", name, err)
	}
	return nil
}

// Sources gives the text of every template by its path, for the tests that read them.
func Sources() (map[string]string, error) {
	sources := map[string]string{}
	err := fs.WalkDir(files, ".", func(path string, entry fs.DirEntry, err error) error {
		if err != nil || entry.IsDir() {
			return err
		}
		text, err := fs.ReadFile(files, path)
		sources[path] = string(text)
		return err
	})
	return sources, err
}
