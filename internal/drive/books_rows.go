package drive

import (
	"time"

	"boltward/internal/length"
)

// BookLine is a line asked for with the pillowcases that stand for it.
type BookLine struct {
	Number      int64      `db:"number"`
	RecipientNo int64      `db:"recipient_no"`
	Recipient   string     `db:"recipient"`
	Sizes       string     `db:"sizes"`
	Due         *time.Time `db:"due"`
	Matter      string     `db:"matter"`
	Closed      bool       `db:"closed"`
	Wanted      int        `db:"wanted"`
	Note        string     `db:"note"`
	Counts      Counts     `db:"counts"`
}

// Missing is how many pillowcases of the line nothing stands for yet. A closed line waits for
// nothing more.
func (l BookLine) Missing() int {
	if l.Closed {
		return 0
	}
	return max(0, l.Wanted-l.Counts.Alive())
}

// BookAskedChange is one field of what is asked for, of a recipient or of a standing request
// that somebody changed. What is personal says only that it did.
type BookAskedChange struct {
	Day       time.Time `db:"day"`
	Kind      string    `db:"kind"` // asked, recipient or standing
	Number    int64     `db:"number"`
	Recipient string    `db:"recipient"`
	Act       string    `db:"act"`
	Field     string    `db:"field"`
	From      string    `db:"was"`
	To        string    `db:"is"`
	By        string    `db:"by_name"`
}

// BookLot is a lot's account in area: what lay on the shelf at the opening, what
// came and went in the period by its kind, what lay there at the closing.
type BookLot struct {
	Lot        int64         `db:"lot"`
	Tag        string        `db:"tag"`
	Donor      string        `db:"donor"`
	Cloth      string        `db:"cloth"`
	Shelf      string        `db:"shelf"`
	Received   time.Time     `db:"received_on"`
	Width      length.Length `db:"width"` // of its widest whole piece; 0 where it is not measured
	Opening    length.Area   `db:"opening"`
	Measured   length.Area   `db:"measured"`
	SquaredOff length.Area   `db:"squared_off"` // went out, so positive, as all that follow but two
	PutBack    length.Area   `db:"put_back"`    // came in
	Recounted  length.Area   `db:"recounted"`   // found more; negative: found less
	Cut        length.Area   `db:"cut"`
	Offcuts    length.Area   `db:"offcuts"`
	Wash       length.Area   `db:"wash"`
	GivenAway  length.Area   `db:"given_away"`
	Discarded  length.Area   `db:"discarded"`
	OnShelf    length.Area   `db:"on_shelf"` // from what is free and promised, not from the columns before it
	Promised   length.Area   `db:"promised"`
	Note       string        `db:"note"`
}

// Closing is opening + in − out.
func (l BookLot) Closing() length.Area {
	return l.Opening + l.Measured + l.PutBack + l.Recounted - l.SquaredOff - l.Cut - l.Offcuts - l.Wash - l.GivenAway - l.Discarded
}

// BookFabricEntry is an entry of the fabric ledger. A counter-entry stands as the
// entry that it takes back with length and area below zero.
type BookFabricEntry struct {
	ID        int64         `db:"id"`
	Day       time.Time     `db:"day"`
	Lot       int64         `db:"lot"`
	Tag       string        `db:"tag"`
	Piece     int           `db:"piece"`
	Kind      string        `db:"kind"`
	From      string        `db:"from_account"`
	To        string        `db:"to_account"`
	Length    length.Length `db:"length"`
	Area      length.Area   `db:"area"`
	Shelf     length.Area   `db:"shelf"` // how what lies on the shelf changed
	Sheet     *int64        `db:"sheet"`
	Plan      *int64        `db:"plan"`
	TakesBack *int64        `db:"takes_back"`
	Reason    string        `db:"reason"`
}

// BookKit is a kit and who has it.
type BookKit struct {
	KitRef
	Recipient string     `db:"recipient"`
	Size      string     `db:"size"`
	Cases     int        `db:"cases"`
	State     KitState   `db:"state"`
	Holder    string     `db:"holder"`
	Since     *time.Time `db:"since"`
	Due       *time.Time `db:"due"`
	OwnFabric bool       `db:"own_fabric"`
}

// Late is how many days a kit that is out is past its day.
func (k BookKit) Late(on time.Time) int {
	days, agreed := DaysLate(k.Due, on)
	if !agreed || k.State != KitOut {
		return 0
	}
	return max(0, days)
}

