package main

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"math"
	"slices"

	"boltward/internal/drive"
	"boltward/internal/photo"
	"boltward/internal/postgres"
)

// On one day so many lots are photographed, at this size: a woven ground, and for prints
// a motif, drawn from the colours that intake noted. The same lot gives the same picture.
const (
	demoPhotos = 36
	photoWide  = 480
	photoHigh  = 360
)

// photographs takes photos of measured lots that have none yet.
func (s *story) photographs() error {
	lots, err := s.store.Lots(s.ctx, s.drive.ID, postgres.LotsQuery{Sort: "number"})
	if err != nil {
		return err
	}
	taken := 0
	unpacked := png.Encoder{CompressionLevel: png.NoCompression} // it is read again at once
	for _, lot := range lots.Lots {
		if lot.MeasuredAt == nil || lot.Photo != nil || taken == demoPhotos {
			continue
		}
		taken++
		var file bytes.Buffer
		if err := unpacked.Encode(&file, drawnCloth(lot.Lot)); err != nil {
			return fmt.Errorf("draw lot %d: %w", lot.Number, err)
		}
		p, err := photo.Take(bytes.NewReader(file.Bytes()), int64(file.Len()))
		if err != nil {
			return err
		}
		hash, err := s.store.KeepPhoto(s.ctx, s.drive.ID, postgres.Photo{Full: p.Full, Small: p.Small, Width: p.Width, Height: p.Height})
		if err != nil {
			return err
		}
		if _, err := s.store.SetLotPhoto(s.ctx, s.act(), lot.Number, hash); err != nil {
			return err
		}
	}
	return nil
}

// dyes are the colours as they come out on cotton.
var dyes = map[string]color.RGBA{
	"white": {0xF4, 0xF1, 0xEA, 255}, "cream": {0xEE, 0xE3, 0xC8, 255}, "grey": {0x9A, 0x9C, 0x9E, 255}, "black": {0x2A, 0x2A, 0x2E, 255},
	"natural linen": {0xC9, 0xB8, 0x98, 255}, "navy": {0x22, 0x30, 0x5A, 255}, "blue": {0x3F, 0x6F, 0xB0, 255}, "teal": {0x2B, 0x7A, 0x78, 255},
	"green": {0x4E, 0x84, 0x4B, 255}, "yellow": {0xE3, 0xB9, 0x3B, 255}, "orange": {0xD9, 0x7B, 0x33, 255}, "red": {0xB2, 0x33, 0x36, 255},
	"pink": {0xDE, 0x97, 0xAC, 255}, "coral": {0xE0, 0x75, 0x62, 255}, "purple": {0x70, 0x4B, 0x8E, 255}, "brown": {0x7B, 0x57, 0x3B, 255},
}

// dyed gives a colour by its name; one that is not in the book gets a tone of its own.
func dyed(name string) color.RGBA {
	if c, known := dyes[name]; known {
		return c
	}
	h := uint32(2166136261)
	for _, b := range []byte(name) {
		h = (h ^ uint32(b)) * 16777619
	}
	return color.RGBA{uint8(80 + h%120), uint8(80 + h>>8%120), uint8(80 + h>>16%120), 255}
}

func drawnCloth(lot drive.Lot) image.Image {
	img := image.NewRGBA(image.Rect(0, 0, photoWide, photoHigh))
	colours := slices.Clone(lot.Colours)
	if len(colours) == 0 {
		colours = []string{"natural linen"}
	}
	ground := dyed(colours[0])
	motif := lighter(ground, 46)
	if len(colours) > 1 {
		motif = dyed(colours[1])
	}
	seed := float64(lot.Number)
	for y := range photoHigh {
		for x := range photoWide {
			c := ground
			fx, fy := float64(x), float64(y)
			switch {
			case lot.Print == drive.PrintTonal:
				c = mixed(ground, lighter(ground, 30), 0.5+0.5*math.Sin(fx/23+seed)*math.Cos(fy/19-seed))
			case lot.Print == drive.PrintFeature && inMotif(lot.Number, fx, fy):
				c = motif
				if len(colours) > 2 && int(fx/54+fy/47)%3 == 0 {
					c = dyed(colours[2])
				}
			}
			img.SetRGBA(x, y, woven(c, x, y))
		}
	}
	return img
}

// inMotif says where a print's motif lies: one of five, by the lot's number.
func inMotif(lot int64, x, y float64) bool {
	size := 40 + float64(lot%4)*9
	row := math.Floor(y / size)
	cx, cy := math.Mod(x+math.Mod(row, 2)*size/2, size)-size/2, math.Mod(y, size)-size/2
	switch lot % 5 {
	case 0: // dots
		return math.Hypot(cx, cy) < size*0.26
	case 1: // boats
		return cy > 2 && cy < size*0.2 && math.Abs(cx) < size*0.36-cy || cy <= 0 && cy > -size*0.34 && cx > 0 && cx < (cy+size*0.34)*0.8
	case 2: // leaves
		return math.Abs(cx) < size*0.16*math.Cos(cy/size*math.Pi) && math.Abs(cy) < size*0.42
	case 3: // stars
		a, r := math.Atan2(cy, cx), math.Hypot(cx, cy)
		return r < size*(0.2+0.13*math.Cos(5*a))
	}
	return math.Mod(x+y, size) < size*0.3 // stripes on the bias
}

func lighter(c color.RGBA, by int) color.RGBA {
	if int(c.R)+int(c.G)+int(c.B) > 480 {
		by = -by
	}
	add := func(v uint8) uint8 { return uint8(max(0, min(255, int(v)+by))) }
	return color.RGBA{add(c.R), add(c.G), add(c.B), 255}
}

func mixed(a, b color.RGBA, share float64) color.RGBA {
	mix := func(x, y uint8) uint8 { return uint8(float64(x)*(1-share) + float64(y)*share) }
	return color.RGBA{mix(a.R, b.R), mix(a.G, b.G), mix(a.B, b.B), 255}
}

// woven shades threads over and under.
func woven(c color.RGBA, x, y int) color.RGBA {
	shade := []int{0, -9, 5, -4}[(x/2+y/2)%2*2+(x%3+y%3)%2]
	add := func(v uint8) uint8 { return uint8(max(0, min(255, int(v)+shade))) }
	return color.RGBA{add(c.R), add(c.G), add(c.B), 255}
}
