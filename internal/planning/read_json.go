package planning

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"unicode/utf8"

	"boltward/internal/apperr"
)

// decode reads one JSON value, and nothing after it. Some editors put a byte order mark before
// UTF-8; it says nothing and is passed over.
func decode(r io.Reader, into any) error {
	data, err := io.ReadAll(r)
	if err != nil {
		return apperr.Invalid("", "the file cannot be read: %v", err)
	}
	if bytes.HasPrefix(data, []byte("\xff\xfe")) || bytes.HasPrefix(data, []byte("\xfe\xff")) {
		return apperr.Invalid("", "the file is in UTF-16; save it as UTF-8")
	}
	data = bytes.TrimPrefix(data, []byte("\ufeff"))
	d := json.NewDecoder(bytes.NewReader(data))
	d.UseNumber()
	err = d.Decode(into)
	var syntax *json.SyntaxError
	var kind *json.UnmarshalTypeError
	switch {
	case err == nil:
	case errors.Is(err, io.EOF), errors.Is(err, io.ErrUnexpectedEOF):
		return apperr.Invalid("", "the file ends too early: it is empty or cut off")
	case errors.As(err, &syntax):
		return apperr.Invalid("", "not a JSON file: %v at %s", syntax, placeOf(data, syntax.Offset-1))
	case errors.As(err, &kind):
		return apperr.Invalid(kind.Field, "a %s does not belong here", kind.Value)
	default:
		return apperr.Invalid("", "the file cannot be read: %v", err)
	}
	end := d.InputOffset()
	if _, err := d.Token(); !errors.Is(err, io.EOF) {
		after := bytes.TrimLeft(data[end:], " \t\r\n")
		return apperr.Invalid("", "something follows after the end of the JSON object, at %s", placeOf(data, int64(len(data)-len(after))))
	}
	return nil
}

// placeOf says where in a text a byte stands, as editors count: lines and letters from 1.
func placeOf(text []byte, at int64) string {
	before := text[:min(max(at, 0), int64(len(text)))]
	start := bytes.LastIndexByte(before, '\n') + 1
	return fmt.Sprintf("line %d, letter %d", bytes.Count(before, []byte("\n"))+1, utf8.RuneCount(before[start:])+1)
}

// short gives what somebody typed as a message can hold it.
func short(s string) string {
	const most = 40
	if len(s) <= most {
		return s
	}
	at := most
	for !utf8.RuneStart(s[at]) {
		at--
	}
	return s[:at] + "…"
}
