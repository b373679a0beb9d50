package drive

// Account is where cloth of a piece stands in the fabric ledger.
type Account string

// The accounts of a piece. Outside and Origin are the two ways in: given to the
// drive, or parted from another piece of the same lot.
const (
	Outside  Account = "outside"
	Origin   Account = "origin"
	Free     Account = "free"
	Promised Account = "promised"
	Cut      Account = "cut"
	Out      Account = "out"
	Parted   Account = "parted"
)

// FabricKind is the kind of an entry in the fabric ledger.
type FabricKind string

// What can happen to cloth.
const (
	FabricTagged     FabricKind = "tagged"
	FabricMeasured   FabricKind = "measured"
	FabricSquaredOff FabricKind = "squared off"
	FabricWashLoss   FabricKind = "lost in the wash"
	FabricParted     FabricKind = "parted"
	FabricPromised   FabricKind = "promised"
	FabricReleased   FabricKind = "released"
	FabricCut        FabricKind = "cut for kit"
	FabricOffcut     FabricKind = "offcut"
	FabricPutBack    FabricKind = "put back"
	FabricGivenAway  FabricKind = "given away"
	FabricDiscarded  FabricKind = "discarded"
	FabricRecounted  FabricKind = "recounted"
	FabricUndone     FabricKind = "undone"
)

// PieceKind says how a piece came to be, which decides what it may serve as.
type PieceKind string

// The kinds of piece.
const (
	PieceWhole   PieceKind = "whole"
	PieceFlaw    PieceKind = "flaw part"
	PieceBorder  PieceKind = "border strip"
	PieceRemnant PieceKind = "remnant"
)

// KitState is where a kit is. It is in exactly one place.
type KitState string

// The places of a kit. KitBorn stands only as the start of its first entry.
const (
	KitBorn       KitState = "born"
	KitPlanned    KitState = "planned"
	KitOnTable    KitState = "on the table"
	KitCut        KitState = "cut"
	KitReady      KitState = "ready"
	KitOut        KitState = "out"
	KitBack       KitState = "back"
	KitLost       KitState = "lost"
	KitFound      KitState = "found"
	KitTakenApart KitState = "taken apart"
)

// CaseState is how far a pillowcase has come.
type CaseState string

// The states of a pillowcase. CaseBorn stands only as the start of an entry.
const (
	CaseBorn        CaseState = "born"
	CasePlanned     CaseState = "planned"
	CaseCut         CaseState = "cut"
	CaseOut         CaseState = "out"
	CaseSewn        CaseState = "sewn"
	CaseGood        CaseState = "good"
	CaseToMend      CaseState = "to mend"
	CaseNotUsable   CaseState = "not usable"
	CasePacked      CaseState = "packed"
	CaseDelivered   CaseState = "delivered"
	CaseConfirmed   CaseState = "confirmed"
	CaseLost        CaseState = "lost"
	CaseWithdrawn   CaseState = "withdrawn uncut"
	CaseNotReceived CaseState = "not received"
)

// Alive are the states that count towards what a recipient asked for.
var alive = map[CaseState]bool{
	CasePlanned: true, CaseCut: true, CaseOut: true, CaseSewn: true, CaseGood: true,
	CaseToMend: true, CasePacked: true, CaseDelivered: true, CaseConfirmed: true,
}

// Alive says whether a pillowcase in this state counts towards what was asked for.
func (s CaseState) Alive() bool { return alive[s] }

// SheetState is how far a cut sheet has come.
type SheetState string

// The states of a cut sheet.
const (
	SheetWaiting   SheetState = "waiting"
	SheetOnTable   SheetState = "on the table"
	SheetCut       SheetState = "cut"
	SheetShort     SheetState = "came up short"
	SheetWithdrawn SheetState = "withdrawn"
)

// PlanState is how far a plan has come.
type PlanState string

// The states of a plan.
const (
	PlanWaiting  PlanState = "waiting"
	PlanRunning  PlanState = "running"
	PlanReady    PlanState = "ready"
	PlanFailed   PlanState = "failed"
	PlanAccepted PlanState = "accepted"
	PlanDropped  PlanState = "dropped"
	PlanReplaced PlanState = "replaced" // accepted once; a changed plan stands in its place
)

// CaseStates lists the states of a pillowcase in the order of its way, those that
// count towards what was asked for first.
func CaseStates() []CaseState {
	return []CaseState{
		CasePlanned, CaseCut, CaseOut, CaseSewn, CaseToMend, CaseGood, CasePacked, CaseDelivered, CaseConfirmed,
		CaseNotUsable, CaseLost, CaseWithdrawn, CaseNotReceived,
	}
}
