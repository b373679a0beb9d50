package photo

import (
	"bytes"
	"encoding/binary"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"boltward/internal/apperr"
)

// redTop is a picture that is red above and blue below.
func redTop(w, h int) *image.RGBA {
	p := image.NewRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			p.Set(x, y, color.RGBA{R: 0xff, A: 0xff})
			if y >= h/2 {
				p.Set(x, y, color.RGBA{B: 0xff, A: 0xff})
			}
		}
	}
	return p
}

func asJPEG(t testing.TB, p image.Image) []byte {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, jpeg.Encode(&b, p, &jpeg.Options{Quality: 95}))
	return b.Bytes()
}

// withEXIF puts an EXIF segment into a JPEG: how it was turned, and a place.
func withEXIF(jpg []byte, turn uint16) []byte {
	tiff := []byte("MM\x00\x2a\x00\x00\x00\x08\x00\x02")
	entry := func(tag, kind uint16, count, value uint32) {
		tiff = binary.BigEndian.AppendUint16(tiff, tag)
		tiff = binary.BigEndian.AppendUint16(tiff, kind)
		tiff = binary.BigEndian.AppendUint32(tiff, count)
		tiff = binary.BigEndian.AppendUint32(tiff, value)
	}
	entry(0x0112, 3, 1, uint32(turn)<<16)
	entry(0x8825, 4, 1, 38) // where the GPS directory stands
	tiff = append(tiff, "\x00\x00\x00\x00GPS 53.3498 N 6.2603 W"...)
	segment := append([]byte("Exif\x00\x00"), tiff...)
	out := append([]byte{}, jpg[:2]...)
	out = append(out, 0xff, 0xe1)
	out = binary.BigEndian.AppendUint16(out, uint16(len(segment)+2))
	return append(append(out, segment...), jpg[2:]...)
}

func take(t testing.TB, content []byte) Photo {
	t.Helper()
	p, err := Take(bytes.NewReader(content), int64(len(content)))
	require.NoError(t, err)
	return p
}

func TestShrunkAndStripped(t *testing.T) {
	sent := withEXIF(asJPEG(t, redTop(2400, 3200)), 1)
	require.Contains(t, string(sent), "53.3498", "the picture that was sent says where it was taken")
	p := take(t, sent)
	require.Equal(t, [2]int{1200, 1600}, [2]int{p.Width, p.Height})
	for name, kept := range map[string][]byte{"full": p.Full, "small": p.Small} {
		require.NotContains(t, string(kept), "Exif", name)
		require.NotContains(t, string(kept), "53.3498", name)
		picture, err := jpeg.Decode(bytes.NewReader(kept))
		require.NoError(t, err)
		require.LessOrEqual(t, picture.Bounds().Dy(), map[string]int{"full": 1600, "small": 320}[name])
		r, _, b, _ := picture.At(10, 10).RGBA()
		require.Greater(t, r, 4*b, "%s: red above", name)
	}
}

// The numbers are those of EXIF: the row and the column of the picture that are
// top and left as somebody looks at it.
func TestTurnedUpright(t *testing.T) {
	for turn, red := range map[uint16]image.Point{1: {30, 4}, 2: {30, 4}, 3: {30, 36}, 4: {30, 36}, 5: {4, 30}, 6: {36, 30}, 7: {36, 30}, 8: {4, 30}} {
		p := take(t, withEXIF(asJPEG(t, redTop(60, 40)), turn))
		picture, err := jpeg.Decode(bytes.NewReader(p.Full))
		require.NoError(t, err)
		want := image.Pt(60, 40)
		if turn >= 5 {
			want = image.Pt(40, 60)
		}
		require.Equal(t, want, picture.Bounds().Size(), "turn %d", turn)
		r, _, b, _ := picture.At(red.X, red.Y).RGBA()
		require.Greater(t, r, 4*b, "turn %d: red at %v", turn, red)
	}
}

func TestPNGOnWhite(t *testing.T) {
	var b bytes.Buffer
	require.NoError(t, png.Encode(&b, image.NewNRGBA(image.Rect(0, 0, 50, 3))))
	p := take(t, b.Bytes())
	require.Equal(t, [2]int{50, 3}, [2]int{p.Width, p.Height})
	picture, err := jpeg.Decode(bytes.NewReader(p.Full))
	require.NoError(t, err)
	r, _, _, _ := picture.At(25, 1).RGBA()
	require.Equal(t, uint32(0xffff), r, "what one sees through is white")
}

func TestThirtyMegabytesAreShrunk(t *testing.T) {
	noise := image.NewYCbCr(image.Rect(0, 0, 6000, 4000), image.YCbCrSubsampleRatio420)
	random := rand.NewChaCha8([32]byte{1})
	for _, plane := range [][]byte{noise.Y, noise.Cb, noise.Cr} {
		_, err := random.Read(plane)
		require.NoError(t, err)
	}
	var b bytes.Buffer
	require.NoError(t, jpeg.Encode(&b, noise, &jpeg.Options{Quality: 97}))
	require.Greater(t, b.Len(), 30<<20)
	require.Less(t, b.Len(), MostBytes)
	p := take(t, b.Bytes())
	require.Equal(t, [2]int{1600, 1066}, [2]int{p.Width, p.Height})
	require.Less(t, len(p.Full)+len(p.Small), 2<<20)
}

