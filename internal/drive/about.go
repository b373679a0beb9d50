package drive

import (
	"encoding/json"
	"fmt"
	"io"
	"strings"
	"time"
)

// About is all that is kept about one person, part by part, in words: for that
// person to read, or to take elsewhere.
type About struct {
	Who    string      `json:"who"`
	Drive  string      `json:"drive,omitempty"`
	MadeAt time.Time   `json:"made_at"`
	Parts  []AboutPart `json:"parts"`
}

// AboutPart is the rows of one kind, such as kits or hours. Values stand by their names.
type AboutPart struct {
	Name string              `json:"name"`
	Rows []map[string]string `json:"rows"`
	// Order is the names of the values as they are read.
	Order []string `json:"-"`
}

// WriteJSON writes it for another program: parts by name, values by theirs, all text.
func (a About) WriteJSON(w io.Writer) error {
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	e.SetEscapeHTML(false)
	return e.Encode(a)
}

// WriteText writes it for somebody to read: what is empty is left out.
func (a About) WriteText(w io.Writer) error {
	var b strings.Builder
	fmt.Fprintf(&b, "What is kept about %s\n", a.Who)
	if a.Drive != "" {
		fmt.Fprintf(&b, "in the drive %s, ", a.Drive)
	}
	fmt.Fprintf(&b, "as of %s\n", a.MadeAt.Format("2 Jan 2006, 15:04 MST"))
	for _, part := range a.Parts {
		fmt.Fprintf(&b, "\n%s\n%s\n", part.Name, strings.Repeat("-", len(part.Name)))
		if len(part.Rows) == 0 {
			b.WriteString("nothing\n")
		}
		for i, row := range part.Rows {
			if i > 0 && len(part.Order) > 3 {
				b.WriteString("\n")
			}
			for _, name := range part.Order {
				if row[name] != "" {
					fmt.Fprintf(&b, "%s: %s\n", name, strings.ReplaceAll(row[name], "\n", "\n    "))
				}
			}
		}
	}
	_, err := io.WriteString(w, b.String())
	return err
}
