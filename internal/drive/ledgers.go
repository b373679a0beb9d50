package drive

import (
	"time"

	"boltward/internal/length"
)

// FabricEntry moves area from one account of a piece to another. Into or out of
// Free, Length is the length at the piece's width and Area = Length × width.
// OtherPiece is where a parted rectangle went, or came from. Within a deed that
// makes several pieces of one, lengths and areas agree only together.
type FabricEntry struct {
	Lot        int64
	Piece      int
	Kind       FabricKind
	From, To   Account
	Length     length.Length
	Area       length.Area
	OtherPiece *int
	Plan       *int64
	Sheet      *int64
	Reason     string
	Undoes     *int64
	Deed       *int64 // what somebody did by hand that it belongs to
}

// NewPiece is a piece about to be filled by the ledger. Origin is the piece of
// the same lot that it was parted from.
type NewPiece struct {
	Lot    int64
	Piece  int
	Kind   PieceKind
	Origin *int
	Width  length.Length
}

// KitEntry says that a kit moved from one place to another and how many
// pillowcases it holds after that. Holder and Due stand only with KitOut.
type KitEntry struct {
	Kit      int64
	Part     int
	From, To KitState
	Holder   *int64
	Due      *time.Time
	Cases    int
	Reason   string
}

// Returns says whether the kit lies here again after it was elsewhere, so that where its
// bag lay before tells nothing any more. A hand-out that is undone never took it away.
func (e KitEntry) Returns() bool {
	return (e.From == KitOut || e.From == KitLost) && e.To.InHouse() && e.Reason != undone
}

// CaseEntry moves N pillowcases of one size from (Asked, Kit, Part, From) to
// (ToAsked, ToKit, ToPart, To). Asked 0 is "not promised yet", Kit 0 "without a
// kit". An entry from CaseBorn brings them into being; its Asked, Kit and Part are ignored.
type CaseEntry struct {
	Size     int64
	N        int
	Asked    int64
	Kit      int64
	Part     int
	From     CaseState
	ToAsked  int64
	ToKit    int64
	ToPart   int
	To       CaseState
	Person   *int64
	Box      *int64
	Delivery *int64
	Reason   string
	Undoes   *int64
}
