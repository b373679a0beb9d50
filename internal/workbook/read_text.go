package workbook

import (
	"bytes"
	"fmt"
	"slices"
	"strings"
	letter "unicode"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"
)

// decode turns a text file into UTF-8: with or without a byte order mark,
// UTF-16 with one (what some spreadsheets call Unicode text), else Windows-1252,
// which is a guess: nothing in such a file says what its letters are.
func decode(content []byte) (text string, guessed bool, err error) {
	if text, err = decodeSure(content); text != "" || err != nil {
		return text, false, err
	}
	letters, err := charmap.Windows1252.NewDecoder().Bytes(content)
	if err != nil {
		return "", false, fmt.Errorf("read Windows-1252: %w", err)
	}
	text, err = plain(content, letters)
	return text, true, err
}

// guessNote asks a person to look at some words of a file whose letters were guessed.
func guessNote(text string) string {
	var odd []string
	for word := range strings.FieldsFuncSeq(text, func(r rune) bool { return !letter.IsLetter(r) && !letter.IsMark(r) && r != '\'' && r != '-' }) {
		beyond := strings.IndexFunc(word, func(r rune) bool { return r >= utf8.RuneSelf }) >= 0
		if beyond && utf8.RuneCountInString(word) > 1 && !slices.Contains(odd, word) {
			odd = append(odd, short(word, 30))
		}
		if len(odd) == 3 {
			break
		}
	}
	look := "letters such as ä and é"
	if len(odd) > 0 {
		look = strings.Join(odd, ", ")
	}
	return "The file does not say how its letters are written, so they were read as Windows-1252. Look at " + look + ": if that is wrong, save the file as CSV in UTF-8 and bring it again."
}

// decodeSure reads what says itself how its letters are written; no text where nothing does.
func decodeSure(content []byte) (string, error) {
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
	return "", nil
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
