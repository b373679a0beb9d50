package main

import (
	"archive/zip"
	"bytes"
	"compress/flate"
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"io"
	"mime/multipart"
	"net/http"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// bombMemory is the most MiB that the program may take while it is sent all of these, one
// after the other: reading a spreadsheet may hold 300 of them (workbook), a photo 320 (photo).
const bombMemory = 450.0

// bomb is a file made to break what takes it.
type bomb struct {
	name    string // of the file
	content func(*testing.T) []byte
	code    int
	says    string
}

// Files made to break what reads them are sent to each upload of the real program: each is
// refused in words, with one line in the log, its memory stays within bounds, and nothing
// of them stays on the disk or in the database.
func TestUploadBombs(t *testing.T) {
	set, db := withDatabase(t)
	temporary := t.TempDir()
	set["TMPDIR"] = temporary
	p := serving(t, set)
	peak := peakOf(p)
	h := newPlain(t, p.address)
	organiser(t, h, p)
	startDrive(t, h, "Harbour pillowcases")
	h.open(home + "/fabric/tag")
	h.fill("Given by", "The bolt shop")
	press(t, h, "Tag it, then the next")

	tables, photos := tableBombs(), photoBombs()
	for _, up := range []struct {
		path, field string
		bombs       map[string]bomb
	}{
		{home + "/books/in", "file", tables},
		{home + "/fabric/tag", "photo", photos},
		{home + "/fabric/1/photo", "photo", photos},
	} {
		for name, b := range up.bombs {
			before := strings.Count(p.errs.String(), `"status":413`)
			whole := h.upload(up.path, up.field, b.name, b.content(t))
			if b.code == http.StatusRequestEntityTooLarge {
				// The rest is not waited for: whoever still sends may find the connection closed
				// before they read the answer.
				p.until(name+" is refused", func() bool { return strings.Count(p.errs.String(), `"status":413`) == before+1 })
			}
			if !whole {
				require.Equal(t, http.StatusRequestEntityTooLarge, b.code, name)
				continue
			}
			require.Equal(t, b.code, h.code, "%s to %s: %s", name, up.path, h.page().says())
			require.Contains(t, h.page().says(), b.says, "%s to %s", name, up.path)
			number := h.header.Get("X-Request-Id")
			p.until("the request is logged", func() bool { return strings.Contains(p.errs.String(), number) })
			require.Equal(t, 1, strings.Count(p.errs.String(), number), "one line for %s: %s", name, p.errs.String())
			require.NotContains(t, p.errs.String(), `"level":"ERROR"`)
			p.until("nothing of "+name+" is left in the temporary folder", func() bool {
				left, err := os.ReadDir(temporary)
				return err == nil && len(left) == 0
			})
		}
	}
	var uploads, kept, lots int
	require.NoError(t, db.Owner().QueryRow(t.Context(), `SELECT (SELECT count(*) FROM uploads), (SELECT count(*) FROM photos), (SELECT count(*) FROM lots)`).Scan(&uploads, &kept, &lots))
	require.Equal(t, []int{0, 0, 1}, []int{uploads, kept, lots}, "nothing of them is kept")
	h.open(home + "/fabric/1")
	require.Equal(t, http.StatusOK, h.code, "and the program goes on")
	p.stop()
	most := peak()
	t.Logf("%.0f MiB at most", most)
	require.Less(t, most, bombMemory)
}

// upload sends a form with a file, as no page would; it gives false where the connection was
// closed meanwhile.
func (p *plain) upload(path, field, name string, content []byte) bool {
	p.t.Helper()
	var body bytes.Buffer
	w := multipart.NewWriter(&body)
	for _, pair := range [][2]string{{"once", fmt.Sprintf("a-bomb-%d-%s", len(content), name)}, {"kind", "fabric"}, {"pieces", "1"}, {"version", "1"}} {
		require.NoError(p.t, w.WriteField(pair[0], pair[1]))
	}
	part, err := w.CreateFormFile(field, name)
	require.NoError(p.t, err)
	_, err = part.Write(content)
	require.NoError(p.t, err)
	require.NoError(p.t, w.Close())
	to, err := p.at.Parse(path)
	require.NoError(p.t, err)
	request, err := http.NewRequest(http.MethodPost, to.String(), &body)
	require.NoError(p.t, err)
	request.Header.Set("Content-Type", w.FormDataContentType())
	request.Header.Set("Sec-Fetch-Site", "same-origin")
	p.body, p.code = nil, 0
	answer, err := p.client.Do(request)
	if err != nil {
		return false
	}
	p.code, p.header = answer.StatusCode, answer.Header
	p.body, err = io.ReadAll(answer.Body)
	if errors.Join(err, answer.Body.Close()) != nil {
		return false
	}
	p.shown = readPage(p.t, string(p.body))
	return true
}

func tableBombs() map[string]bomb {
	plainly := func(content []byte) func(*testing.T) []byte { return func(*testing.T) []byte { return content } }
	line := strings.Repeat("a", 9<<20)
	return map[string]bomb{
		"three gibibytes, and says so":           {"list.xlsx", func(t *testing.T) []byte { return gibibytes(t, 3<<30) }, 422, "unpacks to more than 64 MiB"},
		"three gibibytes that say they are one":  {"list.xlsx", func(t *testing.T) []byte { return gibibytes(t, 1<<10) }, 422, "The file"},
		"a hundred thousand entries":             {"list.xlsx", manyEntries, 422, "damaged or is no spreadsheet"},
		"one cell of nine mebibytes":             {"list.csv", plainly([]byte("Code,Yardage\n" + line)), 422, "32,767 characters"},
		"one line of commas":                     {"list.csv", plainly(bytes.Repeat([]byte("a,"), 4<<20)), 422, "200 columns"},
		"one quote that never closes":            {"list.csv", plainly([]byte("Code\n\"" + line)), 422, "never closed"},
		"a picture called a spreadsheet":         {"list.xlsx", plainly(hugePNG(60_000, 60_000)), 422, "This is a picture"},
		"a program called a list":                {"list.csv", plainly(append([]byte("\x7fELF\x02\x01\x01\x00"), make([]byte, 4096)...)), 422, "no spreadsheet"},
		"a PDF called a list":                    {"list.csv", plainly([]byte("%PDF-1.7\n%\xe2\xe3\xcf\xd3\n1 0 obj\n")), 422, "PDF"},
		"forty mebibytes, where ten are read":    {"list.csv", plainly(make([]byte, 40<<20)), 413, ""},
		"a name that climbs out of every folder": {"../../../../etc/passwd\x00.csv", plainly([]byte("\x00\x00\x00")), 422, ""},
	}
}

func photoBombs() map[string]bomb {
	plainly := func(content []byte) func(*testing.T) []byte { return func(*testing.T) []byte { return content } }
	return map[string]bomb{
		"a PNG of 60,000 × 60,000":       {"photo.png", plainly(hugePNG(60_000, 60_000)), 422, "too many pixels"},
		"a PNG of 2,000,000,000 squared": {"photo.png", plainly(hugePNG(2_000_000_000, 2_000_000_000)), 422, "photo"},
		"a JPEG of 60,000 × 60,000":      {"photo.jpg", plainly(hugeJPEG(60_000)), 422, "photo"},
		"a page called a photo":          {"photo.jpg", plainly([]byte("<html><script>alert(311)</script></html>")), 422, "This is no photo"},
		"a drawing with a script":        {"photo.svg", plainly([]byte(`<svg xmlns="http://www.w3.org/2000/svg" onload="alert(311)"/>`)), 422, "This is no photo"},
		"a zip called a photo":           {"photo.jpg", func(t *testing.T) []byte { return gibibytes(t, 1<<30) }, 422, "This is no photo"},
		"a film called a photo":          {"photo.jpg", plainly([]byte("\x00\x00\x00\x20ftypisom\x00\x00\x02\x00")), 422, "film"},
		"nothing at all":                 {"photo.jpg", plainly(nil), 422, "empty"},
		"sixty mebibytes":                {"photo.jpg", plainly(append([]byte("\xff\xd8\xff"), make([]byte, 60<<20)...)), 422, "up to 40 MB"},
		"a hundred and ten mebibytes":    {"photo.jpg", plainly(make([]byte, 110<<20)), 413, ""},
	}
}

// gibibytes gives a spreadsheet of a few mebibytes whose one sheet unpacks to three
// gibibytes; of its size it says what is asked.
func gibibytes(t *testing.T, says uint64) []byte {
	t.Helper()
	var packed bytes.Buffer
	w, err := flate.NewWriter(&packed, flate.BestCompression)
	require.NoError(t, err)
	_, err = w.Write(bytes.Repeat([]byte("<row/>  "), 1<<17))
	require.NoError(t, err)
	require.NoError(t, w.Flush()) // it ends at a byte, and refers to nothing before it
	mebibyte := packed.Bytes()
	var body bytes.Buffer
	for range 3 << 10 {
		body.Write(mebibyte)
	}
	body.Write([]byte{3, 0}) // the last block, and an empty one
	var file bytes.Buffer
	z := zip.NewWriter(&file)
	for _, name := range []string{"[Content_Types].xml", "xl/workbook.xml", "xl/_rels/workbook.xml.rels"} {
		part, err := z.Create(name)
		require.NoError(t, err)
		_, err = io.WriteString(part, map[string]string{
			"[Content_Types].xml":        `<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types"/>`,
			"xl/workbook.xml":            `<workbook xmlns:r="http://schemas.openxmlformats.org/officeDocument/2006/relationships"><sheets><sheet name="a" sheetId="1" r:id="r1"/></sheets></workbook>`,
			"xl/_rels/workbook.xml.rels": `<Relationships><Relationship Id="r1" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/worksheet" Target="worksheets/sheet1.xml"/></Relationships>`,
		}[name])
		require.NoError(t, err)
	}
	part, err := z.CreateRaw(&zip.FileHeader{Name: "xl/worksheets/sheet1.xml", Method: zip.Deflate, CompressedSize64: uint64(body.Len()), UncompressedSize64: says})
	require.NoError(t, err)
	_, err = part.Write(body.Bytes())
	require.NoError(t, err)
	require.NoError(t, z.Close())
	require.Less(t, file.Len(), 10<<20, "small enough to be let in")
	return file.Bytes()
}

// manyEntries gives a zip of a hundred thousand empty files.
func manyEntries(t *testing.T) []byte {
	t.Helper()
	var file bytes.Buffer
	z := zip.NewWriter(&file)
	for i := range 100_000 {
		_, err := z.CreateRaw(&zip.FileHeader{Name: fmt.Sprintf("%05x", i), Method: zip.Store})
		require.NoError(t, err)
	}
	require.NoError(t, z.Close())
	require.Less(t, file.Len(), 10<<20)
	return file.Bytes()
}

// hugePNG gives a picture that says it is this large and holds next to nothing.
func hugePNG(width, height uint32) []byte {
	head := binary.BigEndian.AppendUint32(binary.BigEndian.AppendUint32([]byte("IHDR"), width), height)
	head = append(head, 8, 2, 0, 0, 0)
	file := []byte("\x89PNG\r\n\x1a\n")
	for _, chunk := range [][]byte{head, []byte("IDATx\x9c\x01\x00"), []byte("IEND")} {
		file = binary.BigEndian.AppendUint32(file, uint32(len(chunk)-4))
		file = binary.BigEndian.AppendUint32(append(file, chunk...), crc32.ChecksumIEEE(chunk))
	}
	return file
}

// hugeJPEG gives one that says it is square and this long, and breaks off.
func hugeJPEG(side uint16) []byte {
	frame := []byte{0xff, 0xd8, 0xff, 0xc0, 0, 17, 8, byte(side >> 8), byte(side), byte(side >> 8), byte(side), 3, 1, 0x22, 0, 2, 0x11, 1, 3, 0x11, 1}
	return append(frame, 0xff, 0xda, 0, 12, 3, 1, 0, 2, 0x11, 3, 0x11, 0, 63, 0)
}
