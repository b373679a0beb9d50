package planning

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"runtime"
)

// atOnce is how many layouts or kits are turned into text together.
const atOnce = 500

// Write writes a plan as its JSON, on one line. Layouts and kits are turned into text a few
// hundred at a time, side by side where there are cores for it: of a depot's plan they are
// twenty megabytes, which somebody who has stopped the search waits for.
func (p *Plan) Write(w io.Writer) error {
	text, err := compact(struct {
		Unit    string      `json:"unit"`
		Summary Summary     `json:"summary"`
		Quotas  []QuotaMade `json:"quotas"`
	}{p.Unit, p.Summary, p.Quotas})
	if err != nil {
		return err
	}
	o := &pieceByPiece{w: w}
	o.write(text[:len(text)-1])
	list(o, `,"layouts":`, p.Layouts)
	list(o, `,"kits":`, p.Kits)
	if p.Certificate != nil {
		text, err := compact(p.Certificate)
		o.fail(err)
		o.write([]byte(`,"certificate":`))
		o.write(text)
	}
	o.write([]byte("}\n"))
	return o.err
}

// WriteLines writes a plan as JSON for somebody who reads it: a line a value, indented by its
// depth. The certificate stays on one line: nobody reads it, and the halves in which it parts plans
// lie so deep in each other that spaces would be ten times what they stand before.
func (p *Plan) WriteLines(w io.Writer) error {
	read := *p
	read.Certificate = nil
	var text bytes.Buffer
	enc := json.NewEncoder(&text)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", " ")
	if err := enc.Encode(read); err != nil {
		return fmt.Errorf("write a plan: %w", err)
	}
	o := &pieceByPiece{w: w}
	o.write(bytes.TrimSuffix(text.Bytes(), []byte("\n}\n")))
	if p.Certificate != nil {
		proof, err := compact(p.Certificate)
		o.fail(err)
		o.write([]byte(",\n \"certificate\": "))
		o.write(proof)
	}
	o.write([]byte("\n}\n"))
	return o.err
}

// pieceByPiece writes until something fails.
type pieceByPiece struct {
	w   io.Writer
	err error
}

func (o *pieceByPiece) write(text []byte) {
	if o.err == nil {
		_, o.err = o.w.Write(text)
	}
}

func (o *pieceByPiece) fail(err error) {
	if o.err == nil {
		o.err = err
	}
}

type encoded struct {
	text []byte
	err  error
}

func list[T any](o *pieceByPiece, name string, all []T) {
	o.write([]byte(name))
	if all == nil {
		o.write([]byte("null"))
		return
	}
	o.write([]byte("["))
	// Each part has a place to put its text; as many are under way as there are cores.
	parts := make(chan chan encoded, runtime.GOMAXPROCS(0))
	go func() {
		defer close(parts)
		for at := 0; at < len(all); at += atOnce {
			part, done := all[at:min(at+atOnce, len(all))], make(chan encoded, 1)
			parts <- done
			go func() {
				text, err := compact(part)
				done <- encoded{text, err}
			}()
		}
	}()
	first := true
	for done := range parts {
		part := <-done
		o.fail(part.err)
		if o.err != nil {
			continue // let those that are under way end
		}
		if !first {
			o.write([]byte(","))
		}
		first = false
		o.write(part.text[1 : len(part.text)-1])
	}
	o.write([]byte("]"))
}

// compact gives the JSON of a value as people would type it: < > and & as they are.
func compact(v any) ([]byte, error) {
	var text bytes.Buffer
	enc := json.NewEncoder(&text)
	enc.SetEscapeHTML(false)
	if err := enc.Encode(v); err != nil {
		return nil, fmt.Errorf("write a plan: %w", err)
	}
	return bytes.TrimSuffix(text.Bytes(), []byte("\n")), nil
}
