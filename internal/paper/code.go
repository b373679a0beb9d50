package paper

import (
	"boltward/internal/apperr"

	"rsc.io/qr"
)

// quietZone is how many modules stay white round a code (ISO/IEC 18004).
const quietZone = 4

// finestModule is the least side of a module in millimetres that a printer of
// 300 dots an inch and a phone's camera manage: three dots.
const finestModule = 0.25

// code is a QR code that fits a square.
type code struct {
	*qr.Code
	module float64 // millimetres
}

// codeFor gives the code of an address for a square of this side with its quiet
// zone: with the better correction of errors where its modules stay well visible,
// else with the lesser. It refuses, as an invalid "paper", a square too small.
func codeFor(address string, side float64) (code, error) {
	var found code
	for _, level := range []qr.Level{qr.M, qr.L} {
		c, err := qr.Encode(address, level)
		if err != nil {
			return code{}, apperr.Invalid("paper", "The address %q is too long for a code.", address)
		}
		found = code{c, side / float64(c.Size+2*quietZone)}
		if found.module >= 0.4 {
			return found, nil
		}
	}
	if found.module < finestModule {
		return code{}, apperr.Invalid("paper", "These labels are too small: the code of %s would be too fine to scan. Choose larger labels.", address)
	}
	return found, nil
}

// draw fills the dark modules of a code, whose quiet zone begins at x, y; each
// row's neighbours are one rectangle, so that no seam of white shows between them.
func (d *document) draw(c code, x, y float64) {
	d.pdf.SetFillColor(0, 0, 0)
	x, y = x+quietZone*c.module, y+quietZone*c.module
	for row := range c.Size {
		for from := 0; from < c.Size; {
			if !c.Black(from, row) {
				from++
				continue
			}
			to := from
			for to < c.Size && c.Black(to, row) {
				to++
			}
			d.pdf.Rect(x+float64(from)*c.module, y+float64(row)*c.module, float64(to-from)*c.module, c.module, "F")
			from = to
		}
	}
}
