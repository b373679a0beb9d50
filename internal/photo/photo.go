// Package photo takes pictures as people send them from a tablet, and gives
// small ones that hold nothing but the picture: what a camera writes beside it,
// such as where it was taken, does not come through. How much memory a picture
// takes is known before it is decoded, and bounded.
package photo

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"io"

	"boltward/internal/apperr"

	"golang.org/x/image/draw"
	"golang.org/x/image/webp"
)

// What is taken and what is kept, in bytes and in px of the longer side.
const (
	MostBytes  = 40 << 20
	mostMemory = 320 << 20
	fullSide   = 1600
	smallSide  = 320
)

// Photo is a picture as it is kept: two JPEGs, each the right way up.
type Photo struct {
	Full, Small   []byte
	Width, Height int // of Full
}

// Take reads a JPEG, PNG or WebP of this many bytes and gives it shrunk. It
// refuses, by the field photo, what is no such picture, what is cut off, and what
// would take more memory than there is for it.
func Take(r io.ReadSeeker, size int64) (Photo, error) {
	if size > MostBytes {
		return Photo{}, refuse("This photo has %d MB; up to %d MB are taken. Take it again at a lower resolution.", (size+1<<20-1)>>20, MostBytes>>20)
	}
	head := make([]byte, 16)
	n, err := io.ReadFull(r, head)
	if err != nil && n == 0 {
		return Photo{}, refuse("The photo is empty. Take it again.")
	}
	kind, ok := kindOf(head[:n])
	if !ok {
		return Photo{}, refuse("%s", notAPicture(head[:n]))
	}
	cost, turn, err := kind.measure(r)
	if err != nil {
		return Photo{}, refuse("This photo cannot be read: it may have been cut off on its way. Take it again.")
	}
	if cost > mostMemory {
		return Photo{}, refuse("This photo has too many pixels to be taken here. Take it again at a lower resolution, 12 megapixels or so.")
	}
	if _, err := r.Seek(0, io.SeekStart); err != nil {
		return Photo{}, fmt.Errorf("read the photo again: %w", err)
	}
	picture, err := kind.decode(r)
	if err != nil {
		return Photo{}, refuse("This photo cannot be read: it may have been cut off on its way. Take it again.")
	}
	return keep(turned(shrunk(picture, fullSide), turn))
}

func keep(full *image.RGBA) (Photo, error) {
	p := Photo{Width: full.Bounds().Dx(), Height: full.Bounds().Dy()}
	for _, as := range []struct {
		to      *[]byte
		picture *image.RGBA
	}{{&p.Full, full}, {&p.Small, shrunk(full, smallSide)}} {
		var b bytes.Buffer
		if err := jpeg.Encode(&b, as.picture, &jpeg.Options{Quality: 80}); err != nil {
			return Photo{}, fmt.Errorf("write the photo: %w", err)
		}
		*as.to = b.Bytes()
	}
	return p, nil
}

// kind is a format that is taken.
type kind struct {
	// measure says how many bytes decoding takes at most, and how the picture was
	// turned when it was taken, as EXIF counts.
	measure func(io.ReadSeeker) (bytes int64, turn int, err error)
	decode  func(io.Reader) (image.Image, error)
}

func kindOf(head []byte) (kind, bool) {
	switch {
	case bytes.HasPrefix(head, []byte("\xff\xd8\xff")):
		return kind{measureJPEG, jpeg.Decode}, true
	case bytes.HasPrefix(head, []byte("\x89PNG\r\n\x1a\n")):
		return kind{measurePNG, png.Decode}, true
	case len(head) >= 12 && string(head[:4]) == "RIFF" && string(head[8:12]) == "WEBP":
		return kind{measureWebP, webp.Decode}, true
	}
	return kind{}, false
}

// notAPicture says what was sent instead, where it is what cameras make.
func notAPicture(head []byte) string {
	if len(head) >= 12 && string(head[4:8]) == "ftyp" {
		switch string(head[8:12]) {
		case "heic", "heix", "hevc", "mif1", "msf1", "heim", "heis":
			return "This photo is in the HEIC format, which is not read here. Set the camera to its most compatible format, JPEG, and take it again."
		}
		return "This is a film or in a format that is not read here. Send a photo as JPEG, PNG or WebP."
	}
	return "This is no photo. Send a picture as JPEG, PNG or WebP."
}

func refuse(format string, args ...any) error { return apperr.Invalid("photo", format, args...) }

