package drive

import (
	"time"

	"boltward/internal/apperr"
	"boltward/internal/length"
)

// Books is everything a committee or an auditor reads, from one day to another,
// both included. What stands, stands as at the end of the last day.
type Books struct {
	Drive      Drive
	From, To   time.Time
	MadeAt     time.Time
	Asked      []BookLine
	Fabric     []BookLot
	Kits       []BookKit
	Deliveries []BookDelivery
}

// CheckPeriod refuses days that do not make a period, by field.
func CheckPeriod(from, to time.Time) error {
	if to.Before(from) {
		return apperr.Invalid("to", "The last day is before the first.")
	}
	if to.After(from.AddDate(50, 0, 0)) {
		return apperr.Invalid("from", "That is more than 50 years. Look at the years again.")
	}
	return nil
}

// BookLine is a line asked for and one size, with the pillowcases that stand for
// it and what moved in the period. Number 0 is "not promised yet".
type BookLine struct {
	Number    int64      `db:"number"`
	Recipient string     `db:"recipient"`
	Size      string     `db:"size"`
	Wanted    int        `db:"wanted"` // on the first row of a line only, so that rows add up
	Due       *time.Time `db:"due"`
	Matter    string     `db:"matter"`
	Closed    bool       `db:"closed"`
	Counts    Counts     `db:"counts"`
	CameIn    int        `db:"came_in"`   // sewn in the period, from kits and without
	FoundGood int        `db:"good"`      // found good in the period
	Sent      int        `db:"sent"`      // delivered in the period
	Confirmed int        `db:"confirmed"` // confirmed in the period
}

// BookLot is a lot's account in area: what lay on the shelf at the opening, what
// came and went, what lies there at the closing.
type BookLot struct {
	Lot       int64       `db:"lot"`
	Tag       string      `db:"tag"`
	Donor     string      `db:"donor"`
	Cloth     string      `db:"cloth"`
	Shelf     string      `db:"shelf"`
	Received  time.Time   `db:"received_on"`
	Opening   length.Area `db:"opening"`
	TakenIn   length.Area `db:"taken_in"`
	Recounted length.Area `db:"recounted"` // signed
	CutToKits length.Area `db:"cut"`       // went out, so positive
	Offcuts   length.Area `db:"offcuts"`
	GivenAway length.Area `db:"given"`
	Closing   length.Area `db:"closing"` // from the balances, not from the columns before it
	Promised  length.Area `db:"promised"`
}

// Adds says whether opening + in − out = closing.
func (l BookLot) Adds() bool {
	return l.Opening+l.TakenIn+l.Recounted-l.CutToKits-l.Offcuts-l.GivenAway == l.Closing
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

// BookDelivery is a delivery with its counts.
type BookDelivery struct {
	Number      int64      `db:"number"`
	Recipient   string     `db:"recipient"`
	SentOn      time.Time  `db:"sent_on"`
	CarriedBy   string     `db:"carried_by"`
	Boxes       int        `db:"boxes"`
	Sent        int        `db:"sent"`
	Confirmed   int        `db:"confirmed"`
	Missing     int        `db:"missing"`
	ConfirmedOn *time.Time `db:"confirmed_on"`
	ConfirmedBy string     `db:"confirmed_by"`
}
