package words

// LetterFacts is what a letter of thanks speaks about. Days are text, written for
// whoever reads them. It holds no value of a gift, and neither does the letter.
type LetterFacts struct {
	Drive      string
	Name       string // of the donor
	On         string // the day the gift came in
	Gave       []string
	InPlan     int // pillowcases its fabric is in so far
	Delivered  int // of them on wards
	Law        Law
	InReturn   string // what the donor was given for it; empty: nothing
	Registered string // the charity's number
	SignedBy   string
}

// Law is the law of gifts that a letter is worded for.
type Law string

// The laws, as in package drive.
const (
	NoLaw  Law = "plain"
	US     Law = "US"
	Canada Law = "Canada"
	UK     Law = "UK"
)

// Letter is what a letter of thanks says.
type Letter struct {
	Lang     string
	Subject  string
	Greeting string
	Body     []string // paragraphs before what was given
	Gave     []string // what was given, a line a lot
	After    []string // paragraphs after it
	Closing  string
	SignedBy string
	Law      []string // small print
}

// Letter writes a letter of thanks.
func (l Language) Letter(f LetterFacts) Letter { return l.letter(f) }

// Text is the letter as plain text, for an e-mail.
func (l Letter) Text() string {
	text := l.Greeting + "\n\n"
	for _, p := range l.Body {
		text += p + "\n\n"
	}
	for _, line := range l.Gave {
		text += "- " + line + "\n"
	}
	text += "\n"
	for _, p := range l.After {
		text += p + "\n\n"
	}
	text += l.Closing + "\n" + l.SignedBy + "\n"
	for _, p := range l.Law {
		text += "\n" + p + "\n"
	}
	return text
}
