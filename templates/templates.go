// Package templates holds the pages. A file here is one page and defines "main";
// the files under shared hold the layout and the parts that pages use.
package templates

import (
	"embed"
	"fmt"
	"html/template"
	"io/fs"
)

//go:embed *.html shared/*.html
var files embed.FS

// Parse gives every page by its file name, each with the layout and the parts.
// A name that is not there fails the execution of a page instead of showing nothing.
func Parse(funcs template.FuncMap) (map[string]*template.Template, error) {
	base, err := template.New("shared").Funcs(funcs).Option("missingkey=error").ParseFS(files, "shared/*.html")
	if err != nil {
		return nil, fmt.Errorf("shared templates: %w", err)
	}
	names, err := fs.Glob(files, "*.html")
	if err != nil {
		return nil, fmt.Errorf("list templates: %w", err)
	}
	pages := make(map[string]*template.Template, len(names))
	for _, name := range names {
		page, err := base.Clone()
		if err != nil {
			return nil, fmt.Errorf("page %s: %w", name, err)
		}
		if pages[name], err = page.ParseFS(files, name); err != nil {
			return nil, fmt.Errorf("page %s: %w", name, err)
		}
		if page.Lookup("main") == nil {
			return nil, fmt.Errorf(`page %s does not define "main"`, name)
		}
	}
	return pages, nil
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
