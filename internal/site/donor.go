package site

import (
	"fmt"
	"net/http"
	"slices"
	"time"

	"github.com/gin-gonic/gin"

	"boltward/internal/account"
	"boltward/internal/drive"
	"boltward/internal/length"
	"boltward/internal/postgres"
)

// donorPage is what somebody gave and what became of it.
type donorPage struct {
	Donor    drive.Donor
	Erased   bool
	Contacts *drive.DonorContacts // nil for those who may not read them
	Lots     []gaveRow
	Together []string // what became of all of it, in pillowcases
	CameIn   string
	Gifts    []giftRow
	Writes   bool
	Letters  bool // may print letters
	Erases   bool
}

func (donorPage) template() string { return "donor.html" }
func (p donorPage) title() string  { return p.Donor.Name }

// gaveRow is one lot that a donor gave.
type gaveRow struct {
	Number int64
	On     time.Time
	What   string
	CameIn string
	Cloth  []string // where its cloth is
	Cases  []string // the pillowcases it is in
}

// donor handles GET /drives/:drive/donors/:donor.
func (s *Site) donor(c *gin.Context) error {
	number, err := s.number(c, "donor")
	if err != nil {
		return err
	}
	ctx, d := c.Request.Context(), s.drive(c)
	page := donorPage{
		Writes: s.may(c, account.Fabric, account.Write), Erases: s.may(c, account.Contacts, account.Write),
		Letters: s.may(c, account.Fabric, account.Write) && s.may(c, account.Contacts, account.Read),
	}
	if page.Donor, err = s.db.Donor(ctx, d.ID, number); err != nil {
		return err
	}
	page.Erased = page.Donor.ErasedAt != nil
	if s.may(c, account.Contacts, account.Read) {
		contacts, err := s.db.DonorContacts(ctx, d.ID, number)
		if err != nil {
			return err
		}
		page.Contacts = &contacts
	}
	lots, cases, err := s.db.DonorGave(ctx, d.ID, number)
	if err != nil {
		return err
	}
	var all length.Area
	for _, l := range lots {
		all += l.CameIn
		page.Lots = append(page.Lots, gaveRow{l.Number, l.ReceivedOn, l.Describe(d), areaOr(l.CameIn, d.Unit), clothFates(l, d), casesReached(cases, l.Number)})
	}
	page.CameIn, page.Together = areaOr(all, d.Unit), casesReached(cases, 0)
	gifts, err := s.db.Gifts(ctx, d.ID, number, time.Date(1990, 1, 1, 0, 0, 0, 0, time.UTC), time.Date(2200, 12, 31, 0, 0, 0, 0, time.UTC))
	if err != nil {
		return err
	}
	for _, g := range gifts {
		page.Gifts = append(page.Gifts, newGiftRow(g, d))
	}
	slices.Reverse(page.Gifts)
	return s.page(c, http.StatusOK, page)
}

// clothFates says where the cloth of a lot is, in areas.
func clothFates(l postgres.GaveLot, d drive.Drive) []string {
	if !l.Measured() {
		return []string{"to be measured"}
	}
	var fates []string
	for _, f := range []struct {
		area  length.Area
		words string
	}{
		{l.Free, "on the shelf"},
		{l.Promised, "promised to plans"},
		{l.Cut, "cut for kits"},
		{l.GivenOn, "given on"},
		{l.Discarded, "discarded"},
		{l.Other, "squared off, offcuts or lost in the wash"},
	} {
		if f.area > 0 {
			fates = append(fates, f.area.Format(d.Unit)+" "+f.words)
		}
	}
	return fates
}

// casesReached says how far the pillowcases that hold cloth of a lot have come; of
// all lots together where lot is 0. Pillowcases of a kit are alike to the books:
// where only some of a kit's hold the cloth, those that came furthest are counted,
// and it says about.
func casesReached(cases []postgres.GaveCases, lot int64) []string {
	delivered, counts, about := map[string]int{}, map[string]int{}, false
	var wards []string
	for _, kit := range kitsOf(cases, lot) {
		left, whole := kit[0].Holding, 0
		for _, c := range kit {
			whole += c.N
		}
		about = about || whole > left && len(kit) > 1
		for _, c := range kit {
			n := min(c.N, left)
			left -= n
			words := reachedWords(c.State)
			if words != "" {
				counts[words] += n
				continue
			}
			if delivered[c.Recipient] == 0 && n > 0 {
				wards = append(wards, c.Recipient)
			}
			delivered[c.Recipient] += n
		}
	}
	var said []string
	for _, ward := range wards {
		to := ward
		if to == "" {
			to = "a recipient"
		}
		said = append(said, fmt.Sprintf("%d delivered to %s", delivered[ward], to))
	}
	for _, words := range []string{"sewn, here", "in kits", "planned", "lost or not usable"} {
		if counts[words] > 0 {
			said = append(said, fmt.Sprintf("%d %s", counts[words], words))
		}
	}
	if about && len(said) > 0 {
		said[0] = "about " + said[0]
	}
	return said
}

// kitsOf parts the rows of a lot by kit, those that came furthest first.
func kitsOf(cases []postgres.GaveCases, lot int64) [][]postgres.GaveCases {
	order := []drive.CaseState{drive.CaseConfirmed, drive.CaseDelivered, drive.CasePacked, drive.CaseGood, drive.CaseToMend, drive.CaseSewn, drive.CaseOut, drive.CaseCut, drive.CasePlanned}
	rank := func(state drive.CaseState) int {
		if at := slices.Index(order, state); at >= 0 {
			return at
		}
		return len(order)
	}
	var kits [][]postgres.GaveCases
	for _, c := range cases {
		if c.Lot != lot {
			continue
		}
		if n := len(kits); n == 0 || kits[n-1][0].Kit != c.Kit {
			kits = append(kits, nil)
		}
		kits[len(kits)-1] = append(kits[len(kits)-1], c)
	}
	for _, kit := range kits {
		slices.SortStableFunc(kit, func(a, b postgres.GaveCases) int { return rank(a.State) - rank(b.State) })
	}
	return kits
}

// reachedWords says where pillowcases in a state are; nothing for those delivered.
func reachedWords(state drive.CaseState) string {
	switch state {
	case drive.CaseDelivered, drive.CaseConfirmed:
		return ""
	case drive.CasePacked, drive.CaseGood, drive.CaseToMend, drive.CaseSewn:
		return "sewn, here"
	case drive.CaseOut, drive.CaseCut:
		return "in kits"
	case drive.CasePlanned:
		return "planned"
	}
	return reachedNobody
}

// reachedNobody is said of pillowcases that are of no more use.
const reachedNobody = "lost or not usable"
