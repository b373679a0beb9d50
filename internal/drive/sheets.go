package drive

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/length"
)

// Sheet is one cut sheet: which piece, how much of it, and how far it has come.
type Sheet struct {
	Number    int64      `db:"number"`
	Revision  int        `db:"revision"`
	Plan      int64      `db:"plan"`
	Lot       int64      `db:"lot"`
	Piece     int        `db:"piece"`
	State     SheetState `db:"state"`
	Used      Side       `db:"used"`
	Width     Side       `db:"width"`
	Helper    string     `db:"helper"`
	OutAt     *time.Time `db:"out_at"`
	CutAt     *time.Time `db:"cut_at"`
	ShortAt   *time.Time `db:"short_at"`     // when it was found to be short
	Found     *Side      `db:"short_length"` // how much was good then, of this sheet and what is left after it
	FoundWhy  string     `db:"short_why"`    // in words, where it was narrower or flawed instead
	Narrow    *Side      `db:"narrow"`       // how wide it is really, where that is less than booked and its panels fit all the same
	CreatedAt time.Time  `db:"created_at"`
	Version   int        `db:"version"`
}

// SheetKit is a kit with panels on a sheet, and how the other sheets of its
// panels stand.
type SheetKit struct {
	Kit
	Others []SheetState
}

// SheetMoves is what one decision about a sheet writes.
type SheetMoves struct {
	State    SheetState
	Helper   string
	Found    *Side  // of a sheet that came up short
	Why      string // of one whose cloth was narrower or flawed
	Narrow   *Side  // of one that is cut as it is drawn from narrower cloth
	Wide     bool   // it is as wide as booked after all
	Fabric   []FabricEntry
	Pieces   []NewPiece
	Remnants map[int]int // remnant → the piece it became
	Kits     []KitEntry
	Cases    []CaseEntry
}

// SignOut hands a sheet to a helper at the table. A sheet that does not wait is
// a conflict; no name is an invalid "helper".
func (s Sheet) SignOut(helper string, kits []SheetKit) (SheetMoves, error) {
	helper = strings.Join(strings.Fields(helper), " ")
	if helper == "" || len([]rune(helper)) > 80 {
		return SheetMoves{}, apperr.Invalid("helper", "Say who takes the sheet, a name or initials, in up to 80 characters.")
	}
	if s.State != SheetWaiting {
		return SheetMoves{}, s.isElsewhere()
	}
	return s.moveKits(SheetMoves{State: SheetOnTable, Helper: helper}, kits)
}

// PutBack undoes a sign-out: nothing of the piece was cut.
func (s Sheet) PutBack(kits []SheetKit) (SheetMoves, error) {
	if s.State != SheetOnTable {
		return SheetMoves{}, s.isElsewhere()
	}
	return s.moveKits(SheetMoves{State: SheetWaiting}, kits)
}

// Cut books a sheet as cut: the panels into their kits, each remnant as the piece
// that its label says, the rest as offcuts. Kits whose sheets are all cut become
// cut, and their pillowcases with them. there are the numbers of the lot's pieces:
// a remnant of a cut that was taken back has its piece already.
func (s Sheet) Cut(panels []Panel, remnants []Remnant, there []int, kits []SheetKit) (SheetMoves, error) {
	if s.State != SheetOnTable && s.State != SheetWaiting {
		return SheetMoves{}, s.isElsewhere()
	}
	m := SheetMoves{State: SheetCut, Helper: s.Helper, Remnants: map[int]int{}}
	rest, err := s.Used.Times(s.Width)
	if err != nil {
		return m, fmt.Errorf("cloth of sheet %d: %w", s.Number, err)
	}
	var inPanels length.Area
	for _, p := range panels {
		area, err := p.area()
		if err != nil {
			return m, err
		}
		inPanels += area
	}
	m.Fabric = append(m.Fabric, s.entry(FabricCut, Promised, Cut, inPanels))
	rest -= inPanels
	for _, r := range s.Left(remnants) {
		area, err := r.area()
		if err != nil {
			return m, err
		}
		rest -= area
		number := r.Label
		m.Remnants[r.Remnant] = number
		if !slices.Contains(there, number) {
			m.Pieces = append(m.Pieces, NewPiece{Lot: s.Lot, Piece: number, Kind: PieceRemnant, Origin: &s.Piece, Width: r.W})
		}
		parted := s.entry(FabricParted, Promised, Parted, area)
		parted.OtherPiece = &number
		m.Fabric = append(m.Fabric, parted, FabricEntry{
			Lot: s.Lot, Piece: number, Kind: FabricParted, From: Origin, To: Free,
			Length: r.H, Area: area, OtherPiece: &s.Piece, Plan: &s.Plan, Sheet: &s.Number,
		})
	}
	if rest < 0 {
		return m, fmt.Errorf("sheet %d holds more panels than cloth", s.Number)
	}
	if rest > 0 {
		m.Fabric = append(m.Fabric, s.entry(FabricOffcut, Promised, Out, rest))
	}
	return s.moveKits(m, kits)
}

// WrittenFabric is an entry of the fabric ledger as it was written.
type WrittenFabric struct {
	ID int64
	FabricEntry
}