// BookKitEntry is an entry of the whereabouts ledger: Cases is what the kit holds after it.
type BookKitEntry struct {
	ID  int64     `db:"id"`
	Day time.Time `db:"day"`
	KitRef
	From   string     `db:"from_state"`
	To     string     `db:"to_state"`
	Holder string     `db:"holder"`
	Due    *time.Time `db:"due"`
	Cases  int        `db:"cases"`
	Reason string     `db:"reason"`
}

// BookCases is the account of a line and one size in pillowcases that count towards
// what was asked for, and what moved in the period. Number 0 is "not promised yet".
// What was undone in the period counts less in it, so that periods add up.
type BookCases struct {
	Number      int64  `db:"number"`
	RecipientNo int64  `db:"recipient_no"`
	Recipient   string `db:"recipient"`
	Size        string `db:"size"`
	Opening     int    `db:"opening"`
	Planned     int    `db:"planned"` // born of a plan
	Brought     int    `db:"brought"` // born by being brought in, or of people's own fabric
	FoundAgain  int    `db:"found_again"`
	MovedIn     int    `db:"moved_in"` // promised here from another line
	MovedOut    int    `db:"moved_out"`
	NotUsable   int    `db:"not_usable"` // ended, as all that follow
	Lost        int    `db:"lost"`
	Withdrawn   int    `db:"withdrawn"`
	NotReceived int    `db:"not_received"`
	Counts      Counts `db:"counts"`    // at the closing, from the states, not from the columns before
	CameIn      int    `db:"came_in"`   // sewn in the period, from kits and without
	FoundGood   int    `db:"good"`      // found good in the period
	Sent        int    `db:"sent"`      // delivered in the period
	Confirmed   int    `db:"confirmed"` // confirmed in the period
}

// Closing is opening + born − ended.
func (c BookCases) Closing() int {
	return c.Opening + c.Planned + c.Brought + c.FoundAgain + c.MovedIn - c.MovedOut - c.NotUsable - c.Lost - c.Withdrawn - c.NotReceived
}

// BookCaseState is the account of one state of a line and size.
type BookCaseState struct {
	Number    int64     `db:"number"`
	Recipient string    `db:"recipient"`
	Size      string    `db:"size"`
	State     CaseState `db:"state"`
	Opening   int       `db:"opening"`
	Came      int       `db:"came"`
	Left      int       `db:"left_it"`
	Closing   int       `db:"closing"`
}

// BookCaseEntry is an entry of the pillowcases ledger. A counter-entry stands as the
// entry that it takes back with a number below zero.
type BookCaseEntry struct {
	ID        int64     `db:"id"`
	Day       time.Time `db:"day"`
	Size      string    `db:"size"`
	Line      int64     `db:"line"` // it is at after the entry; 0: not promised yet
	FromLine  *int64    `db:"from_line"`
	Kit       int64     `db:"kit"`
	Part      int       `db:"part"`
	From      CaseState `db:"from_state"`
	To        CaseState `db:"to_state"`
	N         int       `db:"n"`
	Person    string    `db:"person"` // who sewed or mended them, or has or had them by this entry
	Box       *int64    `db:"box"`
	Delivery  *int64    `db:"delivery"`
	TakesBack *int64    `db:"takes_back"`
	Reason    string    `db:"reason"`
	Note      string    `db:"note"`
}

// SewnBy is who sewed them, MendedBy who brought them back mended, and With whoever they went to or
// were with by any other entry.
func (e BookCaseEntry) SewnBy() string {
	if e.To == CaseSewn && e.From != CaseToMend {
		return e.Person
	}
	return ""
}

// MendedBy: see SewnBy.
func (e BookCaseEntry) MendedBy() string {
	if e.To == CaseSewn && e.From == CaseToMend {
		return e.Person
	}
	return ""
}

// With: see SewnBy.
func (e BookCaseEntry) With() string {
	if e.To != CaseSewn {
		return e.Person
	}
	return ""
}

// BookCheck is what was found of some pillowcases at the checking table. What was
// undone stands below zero.
type BookCheck struct {
	Number    int64          `db:"number"` // of the check
	Entry     int64          `db:"entry"`
	Day       time.Time      `db:"day"`
	Line      int64          `db:"line"`
	Size      string         `db:"size"`
	Kit       int64          `db:"kit"`
	Part      int            `db:"part"`
	Result    CaseState      `db:"result"`
	N         int            `db:"n"`
	Reasons   string         `db:"reasons"`
	Width     *length.Length `db:"width"` // of the one furthest off, where it was measured
	Length    *length.Length `db:"length"`
	Initials  string         `db:"initials"`
	TakesBack *int64         `db:"takes_back"`
	Note      string         `db:"note"`
}

