// Package words holds every text that a volunteer or a ward reads, by language.
// Pages for those who run the drive are not here. A language is one file that
// fills a Language; lengths, days (by its Date) and names come in as text, written for whoever
// reads them, and nothing here measures or decides.
package words

import "time"

// Language writes texts for people in one language.
type Language struct {
	Tag     string // BCP 47, as for the lang attribute of a page
	card    func(CardFacts) Card
	label   func(CardFacts) Label
	letter  func(LetterFacts) Letter
	visit   func(VisitFacts) Visit
	fault   func(wrong string, cases int) string
	link    func(name, drive, address string) Message
	remind  func(ReminderFacts) Message
	stop    func() StopPage
	lessons func([]LessonFacts) []string
	box     func(BoxFacts) Label
	time    func(minutes int) string

	// Around is what stands around every page; Date writes a day.
	Around Around
	Date   func(day time.Time) string

	receive     func(ReceiveFacts) Receive
	slip        func(noted, said int) string
	boxOf       func(box int64, size string, noted int) string
	receiveLink func(name, drive, address string) Message
	note        func(NoteFacts) Note
}

// In gives the language of a tag, English where there is none of it.
func In(tag string) Language {
	for _, l := range Languages() {
		if l.Tag == tag {
			return l
		}
	}
	return english()
}

// Languages gives every language there is.
func Languages() []Language { return []Language{english()} }

// Time says about how long something takes, rounded up: to five minutes, from an hour on to a
// quarter of one.
func (l Language) Time(minutes int) string { return l.time(minutes) }

// Card writes the card that goes with a kit.
func (l Language) Card(f CardFacts) Card { return l.card(f) }

// CardFacts is what a kit's card speaks about. A length is text with its unit;
// one that does not apply is empty.
type CardFacts struct {
	Kit       string // as on its label: 107
	Cases     int
	Minutes   int // about how long sewing all of them takes; 0: not said
	Size      string
	Width     string // finished
	Length    string
	Opening   Opening
	Folded    bool // one body panel, folded, with one side seam; else a front and a back
	Accent    bool
	PiecedTop bool // a cuff or accent in two pieces round a folded body
	Join      string
	French    bool
	First     string // the seam at side and end
	Second    string // the second of a French seam
	Trim      string // what the first of a French seam is trimmed to
	HemTurn   string
	HemDepth  string
	Flap      string // depth
	KeepFree  string // how much of the cuff stays clear of the roll
	Panels    []PanelFacts
	OwnFabric bool     // the volunteer cuts their own cloth
	Washed    bool     // cloth is washed before it is cut; else it is cut larger
	Fibres    []string // the only ones the recipient takes
	For       string
	Rules     []string // of the recipient, in its own words
	Note      string
	Due       string // a day; empty: none agreed
	Drive     string
	Ask       string // whom to ask, with how to reach them; empty: nobody named
	Lessons   []LessonFacts
	OneWay    bool // a print of the kit has an up and a down
	OwnPage   bool // a code on the card opens the page of whoever has it
}

// LessonFacts is one fault that came up often at the checking table in the last
// thirty days, in N of Of pillowcases. Kind is as in package drive; Tell is the
// drive's own advice, empty where the language's own fits.
type LessonFacts struct {
	Kind  string
	Fault string
	Tell  string
	N, Of int
}

// Lessons writes what those who sew are told of what came up lately.
func (l Language) Lessons(f []LessonFacts) []string { return l.lessons(f) }

// PanelFacts is one kind of panel of one pillowcase.
type PanelFacts struct {
	Role   string // body, cuff or accent
	Pieces int    // in one pillowcase
	Around string
	Along  string
	Of     []FabricFacts // what they are cut from
}

// FabricFacts is one fabric that panels of a kit are cut from.
type FabricFacts struct {
	N    int // how many of them; 0: nobody knows
	Lot  int64
	Look string // empty: nobody said
}

// Opening is how the open end of a pillowcase is made.
type Opening string

// The openings, as in package sizing.
const (
	ByCuff Opening = "cuff"
	ByHem  Opening = "hem"
	ByFlap Opening = "flap"
)

// Card is what stands on a kit's card.
type Card struct {
	Lang         string
	Title        string
	From         string // the drive
	What         string // how many of what
	Due          string
	In           string   // heading of what is in the bag
	Contents     []string // to tick off
	Finished     string
	Steps        []Step
	StepsTitle   string
	Care         []string // cautions
	CareTitle    string
	Asks         []string // what the recipient asks for
	AsksTitle    string
	Back         []string // how it comes back
	BackTitle    string
	Matters      []string // what matters most with this kit
	MattersTitle string
	Lessons      []string // what came up at the checking table lately
	LessonsTitle string
	OwnTitle     string // over the code that opens their own page; empty: none
	Own          string
	AskTitle     string
	Ask          string   // whom to ask
	Panels       []string // names and measures of the panels, as the facts have them
	Sizes        string   // heading of the panels drawn to one scale
	Figures      string   // how the drawings are read
	Slip         Slip
}

// Step is one numbered step: a few words and how.
type Step struct {
	Do     string
	How    string
	Figure Figure
}

// Figure names the drawing of a step; drawings hold no words.
type Figure string

// The drawings there are. Once is the one seam of a plain case.
const (
	FigureAccent Figure = "accent"
	FigureCuff   Figure = "cuff"
	FigureBody   Figure = "body"
	FigureRoll   Figure = "roll"
	FigureTube   Figure = "tube"
	FigureSew    Figure = "sew"
	FigurePull   Figure = "pull"
	FigureTrim   Figure = "trim"
	FigureFirst  Figure = "first seam"
	FigureTurn   Figure = "turn"
	FigureSecond Figure = "second seam"
	FigureOnce   Figure = "one seam"
	FigureEdges  Figure = "edges"
	FigureHem    Figure = "hem"
	FigureFlap   Figure = "flap"
	FigureLook   Figure = "look"
)

// Slip is the part to tear off and bring back with the pillowcases.
type Slip struct {
	Title string
	Lines []string // each with room to write after it
}

// Label writes what stands on the label of a kit, under its number.
func (l Language) Label(f CardFacts) Label { return l.label(f) }

// BoxFacts is what the label of a box speaks about.
type BoxFacts struct {
	For   string
	Cases int
	Lines []BoxLineFacts
}

// BoxLineFacts is pillowcases of one size and theme in a box.
type BoxLineFacts struct {
	N     int
	Size  string
	Theme string // empty: none noted
}

// Box writes what stands on the label of a box.
func (l Language) Box(f BoxFacts) Label { return l.box(f) }

// Label is what stands on the label of a kit.
type Label struct {
	What     string
	Contents []string // to tick off, short
	For      string
}
