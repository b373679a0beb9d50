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
	text, err := charmap.Windows1252.NewDecoder().Bytes(content)
	if err != nil {
		return "", fmt.Errorf("read Windows-1252: %w", err)
	}
	return plain(content, text)
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
