package paper

import (
	"fmt"
	"strings"

	"boltward/internal/apperr"
	"boltward/internal/drive"

	"rsc.io/qr"
)

// quietZone is how many modules stay white round a code (ISO/IEC 18004).
const quietZone = 4

// finestModule is the least side of a module in millimetres that a printer of
// 300 dots an inch and a phone's camera manage: three dots.
const finestModule = 0.25

// Address is what the code of something with a label opens; base is the start of
// every address, such as https://drive.example.org.
func Address(base, driveID string, kind drive.CodeKind, number string) string {
	return fmt.Sprintf("%s/l/%s/%s/%s", strings.TrimSuffix(base, "/"), driveID, kind, number)
}

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
			return code{}, tooLongForCode(address)
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

// overRow is how far a row of a code reaches into the next one, in millimetres.
const overRow = 0.04

// draw fills the dark modules of a code, whose quiet zone begins at x, y; each
// row's neighbours are one rectangle, and a row reaches a hair into the next, so
// that no seam of white shows between them where a printer rounds to its dots.
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
			d.pdf.Rect(x+float64(from)*c.module, y+float64(row)*c.module, float64(to-from)*c.module, c.module+overRow, "F")
			from = to
		}
	}
}

// CodeRun is dark modules side by side in one row of a code.
type CodeRun struct{ X, Y, N int }

// CodeRuns gives the code of an address for a page: how many modules a side of it
// takes with its quiet zone, and where they are dark. It refuses, as an invalid
// "paper", an address too long for a code.
func CodeRuns(address string) (side int, runs []CodeRun, err error) {
	c, err := qr.Encode(address, qr.M)
	if err != nil {
		return 0, nil, tooLongForCode(address)
	}
	for row := range c.Size {
		for from := 0; from < c.Size; from++ {
			to := from
			for to < c.Size && c.Black(to, row) {
				to++
			}
			if to > from {
				runs = append(runs, CodeRun{from + quietZone, row + quietZone, to - from})
				from = to
			}
		}
	}
	return c.Size + 2*quietZone, runs, nil
}

func tooLongForCode(address string) error {
	return apperr.Invalid("paper", "The address %q is too long for a code.", address)
}
