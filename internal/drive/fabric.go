package drive

import (
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"boltward/internal/apperr"
	"boltward/internal/length"
	"boltward/internal/sizing"
)

// Lot is fabric that came in together and is alike: one bolt, or several pieces
// of one cloth. It is tagged first and measured later; until then it is found
// and thanked for but not planned with.
type Lot struct {
	Number     int64     `db:"number"`
	Donor      *int64    `db:"donor"` // nil where nobody knows who gave it
	Tag        *string   `db:"tag"`   // the printed tag on it, or its code in somebody's spreadsheet
	ReceivedOn time.Time `db:"received_on"`
	PiecesTold int       `db:"pieces_told"` // how many pieces were counted at the door
	Kind       string    `db:"kind"`        // what it is, in free words: bolt end, fat quarter
	SetAside   string    `db:"set_aside"`   // why it is kept from planning; empty when it is not
	Shelf      string    `db:"shelf"`
	Make
	Ends       string         `db:"ends"`            // EndsCut or EndsTorn
	Recounted  *int           `db:"pieces_measured"` // how many pieces measuring counted, undone or not; nil: as at the door
	RawLength  *length.Length `db:"raw_length"`
	RawWidth   *length.Length `db:"raw_width"`
	Note       string         `db:"note"`
	Photo      *string        `db:"photo"` // the fingerprint of its photo; nil where nobody took one
	CreatedAt  time.Time      `db:"created_at"`
	MeasuredAt *time.Time     `db:"measured_at"` // nil until it is measured
	UntaggedAt *time.Time     `db:"untagged_at"` // tagged by mistake and taken back: no lot any more
	Version    int            `db:"version"`
}

// Measured says whether the lot has a size, so that plans may draw on it.
func (l Lot) Measured() bool { return l.MeasuredAt != nil }

// PiecesCounted is how many pieces came in: as measured, and until then as counted at the door.
func (l Lot) PiecesCounted() int {
	if l.Measured() && l.Recounted != nil {
		return *l.Recounted
	}
	return l.PiecesTold
}

// Make is what the cloth of a lot is: what it may serve as and what it goes with.
type Make struct {
	Fibre   string   `db:"fibre"`
	Weight  string   `db:"weight"`
	Washed  bool     `db:"washed"`
	Print   string   `db:"print"`
	Turn    string   `db:"turn"`    // how panels may lie: TurnEither, TurnAcross, TurnAlong
	Border  string   `db:"border"`  // the selvedges along which a border is printed; empty for none
	TrimOK  bool     `db:"trim_ok"` // a feature print that may serve as cuff or accent too
	Colours []string `db:"colours"`
	Themes  []string `db:"themes"`
}

// The words for how panels may lie, for borders and for ends, beside those of cloth.go.
const (
	TurnEither = "either"
	TurnAcross = "across"
	TurnAlong  = "along"
	BorderOne  = "one selvedge"
	BorderBoth = "both selvedges"
	EndsCut    = "cut"
	EndsTorn   = "torn"
)

// Fibres, Weights, Prints, Turns and Borders are the words a form offers, in order.
func Fibres() []string  { return []string{"cotton", "linen", "poly-cotton", "other", FibreNotSure} }
func Weights() []string { return []string{"quilting", "flannel", "sheeting", "heavy"} }
func Prints() []string  { return []string{PrintSolid, PrintTonal, PrintFeature} }
func Turns() []string   { return []string{TurnEither, TurnAcross, TurnAlong} }
func Borders() []string { return []string{"", BorderOne, BorderBoth} }

// Piece is one length of cloth on the shelf. Its balances are areas.
type Piece struct {
	Lot        int64         `db:"lot"`
	Piece      int           `db:"piece"`
	Kind       PieceKind     `db:"kind"`
	Origin     *int          `db:"origin"` // the piece it was parted from
	Width      length.Length `db:"width"`
	FreeLength length.Length `db:"free_length"`
	Received   length.Area   `db:"received"`
	Free       length.Area   `db:"free"`
	Promised   length.Area   `db:"promised"`
	Cut        length.Area   `db:"cut"`
	Out        length.Area   `db:"out"`
	Parted     length.Area   `db:"parted"`
}

// Allowances are what the drive takes off raw cloth before it counts on it.
func (d Drive) Allowances() sizing.Allowances {
	a := sizing.DefaultAllowances()
	a.KeepWidth, a.KeepLength = d.KeepWidth, d.KeepLength
	return a
}

// Yardage is the unit in which the drive's people speak of lengths of cloth.
func (d Drive) Yardage() length.Unit {
	if d.Unit.Metric() {
		return length.M
	}
	return length.Yd
}

// mostPieces is how many pieces one lot may have.
const mostPieces = 500

// Tidy gives the make with its lists as plain words and a turn that fits it.
func (m Make) Tidy() Make {
	m.Colours, m.Themes = colours(m.Colours), TidyWords(m.Themes)
	if m.Turn == "" {
		m.Turn = TurnEither
	}
	return m
}

// check says what is wrong with the make, by field. All of it must be said once
// cloth is measured.
func (m Make) check(measured bool) []apperr.Field {
	var bad []apperr.Field
	choose := func(field, value string, from []string, why string) {
		if !slices.Contains(from, value) && (measured || value != "") {
			bad = append(bad, apperr.Field{Name: field, Why: why})
		}
	}
	choose("fibre", m.Fibre, Fibres(), "Choose the fibre from the list, or not sure.")
	choose("weight", m.Weight, Weights(), "Choose the kind of cloth from the list: quilting, flannel, sheeting or heavy.")
	choose("print", m.Print, Prints(), "Choose solid, tonal or feature print.")
	choose("turn", m.Turn, Turns(), "Choose how the print lies: either way, across or along.")
	choose("border", m.Border, Borders(), "Choose which selvedge carries the border.")
	bad = append(bad, wrongWords("colours", m.Colours)...)
	return append(bad, wrongWords("themes", m.Themes)...)
}

// wrongWords refuses lists that nobody could read on a label.
func wrongWords(field string, list []string) []apperr.Field {
	if len(list) > 12 {
		return []apperr.Field{{Name: field, Why: "Name up to 12, the most telling ones."}}
	}
	for _, word := range list {
		if n := utf8.RuneCountInString(word); n > 40 {
			return []apperr.Field{{Name: field, Why: "Keep each to a word or two, up to 40 characters; one has " + strconv.Itoa(n) + "."}}
		}
	}
	return nil
}

// tidyTag gives a tag as it is compared; nil for none.
func tidyTag(tag string) *string {
	tag = strings.Join(strings.Fields(tag), " ")
	if tag == "" {
		return nil
	}
	return &tag
}

// MonthFirst says whether the drive's people write 10/24/2026 rather than
// 24/10/2026: those who measure in inches in the Americas.
func (d Drive) MonthFirst() bool {
	return d.Unit == length.In && strings.HasPrefix(d.Zone, "America/")
}

// LetterPaper says whether sheets are printed on Letter rather than on A4: where days are written
// with the month first. Sewists elsewhere measure in inches too, and have A4.
func (d Drive) LetterPaper() bool { return d.MonthFirst() }
