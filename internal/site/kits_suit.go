package site

import (
	"strings"

	"github.com/gin-gonic/gin"

	"boltward/internal/apperr"
	"boltward/internal/drive"
)

// kitsWeighed is the most kits that are weighed for whom they suit, those needed
// first and lying longest.
const kitsWeighed = 2000

// kitsToOffer gives kits to tick: for somebody who is chosen those that suit come
// first, each with why; else those needed first. more is how many lie here beside.
func (s *Site) kitsToOffer(c *gin.Context, form handOutForm) (offer []option, more int, whom string, err error) {
	lines, here, all, err := s.db.KitsHere(c.Request.Context(), s.driveID(c), kitsWeighed)
	if err != nil {
		return nil, 0, "", err
	}
	labels := make(map[drive.KitRef]string, len(lines))
	for _, k := range lines {
		labels[k.KitRef] = kitLabel(k)
		if k.Place != "" {
			labels[k.KitRef] += ", at " + k.Place
		}
	}
	who, err := s.sewist(c, form)
	if err != nil {
		return nil, 0, "", err
	}
	if who == nil {
		for _, k := range lines[:min(len(lines), kitsOffered)] {
			offer = append(offer, option{k.String(), labels[k.KitRef]})
		}
		return offer, all - len(offer), "", nil
	}
	suits := who.Suits(here)
	for _, suit := range suits[:min(len(suits), kitsOffered)] {
		label := labels[suit.KitRef]
		if len(suit.Why) > 0 {
			label += " (" + strings.Join(suit.Why, "; ") + ")"
		}
		offer = append(offer, option{suit.String(), label})
	}
	return offer, all - len(offer), who.Name, nil
}

// sewist is who the form chose, nil for nobody yet.
func (s *Site) sewist(c *gin.Context, form handOutForm) (*drive.Sewist, error) {
	number := typedNumber(form.Person)
	if number == 0 {
		return nil, nil
	}
	p, err := s.db.Person(c.Request.Context(), s.driveID(c), number)
	if apperr.Is(err, apperr.KindNotFound) {
		return nil, nil // the form says so where it is sent
	}
	if err != nil {
		return nil, err
	}
	who := drive.Sewist{Person: p}
	if due := typedDay(map[string]string{}, "due", form.Due); due != nil {
		who.Weeks = int(due.Sub(s.today(c)).Hours()) / (24 * 7)
	}
	who.Sizes, err = s.db.SizesSewnBy(c.Request.Context(), s.driveID(c), number)
	return &who, err
}
