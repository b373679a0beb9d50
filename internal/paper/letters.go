package paper

import (
	"io"
	"slices"
	"strings"
	"time"

	"boltward/internal/drive"
	"boltward/internal/length"
	"boltward/internal/words"
)

// Post is a letter with where it goes.
type Post struct {
	words.Letter
	To  string // name and address, a line each; the name alone where it is handed over
	Day string // of the letter
}

// How a letter is set.
var (
	letterBody   = text{points: 11}
	letterSmall  = text{points: 9}
	letterMargin = 25 * length.Millimetre
	windowRoom   = 80 * length.Millimetre // how wide an address may be
	windowHigh   = 35 * length.Millimetre
)

// Letters draws letters, each beginning on a sheet of its own, the address where
// the window of the envelope shows it.
func Letters(w io.Writer, title string, rules drive.LetterRules, letters []Post, at time.Time) error {
	d, err := newDocument(title, at)
	if err != nil {
		return err
	}
	for _, l := range letters {
		d.letter(rules, l)
	}
	return d.write(w)
}

// letterSheet is where the next line of a letter goes.
type letterSheet struct {
	*document
	rules        drive.LetterRules
	left, right  float64
	y, bottom    float64
	paperW, high length.Length
}

func (d *document) letter(rules drive.LetterRules, l Post) {
	s := &letterSheet{document: d, rules: rules, left: mm(letterMargin)}
	s.paperW, s.high = rules.Size()
	s.right, s.bottom = mm(s.paperW)-mm(letterMargin), mm(s.high)-mm(20*length.Millimetre)
	s.begin()
	d.pdf.SetTextColor(0, 0, 0)

	// Above the window: who writes, on the right, clear of it.
	y := mm(15 * length.Millimetre)
	for i, line := range strings.Split(rules.Sender, "\n") {
		t := letterSmall
		if i == 0 {
			t = text{points: 11, bold: true}
		}
		y += t.line()
		line = d.fitted(t, line, mm(s.paperW)/2)
		d.say(s.right-d.width(t, line), y, t, line)
	}

	y = mm(rules.WindowTop)
	t, lines := d.address(l.To)
	for _, line := range lines {
		y += t.line()
		d.say(mm(rules.WindowLeft), y, t, line)
	}

	// The letter itself begins under the usual window's lower edge.
	s.y = max(y, mm(rules.WindowTop)+mm(windowHigh)) + 6
	s.paragraph(letterBody, l.Day)
	s.paragraph(text{points: 11, bold: true}, l.Subject)
	s.paragraph(letterBody, l.Greeting)
	for _, p := range l.Body {
		s.paragraph(letterBody, p)
	}
	for _, line := range l.Gave {
		s.item(line)
	}
	s.y += 3
	for _, p := range l.After {
		s.paragraph(letterBody, p)
	}
	s.keep(4*letterBody.line() + 12)
	s.paragraph(letterBody, l.Closing)
	s.y += 12 // room to sign
	s.paragraph(letterBody, l.SignedBy)
	s.y += 3
	for _, p := range l.Law {
		s.paragraph(letterSmall, p)
	}
}

// address gives the lines of an address, whole: what is too long for the window goes on
// below, and is smaller where it would be too high.
func (d *document) address(to string) (text, []string) {
	for t := letterBody; ; t.points -= 0.5 {
		lines := slices.DeleteFunc(d.wrapped(t, to, mm(windowRoom)), func(line string) bool { return line == "" })
		if float64(len(lines))*t.line() <= mm(windowHigh) || t.points <= 7 {
			return t, lines
		}
	}
}

func (s *letterSheet) begin() {
	s.sheet(s.paperW, s.high)
	s.y = mm(20 * length.Millimetre)
}

// keep goes on to the next sheet where less than this is left.
func (s *letterSheet) keep(height float64) {
	if s.y+height > s.bottom {
		s.begin()
	}
}

func (s *letterSheet) paragraph(t text, words string) {
	for _, line := range s.wrapped(t, words, s.right-s.left) {
		s.line(t, s.left, line)
	}
	s.y += t.line() * 0.6
}

// item is one line of what was given, with a dash before it.
func (s *letterSheet) item(words string) {
	for i, line := range s.wrapped(letterBody, words, s.right-s.left-6) {
		s.keep(letterBody.line())
		if i == 0 {
			s.say(s.left, s.y+letterBody.line(), letterBody, "–")
		}
		s.line(letterBody, s.left+6, line)
	}
}

func (s *letterSheet) line(t text, x float64, words string) {
	s.keep(t.line())
	s.y += t.line()
	s.say(x, s.y, t, words)
}
