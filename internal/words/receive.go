package words

// ReceiveFacts is what the pages speak about that a recipient opens by its personal
// link. Days are written out.
type ReceiveFacts struct {
	Name       string // of the recipient
	Drive      string
	Ask        string // whom to ask at the drive; empty: nobody named
	Lines      []ReceiveLine
	Deliveries []ReceiveDelivery
	Closed     string // the day since which the drive is over; empty: it goes on
}

// ReceiveLine is one line that the recipient asked for, and how far it has come.
type ReceiveLine struct {
	Sizes  []string // any of them
	Themes []string // any of them; none: any theme
	Avoid  []string // no such themes
	Asked  int
	With   int // said to have arrived
	Doubt  int // sent, and said not to have arrived
	OnWay  int
	Ready  int
	Due    string // empty: no day agreed
	Late   bool
	// When the rest is likely ready, and the days between which that lies four times of
	// five; empty: nobody can say yet.
	Likely, LikelyFrom, LikelyTo string
}

// ReceiveDelivery is one delivery to the recipient, and what it said of it.
type ReceiveDelivery struct {
	Number    int64
	Sent      string // the day it left
	CarriedBy string
	Cases     int
	Boxes     int
	Said      bool
	Arrived   int // of those on the note
	Above     int // came above the note, as they said or as it was settled
	Short     int // said not to have arrived and not settled
	More      int // said to have come above the note and not settled
}

// Receive is what those pages say.
type Receive struct {
	Lang       string
	Title      string
	Lead       string
	Lines      []ReceiveShown
	Deliveries []ReceiveShown
	Private    string
	Ask        string
	Words      ReceiveWords
}

// ReceiveShown is one line or delivery in words.
type ReceiveShown struct {
	Number int64 // of a delivery
	Title  string
	Says   []string
	Open   bool // it waits for an answer
	Act    string
}

// ReceiveWords is what stands on the forms.
type ReceiveWords struct {
	Coming       string // heading over what is asked for
	Deliveries   string // heading over what was sent
	None         string // nothing was sent yet
	Back         string
	WhatArrived  string
	All          string // the button: everything as the note says
	OrBox        string // heading over the boxes
	AsNote       string
	Other        string
	OtherCount   string
	Nothing      string
	Name         string
	NameHint     string
	Note         string
	NoteHint     string
	Send         string
	Wrong        string // above a form that was refused
	Choose       string // nothing was chosen for a box
	Unreadable   string
	Negative     string
	TooLong      string
	Often        string // too many answers
	Changed      string // it was undone or changed meanwhile
	Thanks       string
	Looking      string // somebody will look into it
	Correct      string
	LinkGone     string
	LinkGoneLong string
	NotYours     string // no such delivery to this recipient
	Policy       string // its own laundry and infection-control policy
	Baby         string
}

// Receive writes the pages of a recipient's personal link.
func (l Language) Receive(f ReceiveFacts) Receive { return l.receive(f) }

// Slip says that a count must be a slip where so many stand on the note.
func (l Language) Slip(noted, said int) string { return l.slip(noted, said) }

// BoxOf names one size in one box, with how many stand on the note.
func (l Language) BoxOf(box int64, size string, noted int) string { return l.boxOf(box, size, noted) }

// ReceiveMessage writes the message with a recipient's personal link.
func (l Language) ReceiveMessage(name, drive, address string) Message {
	return l.receiveLink(name, drive, address)
}

// NoteFacts is what a delivery note speaks about.
type NoteFacts struct {
	Number    int64
	Drive     string
	To        string
	Contact   string
	Sent      string // the day; empty: not yet
	CarriedBy string
	Note      string
	Cases     int
	Boxes     int
	Sizes     []NoteCount
	Themes    []NoteCount // empty where nothing is known
	Rules     []string
	Overrides []NoteOverride
}

// NoteCount is how many of one size, or of one theme; no words: of no theme that is known.
type NoteCount struct {
	N    int
	What string
}

// NoteOverride is a rule that was not kept, as people wrote it, and why; Box 0: of the whole delivery.
type NoteOverride struct {
	Box          int64
	Rule, Reason string
}

// Note is the words of a delivery note.
type Note struct {
	Lang       string
	Title      string
	Lines      []string // from, to, when, by whom
	Columns    NoteColumns
	Other      string // stands for a theme where none is known
	Totals     []string
	RulesTitle string
	Rules      []string
	Kept       string // how rules were not kept, heading
	Overrides  []string
	Care       []string
	Sign       string
	Signed     []string // each with room to write
	Code       string   // beside the code of the delivery
	Own        string   // beside the code of the recipient's own page
}

// NoteColumns is the heads of the columns.
type NoteColumns struct{ Box, Size, Theme, Cases, Packed, Arrived string }

// DeliveryNote writes a delivery note.
func (l Language) DeliveryNote(f NoteFacts) Note { return l.note(f) }