// UndoCut takes a cut back while nothing has happened to what came of it: the
// sheet lies on the table again. written are the entries of the cut, newest
// last; untouched says of each remnant's piece whether it lies whole and free.
func (s Sheet) UndoCut(written []WrittenFabric, untouched map[int]bool, kits []SheetKit) (SheetMoves, error) {
	if s.State != SheetCut {
		return SheetMoves{}, s.isElsewhere()
	}
	for _, k := range kits {
		if k.State != KitCut && k.State != KitOnTable {
			return SheetMoves{}, apperr.Conflict("Kit %s %s, so the cut of sheet %d stands. Correct it at the kit.", k.KitRef, k.Where(), s.Number)
		}
	}
	m := SheetMoves{State: SheetOnTable, Helper: s.Helper}
	for _, w := range slices.Backward(written) {
		if w.Piece != s.Piece && !untouched[w.Piece] {
			return SheetMoves{}, apperr.Conflict("The remnant %s of sheet %d is in use already, so the cut stands.", ClothID(w.Lot, w.Piece), s.Number)
		}
		e := w.FabricEntry
		e.Kind, e.From, e.To, e.Reason, e.Undoes = FabricUndone, w.To, w.From, undone, &w.ID
		m.Fabric = append(m.Fabric, e)
	}
	return s.moveKits(m, kits)
}

// Withdraw gives up sheets that nobody has touched: their cloth is free again,
// their kits are taken apart and their pillowcases withdrawn uncut. One sheet on
// the table or cut is a conflict that names it.
func Withdraw(plan int64, sheets []Sheet, kits []Kit) (SheetMoves, error) {
	m := SheetMoves{State: SheetWithdrawn}
	var begun []string
	for _, s := range sheets {
		switch s.State {
		case SheetOnTable, SheetCut:
			begun = append(begun, strconv.FormatInt(s.Number, 10))
			continue
		case SheetShort, SheetWithdrawn: // nothing is promised to it any more
			continue
		}
		area, err := s.Used.Times(s.Width)
		if err != nil {
			return m, fmt.Errorf("cloth of sheet %d: %w", s.Number, err)
		}
		e := s.entry(FabricReleased, Promised, Free, area)
		e.Length = s.Used
		m.Fabric = append(m.Fabric, e)
	}
	if len(begun) > 0 {
		return SheetMoves{}, apperr.Conflict("Plan %d cannot be given up whole any more: on the table or cut are sheets %s. Put back what is on the table first.",
			plan, strings.Join(begun, ", "))
	}
	for _, k := range kits {
		if k.State != KitPlanned {
			return SheetMoves{}, apperr.Conflict("Kit %s %s, so plan %d stands.", k.KitRef, k.Where(), plan)
		}
		cases, _ := k.move(k.Cases, []CaseState{CasePlanned}, k.Part, CaseWithdrawn, nil, "plan withdrawn")
		m.Cases = append(m.Cases, cases...)
		e := k.enter(KitTakenApart, "plan withdrawn")
		e.Cases = 0
		m.Kits = append(m.Kits, e)
	}
	return m, nil
}

func (p Place) area() (length.Area, error) {
	area, err := p.W.Times(p.H)
	if err != nil {
		return 0, fmt.Errorf("area of a panel: %w", err)
	}
	return area, nil
}

func (s Sheet) entry(kind FabricKind, from, to Account, area length.Area) FabricEntry {
	return FabricEntry{Lot: s.Lot, Piece: s.Piece, Kind: kind, From: from, To: to, Area: area, Plan: &s.Plan, Sheet: &s.Number}
}

// moveKits adds what the sheet's new state means for the kits of its panels.
func (s Sheet) moveKits(m SheetMoves, kits []SheetKit) (SheetMoves, error) {
	for _, k := range kits {
		to := kitBySheets(append(slices.Clone(k.Others), m.State))
		// A kit that was given up meanwhile stays so, whatever becomes of the panels that lay on the sheet.
		if to == k.State || k.State == KitTakenApart {
			continue
		}
		from, into := CasePlanned, CaseCut
		if k.State == KitCut {
			from, into = CaseCut, CasePlanned
		}
		if to == KitCut || k.State == KitCut {
			cases, n := k.move(k.Cases, []CaseState{from}, k.Part, into, nil, "")
			if n != k.Cases {
				return SheetMoves{}, apperr.Conflict("Kit %s holds %s, but only %d of them are %s. Look at the kit first.", k.KitRef, pillowcases(k.Cases), n, from)
			}
			m.Cases = append(m.Cases, cases...)
		}
		m.Kits = append(m.Kits, KitEntry{Kit: k.Number, Part: k.Part, From: k.State, To: to, Cases: k.Cases})
	}
	return m, nil
}

// kitBySheets says where a kit is while its cloth is being cut.
func kitBySheets(sheets []SheetState) KitState {
	cut, waiting := 0, 0
	for _, s := range sheets {
		switch s {
		case SheetCut:
			cut++
		case SheetWaiting, SheetShort:
			waiting++
		}
	}
	switch len(sheets) {
	case cut:
		return KitCut
	case waiting:
		return KitPlanned
	}
	return KitOnTable
}

// isElsewhere says why a sheet does not allow an act now.
func (s Sheet) isElsewhere() error {
	switch s.State {
	case SheetOnTable:
		return apperr.Conflict("Sheet %d is on the table with %s already.", s.Number, s.Helper)
	case SheetCut:
		return apperr.Conflict("Sheet %d is cut already.", s.Number)
	case SheetShort:
		return apperr.Conflict("Sheet %d came up short. Change the plan before it is cut.", s.Number)
	case SheetWithdrawn:
		return apperr.Conflict("Sheet %d was withdrawn with its plan. Do not cut it.", s.Number)
	}
	return apperr.Conflict("Sheet %d waits on its shelf.", s.Number)
}
