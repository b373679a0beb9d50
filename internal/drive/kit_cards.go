package drive

import (
	"slices"
	"time"

	"boltward/internal/sizing"
)

// KitToSew is one part of a kit with what its volunteer needs to know.
type KitToSew struct {
	KitRef
	Cases     int
	State     KitState
	Holder    *int64
	Due       *time.Time
	OwnFabric bool
	Note      string
	SizeName  string
	Spec      sizing.Spec
	ForWhom   string // the recipient; empty: not promised yet
	Fibres    []string
	Rules     []string
	Whole     bool // nothing parted from its number, so the counts of its cloth are the kit's own
	Cloth     []KitPanels
	Lessons   []Lesson // what came up at the checking table lately
}

// KitPanels is how many panels of one role a kit has of one lot.
type KitPanels struct {
	KitRef
	Role   string `db:"role"`
	Lot    int64  `db:"lot"`
	Look   string `db:"look"` // its print, colours and themes
	OneWay bool   `db:"one_way"`
	N      int    `db:"n"`
}

// HoldersOf gives who has these kits, each once.
func HoldersOf(kits []KitToSew) []int64 {
	var who []int64
	for _, k := range kits {
		if k.State == KitOut && k.Holder != nil && !slices.Contains(who, *k.Holder) {
			who = append(who, *k.Holder)
		}
	}
	return who
}