func TestRefused(t *testing.T) {
	good := asJPEG(t, redTop(60, 40))
	bomb := append([]byte{}, good...)
	at := bytes.Index(bomb, []byte("\xff\xc0"))
	binary.BigEndian.PutUint16(bomb[at+5:], 65000)
	binary.BigEndian.PutUint16(bomb[at+7:], 65000)
	var small bytes.Buffer
	require.NoError(t, png.Encode(&small, image.NewGray(image.Rect(0, 0, 8, 8))))
	wide := small.Bytes()
	binary.BigEndian.PutUint32(wide[16:], 200_000)
	for name, tt := range map[string]struct {
		content []byte
		size    int64
		says    string
	}{
		"nothing":             {nil, 0, "empty"},
		"a letter":            {[]byte("Dear Orla, thank you for the bolts."), 0, "no photo"},
		"a page":              {[]byte("<html><script>alert(1)</script>"), 0, "no photo"},
		"two bytes":           {[]byte("\xff\xd8"), 0, "no photo"},
		"of an iPhone":        {[]byte("\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic"), 0, "HEIC"},
		"a film":              {[]byte("\x00\x00\x00\x18ftypmp42\x00\x00\x00\x00mp42isom"), 0, "film"},
		"cut off":             {good[:len(good)/2], 0, "cut off"},
		"cut off early":       {good[:30], 0, "cut off"},
		"too many bytes":      {good, MostBytes + 1, "41 MB"},
		"a bomb":              {bomb, 0, "too many pixels"},
		"a PNG that lies":     {wide, 0, "cut off"},
		"a JPEG and an end":   {[]byte("\xff\xd8\xff\xd9 and nothing of what a picture has"), 0, "cut off"},
		"a RIFF without webp": {[]byte("RIFF\x10\x00\x00\x00WAVEfmt "), 0, "no photo"},
		"a WebP of nothing":   {[]byte("RIFF\x10\x00\x00\x00WEBPVP8 \x00\x00\x00\x00"), 0, "cut off"},
	} {
		size := tt.size
		if size == 0 {
			size = int64(len(tt.content))
		}
		_, err := Take(bytes.NewReader(tt.content), size)
		require.Error(t, err, name)
		require.Contains(t, apperr.Fields(err)["photo"], tt.says, name)
	}
}

// Files of a few kilobytes that would take all memory, or hours, were they decoded
// as they say.
func TestSmallFilesThatCostMuch(t *testing.T) {
	var b bytes.Buffer
	require.NoError(t, png.Encode(&b, image.NewGray(image.Rect(0, 0, 8_000_000, 1))))
	p := take(t, b.Bytes())
	require.Equal(t, [2]int{fullSide, 1}, [2]int{p.Width, p.Height}, "one row of pixels")

	good := asJPEG(t, redTop(60, 40))
	at := bytes.Index(good, []byte("\xff\xda"))
	scan := append([]byte{}, good[at:len(good)-2]...)
	often := append(append([]byte{}, good[:at]...), bytes.Repeat(scan, mostScans+1)...)
	_, _, err := measureJPEG(bytes.NewReader(append(often, good[len(good)-2:]...)))
	require.ErrorIs(t, err, errTooOften)

	plain, _, err := measureJPEG(bytes.NewReader(good))
	require.NoError(t, err)
	late := append(append([]byte{}, good[:len(good)-2]...), "\xff\xee\x00\x0eAdobe\x00\x64\x00\x00\x00\x00\x00\xff\xd9"...)
	cost, _, err := measureJPEG(bytes.NewReader(late))
	require.NoError(t, err)
	require.Equal(t, plain+4*60*40, cost, "how colours are stored, said at the end")
}

func TestCostOfAFrame(t *testing.T) {
	frame := func(wide, high uint16, parts ...byte) []byte {
		f := []byte{8, byte(high >> 8), byte(high), byte(wide >> 8), byte(wide), byte(len(parts))}
		for i, sampling := range parts {
			f = append(f, byte(i+1), sampling, 0)
		}
		return f
	}
	for _, tt := range []struct {
		frame         []byte
		passes, adobe bool
		want          int64
	}{
		{frame(4000, 3000, 0x22, 0x11, 0x11), false, false, 18_000_000},
		{frame(4000, 3000, 0x22, 0x11, 0x11), true, false, 90_000_000},
		{frame(4000, 3000, 0x11, 0x11, 0x11), false, true, 36_000_000 + 48_000_000},
		{frame(100, 100, 0x11), false, false, 10_000},
		{[]byte{8, 0, 100, 0, 100, 3, 'R', 0x11, 0, 'G', 0x11, 0, 'B', 0x11, 0}, false, false, 30_000 + 40_000},
	} {
		cost, err := frameCost(tt.frame, tt.passes, tt.adobe)
		require.NoError(t, err)
		require.Equal(t, tt.want, cost)
	}
	for _, bad := range [][]byte{nil, {8, 0, 1, 0, 1, 3}, frame(0, 10, 0x11), frame(10, 10), frame(10, 10, 0x00)} {
		_, err := frameCost(bad, false, false)
		require.Error(t, err, "%v", bad)
	}
}

func FuzzTake(f *testing.F) {
	good := asJPEG(f, redTop(12, 8))
	f.Add(good)
	f.Add(withEXIF(good, 6))
	var b bytes.Buffer
	require.NoError(f, png.Encode(&b, redTop(4, 4)))
	f.Add(b.Bytes())
	f.Add([]byte("RIFF\x10\x00\x00\x00WEBPVP8 \x00\x00\x00\x00"))
	f.Fuzz(func(t *testing.T, content []byte) {
		if k, ok := kindOf(content); ok {
			// What a picture of many pixels costs is known before; here it only takes time.
			if cost, _, err := k.measure(bytes.NewReader(content)); err == nil && cost > 1<<20 {
				return
			}
		}
		p, err := Take(bytes.NewReader(content), int64(len(content)))
		if err != nil {
			require.NotNil(t, apperr.As(err), "%v", err)
			return
		}
		for _, kept := range [][]byte{p.Full, p.Small} {
			_, err := jpeg.DecodeConfig(bytes.NewReader(kept))
			require.NoError(t, err)
		}
	})
}
