package workbook

import (
	"encoding/xml"
	"errors"
	"io"
)

// Why a part of a workbook cannot be read.
var (
	errBroken        = errors.New("the workbook is broken")
	errUnpacksTooFar = errors.New("the workbook unpacks to too much")
)

// What a part may hold: no program writes more, and each would cost memory.
const (
	maxDepth = 64
	maxTag   = 64 << 10 // bytes between < and >
)

// guard passes a part on as it is unpacked and ends it where it unpacks to more
// than is left, whatever the file says of itself, or holds a tag without end.
type guard struct {
	from  io.Reader
	left  *int64
	tag   int // bytes since the < of a tag; 0 outside
	skips bool
	quote byte
}

func (g *guard) Read(p []byte) (int, error) {
	if *g.left <= 0 {
		return 0, errUnpacksTooFar
	}
	n, err := g.from.Read(p[:min(int64(len(p)), *g.left)])
	*g.left -= int64(n)
	for _, b := range p[:n] {
		if g.pass(b); g.tag > maxTag {
			return 0, errBroken
		}
	}
	if err != nil && err != io.EOF {
		return n, errBroken
	}
	return n, err
}

func (g *guard) pass(b byte) {
	switch {
	case g.skips:
		g.skips = b != '>'
	case g.tag == 0:
		if b == '<' {
			g.tag = 1
		}
	case g.tag == 1 && (b == '!' || b == '?'):
		// A comment or the like is no tag; its quotes mean nothing.
		g.tag, g.skips = 0, true
	case g.quote != 0:
		g.tag++
		if b == g.quote {
			g.quote = 0
		}
	case b == '>':
		g.tag = 0
	default:
		g.tag++
		if b == '"' || b == '\'' {
			g.quote = b
		}
	}
}

// xmlWalk goes through a part token by token.
type xmlWalk struct {
	d     *xml.Decoder
	token xml.Token
	stack []string // names of the open elements
	any   bool
}

func newXMLWalk(r io.Reader) *xmlWalk { return &xmlWalk{d: xml.NewDecoder(r)} }

// next goes on to the next token. It gives io.EOF at the end of a whole part and
// errBroken where the part breaks off, is no XML or is nested too deep.
func (w *xmlWalk) next() error {
	if _, closed := w.token.(xml.EndElement); closed {
		w.stack = w.stack[:len(w.stack)-1]
	}
	// Raw tokens are half the work; that tags match is seen to here.
	token, err := w.d.RawToken()
	switch {
	case errors.Is(err, io.EOF):
		if !w.any || len(w.stack) > 0 {
			return errBroken
		}
		return io.EOF
	case errors.Is(err, errUnpacksTooFar):
		return err
	case err != nil:
		return errBroken
	}
	w.token = token
	switch t := token.(type) {
	case xml.StartElement:
		if len(w.stack) == maxDepth || w.any && len(w.stack) == 0 {
			return errBroken
		}
		w.any = true
		w.stack = append(w.stack, t.Name.Local)
	case xml.EndElement:
		if len(w.stack) == 0 || w.stack[len(w.stack)-1] != t.Name.Local {
			return errBroken
		}
	}
	return nil
}

func (w *xmlWalk) opens(name string) bool {
	begin, ok := w.token.(xml.StartElement)
	return ok && begin.Name.Local == name
}

func (w *xmlWalk) closes(name string) bool {
	end, ok := w.token.(xml.EndElement)
	return ok && end.Name.Local == name
}

// within says whether this is text inside an element of that name.
func (w *xmlWalk) within(name string) bool {
	_, ok := w.token.(xml.CharData)
	return ok && len(w.stack) > 0 && w.stack[len(w.stack)-1] == name
}

func (w *xmlWalk) text() []byte {
	text, _ := w.token.(xml.CharData)
	return text
}

// attr gives an attribute of the element that opens, by its local name.
func (w *xmlWalk) attr(name string) string {
	begin, _ := w.token.(xml.StartElement)
	for _, a := range begin.Attr {
		if a.Name.Local == name {
			return a.Value
		}
	}
	return ""
}
