// Package web holds what browsers and printed pages need beside the templates:
// the style sheet, one small script, pictures, htmx, and the typeface. All of it
// is part of the binary; vendor holds what others made, each with its licence.
package web

import "embed"

// Files holds everything under this folder that is served or printed with.
//
//go:embed style.css site.js *.svg vendor
var Files embed.FS