// BookWash is pillowcases of one stack in a batch of laundry that was started in the period,
// as they stand now: those that went to another line meanwhile stand with that.
type BookWash struct {
	Batch     int64      `db:"batch"`
	StartedOn time.Time  `db:"started_on"`
	StartedBy string     `db:"started_by"`
	DoneOn    *time.Time `db:"done_on"` // until the last day of the period
	DoneBy    string     `db:"done_by"`
	Line      int64      `db:"line"`
	Recipient string     `db:"recipient"`
	Size      string     `db:"size"`
	Kit       int64      `db:"kit"`
	Part      int        `db:"part"`
	N         int        `db:"n"`
	Note      string     `db:"note"`
}

// BookReason is how many pillowcases had something wrong with them.
type BookReason struct {
	Reason    string `db:"reason"`
	ToMend    *int   `db:"to_mend"`
	NotUsable *int   `db:"not_usable"`
}

// BookDelivery is a delivery with its counts.
type BookDelivery struct {
	Number      int64      `db:"number"`
	Recipient   string     `db:"recipient"`
	SentOn      time.Time  `db:"sent_on"`
	CarriedBy   string     `db:"carried_by"`
	Boxes       int        `db:"boxes"`
	SentBefore  int        `db:"sent_before"` // before the period
	Sent        int        `db:"sent"`
	Confirmed   int        `db:"confirmed"` // until its last day, as all that follow
	Missing     int        `db:"missing"`   // settled as not received
	SentBack    int        `db:"sent_back"` // came back from there
	ConfirmedOn *time.Time `db:"confirmed_on"`
	ConfirmedBy string     `db:"confirmed_by"`
	Note        string     `db:"note"`
}

// Open is how many of a delivery nobody has said anything of, or that differ and are not settled.
func (d BookDelivery) Open() int { return d.SentBefore + d.Sent - d.Confirmed - d.Missing - d.SentBack }

// BookBox is what one box of a delivery brought of one size.
type BookBox struct {
	Box        int64  `db:"box"`
	Delivery   int64  `db:"delivery"`
	Recipient  string `db:"recipient"`
	Line       int64  `db:"line"`
	Size       string `db:"size"`
	PackedBy   string `db:"packed_by"`
	CheckedBy  string `db:"checked_by"`
	SentBefore int    `db:"sent_before"` // before the period
	Sent       int    `db:"sent"`
	Confirmed  int    `db:"confirmed"` // until its last day, as all that follow
	Missing    int    `db:"missing"`
	SentBack   int    `db:"sent_back"`
}

// Open is how many of it nobody has said anything of, or that differ and are not settled.
func (b BookBox) Open() int { return b.SentBefore + b.Sent - b.Confirmed - b.Missing - b.SentBack }

// BookGift is what one donor brought on one day.
type BookGift struct {
	DonorNo  int64       `db:"donor_no"` // 0: nobody knows who it was
	Donor    string      `db:"donor"`
	On       time.Time   `db:"gift_on"`
	Lots     int         `db:"lots"`
	Pieces   int         `db:"pieces"`
	What     string      `db:"what"`
	Measured length.Area `db:"measured"`
	Thanked  *time.Time  `db:"thanked_on"`
	Way      string      `db:"way"`
	DonorContacts
}

// BookPerson is somebody who sews, with what they did in the period.
type BookPerson struct {
	Number   int64  `db:"number"`
	Name     string `db:"name"`
	Kind     string `db:"kind"`
	Heads    int    `db:"heads"`
	Active   bool   `db:"active"`
	Sewing   int    `db:"sewing"` // minutes, as all that follow but the last three
	Cutting  int    `db:"cutting"`
	Checking int    `db:"checking"`
	AtTable  int    `db:"at_table"`
	Other    int    `db:"other"`
	Sewn     int    `db:"sewn"` // pillowcases
	Kits     int    `db:"kits"` // they have at the closing
	Cases    int    `db:"cases"`
	Contacts
}

// Minutes is all that somebody gave.
func (p BookPerson) Minutes() int { return p.Sewing + p.Cutting + p.Checking + p.AtTable + p.Other }

// BookHours is time that somebody gave on one day.
type BookHours struct {
	Number   int64     `db:"number"`
	Day      time.Time `db:"day"`
	PersonNo int64     `db:"person_no"`
	Name     string    `db:"name"`
	Doing    string    `db:"doing"`
	Heads    int       `db:"heads"`
	Minutes  int       `db:"minutes"`
}
