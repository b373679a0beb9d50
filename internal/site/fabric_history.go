package site

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"boltward/internal/drive"
	"boltward/internal/length"
	"boltward/internal/postgres"
)

// reachRow is a kit that cloth of the lot went into.
type reachRow struct {
	Kit       string
	Sheet     int64
	Piece     int
	State     string
	Size      string
	Parts     string // what of it is from this lot
	Recipient string
	Came      string // how far its pillowcases have come
}

// historyStep is what one person booked of a lot at one time: an entry of the
// fabric ledger, or several that belong together.
type historyStep struct {
	At      time.Time
	What    string // what somebody did by hand; empty for the rest
	Alone   bool   // one line says it all
	Lines   []historyLine
	Who     string
	Undone  bool
	Deed    int64 // 0: undone where it was made, not here
	MayUndo bool
}

// historyLine is one entry in words.
type historyLine struct {
	Piece int // 0: the whole lot
	Into  int // the piece that was parted from it; 0: none
	Words string
}

// clothPast is where cloth of a lot went and everything booked of it.
type clothPast struct {
	Lot      int64
	Reach    []reachRow
	History  []historyStep
	MayUndo  bool // the measuring
	MayUntag bool // nobody measured it ever
}

// familyRow is a piece with what it came from and what came from it.
type familyRow struct {
	Piece  int
	Words  string
	Depth  int
	Gone   bool // nothing of it is on the shelf
	Origin int  // 0: it came in so
}

// historySteps gives everything booked of a lot, newest first.
func historySteps(h postgres.LotHistory, writes bool, d drive.Drive) []historyStep {
	deeds := map[int64]drive.ClothDeed{}
	for _, deed := range h.Deeds {
		deeds[deed.Number] = deed
	}
	var steps []historyStep
	for i := len(h.Entries) - 1; i >= 0; {
		first := i
		for first > 0 && together(h.Entries[first-1], h.Entries[i]) {
			first--
		}
		e := h.Entries[i]
		step := historyStep{At: e.At, Who: bookedBy(e)}
		step.Lines = historyLines(h.Entries[first:i+1], d)
		for _, one := range h.Entries[first : i+1] {
			step.Undone = step.Undone || one.Undone
		}
		if e.Deed != nil {
			deed := deeds[*e.Deed]
			step.Deed, step.What, step.Undone = deed.Number, deedWords(deed), deed.Undone
			step.Alone = len(step.Lines) == 1 && deed.Kind != drive.DeedUndone
			step.MayUndo = writes && !deed.Undone && deed.Kind != drive.DeedUndone
		}
		steps = append(steps, step)
		i = first - 1
	}
	return steps
}

// historyLines says entries in words. Parting is two entries, one for each piece;
// one line says both, with the size of the piece that came of it.
func historyLines(entries []drive.BookedFabric, d drive.Drive) []historyLine {
	came := map[int]drive.BookedFabric{}
	for _, e := range entries {
		if e.From == drive.Origin && e.OtherPiece != nil {
			came[e.Piece] = e
		}
	}
	var lines []historyLine
	for _, e := range entries {
		line := historyLine{Piece: e.Piece, Words: e.Words(d)}
		if e.OtherPiece != nil {
			other, both := came[*e.OtherPiece]
			switch {
			case e.From == drive.Origin && slices.ContainsFunc(entries, func(o drive.BookedFabric) bool { return o.To == drive.Parted && o.Piece == *e.OtherPiece }):
				continue
			case e.To == drive.Parted && both:
				line.Into, line.Words = *e.OtherPiece, partedWords(other, d)
			}
		}
		lines = append(lines, line)
	}
	return lines
}

// partedWords says what came of a parting.
func partedWords(e drive.BookedFabric, d drive.Drive) string {
	words := e.Words(d)
	if _, size, found := strings.Cut(words, ": "); found {
		return size
	}
	return words
}

// together says whether two entries were booked as one.
func together(a, b drive.BookedFabric) bool {
	if a.Deed != nil || b.Deed != nil {
		return a.Deed != nil && b.Deed != nil && *a.Deed == *b.Deed
	}
	return a.At.Equal(b.At) && a.Who == b.Who && (a.Kind == drive.FabricUndone) == (b.Kind == drive.FabricUndone)
}

// deedWords says what a deed was.
func deedWords(deed drive.ClothDeed) string {
	words := map[drive.DeedKind]string{
		drive.DeedWashed: "Washed", drive.DeedParted: "Parted", drive.DeedSquared: "Squared off", drive.DeedPutBack: "Put back",
		drive.DeedGivenAway: "Given away", drive.DeedDiscarded: "Discarded", drive.DeedRecounted: "Counted anew", drive.DeedUndone: "Undone",
	}[deed.Kind]
	return words
}

// family gives the pieces of a lot with each below the one it came from; nothing
// where there is but one.
func family(pieces []drive.Piece, d drive.Drive) []familyRow {
	pieces = slices.DeleteFunc(slices.Clone(pieces), func(p drive.Piece) bool { return p.Received == 0 }) // undone: never there
	if len(pieces) < 2 {
		return nil
	}
	below := map[int][]drive.Piece{}
	for _, p := range pieces {
		origin := 0
		if p.Origin != nil {
			origin = *p.Origin
		}
		below[origin] = append(below[origin], p)
	}
	var rows []familyRow
	var add func(origin, depth int)
	add = func(origin, depth int) {
		for _, p := range below[origin] {
			row := familyRow{Piece: p.Piece, Words: pieceStands(p, d), Depth: min(depth, 4), Gone: p.Free+p.Promised == 0, Origin: origin}
			rows = append(rows, row)
			add(p.Piece, depth+1)
		}
	}
	add(0, 0)
	return rows
}

// pieceStands says what a piece is and where all of it is.
func pieceStands(p drive.Piece, d drive.Drive) string {
	var words []string
	if p.FreeLength > 0 {
		words = append(words, clothSize(p.Width, p.FreeLength, d)+" free")
	}
	for _, part := range []struct {
		area length.Area
		what string
	}{{p.Promised, "promised"}, {p.Cut, "cut for kits"}, {p.Parted, "parted off"}, {p.Out, "gone otherwise"}} {
		if part.area > 0 {
			words = append(words, part.area.Format(d.Unit)+" "+part.what)
		}
	}
	text := strings.Join(words, ", ")
	if p.Kind != drive.PieceWhole {
		text = string(p.Kind) + ": " + text
	}
	return text
}

func reachRows(reach []postgres.LotReach) []reachRow {
	rows := make([]reachRow, len(reach))
	for i, r := range reach {
		row := reachRow{
			Kit: drive.KitName(r.Kit, r.Part), Sheet: r.Sheet, Piece: r.Piece, State: r.KitState, Size: r.Size,
			Parts: counted(r.Panels, "panel", "panels") + ": " + strings.Join(r.Roles, ", "), Recipient: r.Recipient,
		}
		var came []string
		for _, state := range []drive.CaseState{drive.CaseOut, drive.CaseSewn, drive.CaseToMend, drive.CaseGood, drive.CasePacked, drive.CaseDelivered, drive.CaseConfirmed, drive.CaseNotUsable, drive.CaseLost} {
			if n := r.Counts[state]; n > 0 {
				came = append(came, fmt.Sprintf("%d %s", n, state))
			}
		}
		row.Came = strings.Join(came, ", ")
		rows[i] = row
	}
	return rows
}

// bookedBy names who made an entry.
func bookedBy(e drive.BookedFabric) string {
	if e.WhoName == "" {
		return "command line"
	}
	return e.WhoName
}
