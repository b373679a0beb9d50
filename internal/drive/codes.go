package drive

import (
	"regexp"
	"strings"

	"boltward/internal/apperr"
)

// CodeKind is what a label's code opens.
type CodeKind string

// The kinds of labels. A bare number may be of any.
const (
	CodeLot   CodeKind = "lot"
	CodePiece CodeKind = "piece"
	CodeTag   CodeKind = "tag" // a tag that was printed before it hung on anything
	CodeSheet CodeKind = "sheet"
	CodeKit   CodeKind = "kit"
	CodeBox   CodeKind = "box"
	CodeBare  CodeKind = ""

	CodeDelivery CodeKind = "delivery" // the note that goes with boxes
)

// Code is what a scanner read off a label, or what somebody typed in its place.
type Code struct {
	Base   string // the address it begins with, such as https://drive.example.org; empty where it was typed
	Drive  string // empty where it was typed
	Kind   CodeKind
	Number string // as printed: 42, 42-3 for a piece, 107-2 for a kit, 17-2 for a sheet's second revision, any text of a tag
}

// The numbers that may stand on labels, and what a whole code looks like.
var (
	oneNumber   = regexp.MustCompile(`^[1-9][0-9]{0,9}$`)
	twoNumbers  = regexp.MustCompile(`^[1-9][0-9]{0,9}-[1-9][0-9]{0,4}$`)
	pieceTyped  = regexp.MustCompile(`^([1-9][0-9]{0,9})/([1-9][0-9]{0,4})$`)
	wordsTyped  = regexp.MustCompile(`(?i)^(lot|piece|tag|sheet|kit|box|delivery)\s+(?:no\.?\s*)?(\S.*)$`)
	driveInCode = regexp.MustCompile(`^[a-z0-9](-?[a-z0-9]){1,39}$`)
)

// ReadCode reads a label's code: the address its QR code holds, or a number as it
// stands beside it, with the word before it or without. What is no label of ours,
// or only a part of one, is an invalid "code" that says what to do.
func ReadCode(typed string) (Code, error) {
	typed = strings.Join(strings.Fields(typed), " ")
	switch {
	case typed == "":
		return Code{}, apperr.Invalid("code", "Scan a label, or type the number that stands beside its code.")
	case len(typed) > 1000:
		return Code{}, apperr.Invalid("code", "That is far longer than any label's code. Type the number that stands beside the code.")
	}
	if at := strings.LastIndex(typed, "/l/"); at >= 0 {
		return readAddress(typed[:at], typed[at+len("/l/"):])
	}
	if strings.HasPrefix(strings.ToLower(typed), "http") {
		if !strings.Contains(typed, "://") {
			return Code{}, apperr.Invalid("code", "The code came in garbled: the scanner types for another keyboard than this one. Set its keyboard layout, or type the number that stands beside the code.")
		}
		return Code{}, apperr.Invalid("code", "This is no label of this program, or only a part of one: it says %s. Type the number that stands beside the code.", shortened(typed))
	}
	if m := pieceTyped.FindStringSubmatch(typed); m != nil {
		return Code{Kind: CodePiece, Number: m[1] + "-" + m[2]}, nil
	}
	if m := wordsTyped.FindStringSubmatch(typed); m != nil {
		c := Code{Kind: CodeKind(strings.ToLower(m[1])), Number: strings.ReplaceAll(m[2], "/", "-")}
		return c, c.check()
	}
	return Code{Number: typed}, nil
}

func readAddress(base, rest string) (Code, error) {
	parts := strings.Split(rest, "/")
	if len(parts) < 3 {
		return Code{}, torn(base + "/l/" + rest)
	}
	c := Code{Base: strings.TrimSuffix(base, "/"), Drive: parts[0], Kind: CodeKind(parts[1]), Number: parts[2]}
	if len(parts) > 3 || !driveInCode.MatchString(c.Drive) {
		return Code{}, torn(base + "/l/" + rest)
	}
	return c, c.check()
}

// check refuses a number that its kind cannot have.
func (c Code) check() error {
	ok := false
	switch c.Kind {
	case CodeLot, CodeBox, CodeDelivery:
		ok = oneNumber.MatchString(c.Number)
	case CodePiece:
		ok = twoNumbers.MatchString(c.Number)
	case CodeKit, CodeSheet:
		ok = oneNumber.MatchString(c.Number) || twoNumbers.MatchString(c.Number)
	case CodeTag:
		ok = c.Number != "" && len(c.Number) <= 200
	}
	if !ok {
		return torn(string(c.Kind) + " " + c.Number)
	}
	return nil
}

func torn(said string) error {
	return apperr.Invalid("code", "The code is not whole: all it says is %s. Type the number that stands beside it in large type.", shortened(said))
}

// shortened quotes what was scanned, no more of it than a line takes.
func shortened(text string) string {
	letters := []rune(text)
	if len(letters) > 80 {
		letters = append(letters[:80], '…')
	}
	return "“" + string(letters) + "”"
}
