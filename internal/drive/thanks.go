package drive

import (
	"fmt"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"boltward/internal/apperr"
	"boltward/internal/length"
)

// LetterRules is how a drive thanks by letter.
type LetterRules struct {
	Wording    string        `db:"wording"`
	Paper      string        `db:"paper"`
	Sender     string        `db:"sender"`     // name and address, a line each
	SignedBy   string        `db:"signed_by"`  // who signs
	InReturn   string        `db:"in_return"`  // what donors were given for their gift; empty: nothing
	Registered string        `db:"registered"` // the charity's number, where it has one
	WindowLeft length.Length `db:"window_left"`
	WindowTop  length.Length `db:"window_top"` // where the window of the envelope lies on the letter
	Version    int           `db:"version"`    // 0: the rules nobody set yet
}

// The wordings, each after the law it speaks of, and the papers.
const (
	WordingPlain  = "plain"
	WordingUS     = "US"
	WordingCanada = "Canada"
	WordingUK     = "UK"
	PaperA4       = "A4"
	PaperLetter   = "Letter"
)

// Wordings and LetterPapers list what a form offers.
func Wordings() []string     { return []string{WordingPlain, WordingUS, WordingCanada, WordingUK} }
func LetterPapers() []string { return []string{PaperA4, PaperLetter} }

// LetterRules gives the rules that a drive begins with: a plain letter without
// a word on tax, on the paper of its custom.
func (d Drive) LetterRules() LetterRules {
	r := LetterRules{Wording: WordingPlain, Paper: PaperA4, Sender: d.Name}
	if d.LetterPaper() {
		r.Paper = PaperLetter
	}
	r.WindowLeft, r.WindowTop = r.Window()
	return r
}

// Window is where the address goes for the usual envelopes of the rules' paper:
// 25 mm and 50 mm into A4, 1 in and 2 1/8 in into Letter (common practice, from
// memory; people may move it).
func (r LetterRules) Window() (left, top length.Length) {
	if r.Paper == PaperLetter {
		return length.Inch, 17 * length.Inch / 8
	}
	return 25 * length.Millimetre, 50 * length.Millimetre
}

// Size is the paper's (ISO 216 A4; ANSI/ASME Y14.1 A, called Letter).
func (r LetterRules) Size() (width, height length.Length) {
	if r.Paper == PaperLetter {
		return 17 * length.Inch / 2, 11 * length.Inch
	}
	return 210 * length.Millimetre, 297 * length.Millimetre
}

// Tidy gives the rules without stray spaces.
func (r LetterRules) Tidy() LetterRules {
	var lines []string
	for _, line := range strings.Split(r.Sender, "\n") {
		if line = strings.Join(strings.Fields(line), " "); line != "" {
			lines = append(lines, line)
		}
	}
	r.Sender = strings.Join(lines, "\n")
	for _, text := range []*string{&r.SignedBy, &r.InReturn, &r.Registered} {
		*text = strings.Join(strings.Fields(*text), " ")
	}
	return r
}

// Check says what is wrong with the rules by field.
func (r LetterRules) Check() error {
	var bad []apperr.Field
	add := func(field, why string) { bad = append(bad, apperr.Field{Name: field, Why: why}) }
	if !slices.Contains(Wordings(), r.Wording) {
		add("wording", "Choose a wording from the list.")
	}
	if !slices.Contains(LetterPapers(), r.Paper) {
		add("paper", "Choose A4 or Letter.")
	}
	if lines := strings.Count(r.Sender, "\n") + 1; lines > 6 || utf8.RuneCountInString(r.Sender) > 300 {
		add("sender", "Keep it to six lines: the name and the address.")
	}
	for field, text := range map[string]string{"signed_by": r.SignedBy, "in_return": r.InReturn, "registered": r.Registered} {
		if utf8.RuneCountInString(text) > 200 {
			add(field, "Keep it to 200 characters.")
		}
	}
	if r.WindowLeft < 10*length.Millimetre || r.WindowLeft > 110*length.Millimetre {
		add("window_left", "The window begins 1 cm to 11 cm from the left edge.")
	}
	if r.WindowTop < 25*length.Millimetre || r.WindowTop > 80*length.Millimetre {
		add("window_top", "The window begins 2.5 cm to 8 cm from the top edge.")
	}
	return apperr.InvalidFields(bad)
}

// GiftOf names a gift: what one donor brought on one day.
type GiftOf struct {
	Donor int64     `db:"donor"`
	On    time.Time `db:"gift_on"`
}

// String is the gift as a form sends it.
func (g GiftOf) String() string { return fmt.Sprintf("%d@%s", g.Donor, g.On.Format(time.DateOnly)) }

// ParseGift reads what String writes; anything else is an invalid "gift".
func ParseGift(typed string) (GiftOf, error) {
	donor, on, _ := strings.Cut(typed, "@")
	day, err := time.Parse(time.DateOnly, on)
	number := plainNumber(donor)
	if err != nil || number == 0 {
		return GiftOf{}, apperr.Invalid("gift", "%q is no gift. Open the page again and send it from there.", shortened(typed))
	}
	return GiftOf{number, day}, nil
}

// The ways somebody was thanked.
const (
	ThankedByLetter   = "letter"
	ThankedByMail     = "e-mail"
	ThankedByWords    = "in person"
	mostThanksAtATime = 1000
)

// CheckThanks says what is wrong with a noting of thanks.
func CheckThanks(gifts []GiftOf, way string) error {
	switch {
	case len(gifts) == 0:
		return apperr.Invalid("gift", "Choose whom you thanked.")
	case len(gifts) > mostThanksAtATime:
		return apperr.Invalid("gift", "Note up to %d at a time.", mostThanksAtATime)
	case way != ThankedByLetter && way != ThankedByMail && way != ThankedByWords:
		return apperr.Invalid("way", "Say how they were thanked: by letter, by e-mail or in person.")
	}
	return nil
}

// Week gives the Monday of a day's week (ISO 8601).
func Week(day time.Time) time.Time {
	return day.AddDate(0, 0, -(int(day.Weekday())+6)%7)
}

// Describe says what a lot was when it was given, for a letter: how many pieces of
// what, and their size where it was measured. It holds no value.
func (l Lot) Describe(d Drive) string {
	what := l.Kind
	if what == "" {
		what = "fabric"
		if l.Weight != "" {
			what = l.Weight
			if l.Fibre != "" && l.Fibre != FibreNotSure {
				what += " " + l.Fibre
			}
		}
	}
	pieces := "1 piece"
	if l.PiecesCounted() != 1 {
		pieces = fmt.Sprintf("%d pieces", l.PiecesCounted())
	}
	text := pieces + " of " + what
	if len(l.Colours) > 0 {
		text += ", " + strings.ToLower(strings.Join(l.Colours, " and "))
	}
	if l.Measured() {
		size := AsMeasured(*l.RawLength, d.Yardage()) + " long and " + AsMeasured(*l.RawWidth, d.Unit) + " wide"
		if l.PiecesCounted() != 1 {
			size = "the first " + size
		}
		text += ", " + size
	}
	return text
}