func measurePNG(r io.ReadSeeker) (int64, int, error) {
	if _, err := r.Seek(0, io.SeekStart); err != nil {
		return 0, 0, err
	}
	c, err := png.DecodeConfig(r)
	if err != nil {
		return 0, 0, err
	}
	// Grey is decoded as colours where some of it is to be seen through, which is
	// said only further on.
	each := int64(4)
	switch c.ColorModel {
	case color.RGBA64Model, color.NRGBA64Model, color.Gray16Model:
		each = 8
	}
	// An interlaced one is decoded in passes beside the whole.
	return 2 * each * int64(c.Width) * int64(c.Height), 1, nil
}

func measureWebP(r io.ReadSeeker) (int64, int, error) {
	if _, err := r.Seek(0, io.SeekStart); err != nil {
		return 0, 0, err
	}
	c, err := webp.DecodeConfig(r)
	if err != nil {
		return 0, 0, err
	}
	// Without loss it is decoded as four bytes a pixel and unfolded beside that.
	return 12 * int64(c.Width) * int64(c.Height), 1, nil
}

// shrunk gives the picture with its longer side at most this long, on white where
// one sees through it. Whole pixels are averaged first, a few rows at a time, so
// that a large picture takes little beside itself.
func shrunk(picture image.Image, side int) *image.RGBA {
	from := picture.Bounds()
	longer := max(from.Dx(), from.Dy())
	by := max(1, longer/side)
	wide, high := max(1, from.Dx()/by), max(1, from.Dy()/by)
	averaged := image.NewRGBA(image.Rect(0, 0, wide, high))
	// No more rows than there are: of a picture a few px high and millions wide,
	// a square's height of them would be more than any memory.
	rows := image.NewRGBA(image.Rect(0, 0, from.Dx(), min(by, from.Dy())))
	for y := range high {
		draw.Draw(rows, rows.Bounds(), image.White, image.Point{}, draw.Src)
		draw.Draw(rows, rows.Bounds(), picture, image.Pt(from.Min.X, from.Min.Y+y*by), draw.Over)
		for x := range wide {
			average(averaged.Pix[averaged.PixOffset(x, y):], rows, x*by, by)
		}
	}
	if max(wide, high) <= side {
		return averaged
	}
	scale := float64(side) / float64(max(wide, high))
	out := image.NewRGBA(image.Rect(0, 0, max(1, int(float64(wide)*scale+0.5)), max(1, int(float64(high)*scale+0.5))))
	draw.ApproxBiLinear.Scale(out, out.Bounds(), averaged, averaged.Bounds(), draw.Src, nil)
	return out
}

// average puts the mean of a square of pixels into the first four bytes of to.
func average(to []byte, rows *image.RGBA, x, by int) {
	// A picture that is narrower or lower than the square fills less of it.
	last, high := min(x+by, rows.Bounds().Dx()), rows.Bounds().Dy()
	var sum [3]int
	for y := range high {
		line := rows.Pix[rows.PixOffset(x, y):rows.PixOffset(last, y)]
		for i := 0; i+3 < len(line); i += 4 {
			sum[0] += int(line[i])
			sum[1] += int(line[i+1])
			sum[2] += int(line[i+2])
		}
	}
	n := high * (last - x)
	for i, s := range sum {
		to[i] = byte((s + n/2) / n)
	}
	to[3] = 0xff
}

// turned puts a picture the right way up; turn is the number that EXIF gives, 1
// to 8, where 1 is upright.
func turned(p *image.RGBA, turn int) *image.RGBA {
	if turn <= 1 || turn > 8 {
		return p
	}
	w, h := p.Bounds().Dx(), p.Bounds().Dy()
	size := image.Rect(0, 0, w, h)
	if turn >= 5 {
		size = image.Rect(0, 0, h, w)
	}
	out := image.NewRGBA(size)
	for y := range h {
		for x := range w {
			to := [...]image.Point{
				2: {w - 1 - x, y}, 3: {w - 1 - x, h - 1 - y}, 4: {x, h - 1 - y},
				5: {y, x}, 6: {h - 1 - y, x}, 7: {h - 1 - y, w - 1 - x}, 8: {y, w - 1 - x},
			}[turn]
			copy(out.Pix[out.PixOffset(to.X, to.Y):][:4], p.Pix[p.PixOffset(x, y):][:4])
		}
	}
	return out
}
