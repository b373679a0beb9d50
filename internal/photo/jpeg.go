package photo

import (
	"bufio"
	"cmp"
	"encoding/binary"
	"errors"
	"io"
)

// mostScans is how many passes a JPEG may come in. Cameras and programs make one
// to a dozen; each costs a walk over the whole picture, however few bytes it has.
const mostScans = 100

// Why a JPEG is not decoded.
var (
	errNoFrame  = errors.New("a JPEG without a picture")
	errTwice    = errors.New("a JPEG of two pictures")
	errTooOften = errors.New("a JPEG of too many passes")
)

// measureJPEG reads the segments of the whole file, for what tells how the colours
// are stored may stand behind the picture: its size and how it is coded, in how
// many passes, and which way up it was taken.
func measureJPEG(r io.ReadSeeker) (int64, int, error) {
	if _, err := r.Seek(2, io.SeekStart); err != nil {
		return 0, 0, err
	}
	in := bufio.NewReaderSize(r, 64<<10)
	turn, adobe, passes, scans := 0, false, false, 0
	var frame []byte
	for {
		marker, body, err := segment(in)
		if err != nil {
			return 0, 0, err
		}
		switch {
		case marker == 0xe1 && frame == nil:
			turn = cmp.Or(orientation(body), turn)
		case marker == 0xee:
			adobe = true
		case marker == 0xda:
			if scans++; scans > mostScans {
				return 0, 0, errTooOften
			}
		case marker == 0xd9:
			cost, err := frameCost(frame, passes, adobe)
			return cost, max(turn, 1), err
		case marker >= 0xc0 && marker <= 0xcf && marker != 0xc4 && marker != 0xc8 && marker != 0xcc:
			if frame != nil {
				return 0, 0, errTwice
			}
			frame, passes = body, marker == 0xc2
		}
	}
}

// segment gives the next marker and what stands in its segment.
func segment(in *bufio.Reader) (byte, []byte, error) {
	for {
		b, err := in.ReadByte()
		if err != nil {
			return 0, nil, err
		}
		if b != 0xff {
			continue
		}
		for b == 0xff {
			if b, err = in.ReadByte(); err != nil {
				return 0, nil, err
			}
		}
		if b == 0 || b == 1 || b >= 0xd0 && b <= 0xd8 {
			continue
		}
		if b == 0xd9 {
			return b, nil, nil
		}
		var size [2]byte
		if _, err := io.ReadFull(in, size[:]); err != nil {
			return 0, nil, err
		}
		n := int(binary.BigEndian.Uint16(size[:])) - 2
		if n < 0 {
			return 0, nil, errNoFrame
		}
		body := make([]byte, n)
		_, err = io.ReadFull(in, body)
		return b, body, err
	}
}

// frameCost is what decoding a frame takes: a byte a sample, four more for each
// coefficient where it comes in passes, and a copy in four bytes a pixel where
// the colours are stored otherwise than usual.
func frameCost(frame []byte, passes, adobe bool) (int64, error) {
	if len(frame) < 6 || len(frame) < 6+3*int(frame[5]) {
		return 0, errNoFrame
	}
	high, wide, parts := int64(binary.BigEndian.Uint16(frame[1:])), int64(binary.BigEndian.Uint16(frame[3:])), int(frame[5])
	if wide == 0 || high == 0 || parts == 0 {
		return 0, errNoFrame
	}
	var h, v, samples int64
	for i := range parts {
		x, y := int64(frame[7+3*i]>>4), int64(frame[7+3*i]&15)
		h, v, samples = max(h, x), max(v, y), samples+x*y
	}
	if h == 0 || v == 0 {
		return 0, errNoFrame
	}
	cost := wide * high * samples / (h * v)
	if passes {
		cost *= 5
	}
	// Without a word of it, components called R, G and B are those colours.
	if named := parts == 3 && frame[6] == 'R' && frame[9] == 'G' && frame[12] == 'B'; adobe || named || parts == 4 {
		cost += 4 * wide * high
	}
	return cost, nil
}

// orientation reads how a picture was turned from an EXIF segment; 0 where it
// does not say.
func orientation(segment []byte) int {
	if len(segment) < 14 || string(segment[:6]) != "Exif\x00\x00" {
		return 0
	}
	tiff := segment[6:]
	var order binary.ByteOrder = binary.BigEndian
	switch string(tiff[:2]) {
	case "II":
		order = binary.LittleEndian
	case "MM":
	default:
		return 0
	}
	at := int64(order.Uint32(tiff[4:]))
	if at+2 > int64(len(tiff)) {
		return 0
	}
	entries := tiff[at+2:]
	for range order.Uint16(tiff[at:]) {
		if len(entries) < 12 {
			return 0
		}
		if order.Uint16(entries) == 0x0112 {
			if turn := int(order.Uint16(entries[8:])); turn >= 1 && turn <= 8 {
				return turn
			}
			return 0
		}
		entries = entries[12:]
	}
	return 0
}
