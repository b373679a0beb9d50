package workbook

import (
	"bytes"
	"fmt"
	"strings"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"
)

// decode turns a text file into UTF-8: with or without a byte order mark,
// UTF-16 with one (what some spreadsheets call Unicode text), else Windows-1252.
func decode(content []byte) (string, error) {
	switch {
	case bytes.HasPrefix(content, []byte("\xff\xfe")), bytes.HasPrefix(content, []byte("\xfe\xff")):
		text, err := unicode.UTF16(unicode.LittleEndian, unicode.ExpectBOM).NewDecoder().Bytes(content)
		if err != nil {
			return "", fmt.Errorf("read UTF-16: %w", err)
		}
		return plain(content, text)
	case bytes.HasPrefix(content, []byte("\xef\xbb\xbf")):
		content = content[3:]
	}
	if utf8.Valid(content) {
		return plain(content, content)
	}
	if breaksOff(content) {
		return "", refuse("The file breaks off in the middle of a letter, so the end of it is lost. Copy or save it once more.")
	}
	text, err := charmap.Windows1252.NewDecoder().Bytes(content)
	if err != nil {
		return "", fmt.Errorf("read Windows-1252: %w", err)
	}
	return plain(content, text)
}

// breaksOff says whether all of a text is UTF-8, with letters beyond ASCII among
// it, but the very end, where a letter lacks its last bytes.
func breaksOff(content []byte) bool {
	for i := 1; i <= 3 && i < len(content); i++ {
		whole, last := content[:len(content)-i], content[len(content)-i:]
		if utf8.RuneStart(last[0]) && last[0] >= 0xc2 && !utf8.FullRune(last) {
			return utf8.Valid(whole) && utf8.RuneCount(whole) < len(whole)
		}
	}
	return false
}

// plain refuses text that no keyboard makes: some other kind of file.
func plain(content, text []byte) (string, error) {
	odd := 0
	for _, b := range text {
		if b < ' ' && b != '\t' && b != '\r' && b != '\n' {
			odd++
		}
	}
	if bytes.IndexByte(text, 0) >= 0 || odd > len(text)/100 {
		return "", notText(content)
	}
	return strings.ToValidUTF8(string(text), "�"), nil
}
