package words

// VisitFacts is what the pages speak about that somebody who sews opens by their
// personal link. Days are written out.
type VisitFacts struct {
	Name  string
	Drive string
	Ask   string // whom to ask at the drive; empty: nobody named
	Kits  []VisitKitFacts
}

// VisitKitFacts is one kit of somebody who sews, with what they said of it.
type VisitKitFacts struct {
	Kit       string
	Cases     int
	Size      string
	Due       string // empty: none agreed
	Late      bool
	OwnFabric bool
	Finished  int    // as they said; 0: nothing said
	Until     string // the day they asked for
	Needed    string // the day by which it is needed, where that is before Until and still to come
	Cannot    bool
}

// Visit is what those pages say.
type Visit struct {
	Lang    string
	Title   string
	Lead    string
	Kits    []VisitKit
	Ask     string // whom to ask; empty: nobody named
	Private string // of the address of the page
	Back    string // to the list of kits
	Wrong   string // above a form that was refused
	Words   VisitWords
}

// VisitKit is what they say of one kit.
type VisitKit struct {
	Kit   string
	Title string
	What  string
	Due   string
	Said  VisitSaid
}

// VisitSaid is what somebody said of a kit, as one line each; empty: nothing.
type VisitSaid struct{ Finished, Longer, Cannot string }

// VisitWords is what stands on the forms.
type VisitWords struct {
	Open          string // the link to a kit
	HowItGoes     string // heading over the forms
	Finished      string
	FinishedHint  string
	FinishedAct   string
	Longer        string
	Until         string
	LongerAct     string
	Cannot        string
	CannotLead    string
	CannotAct     string
	Note          string
	NoteHint      string
	BackFinished  string // each button that takes back what was said
	BackLonger    string
	BackCannot    string
	Gone          string // the kit is not with them
	SentBefore    string // the same form with something else in it
	LinkGone      string
	LinkGoneLong  string
	Unreadable    string // a number that is none
	UnreadableDay string
}

// Message is what a drive writes to somebody, as plain text.
type Message struct{ Subject, Text string }

// Visit writes the pages of a personal link.
func (l Language) Visit(f VisitFacts) Visit { return l.visit(f) }

// Fault says what is wrong with what somebody said of a kit that holds so many;
// wrong is the name package drive gives it.
func (l Language) Fault(wrong string, cases int) string { return l.fault(wrong, cases) }

// LinkMessage writes the message with somebody's personal link.
func (l Language) LinkMessage(name, drive, address string) Message {
	return l.link(name, drive, address)
}
