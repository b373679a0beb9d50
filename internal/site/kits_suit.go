package site

import (
	"fmt"
	"strings"
	"time"

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

// homesWords is what there is to say of somebody's home when kits go there: what speaks
// Against it, and what to Ask them because they were not asked yet.
type homesWords struct{ Against, Ask string }

// homesOf holds what recipients of kits ask of homes against what somebody said of theirs. It is
// looked at when kits go out, for who is in a hurry, or scans, sees no order; and whatever has
// become of the kits, so that a form that is sent twice is answered the same.
func (s *Site) homesOf(c *gin.Context, wish drive.HandOut) (homesWords, error) {
	kits, err := s.db.KitHomes(c.Request.Context(), s.driveID(c), wish.Kits)
	if err != nil || len(kits) == 0 {
		return homesWords{}, err
	}
	p, err := s.db.Person(c.Request.Context(), s.driveID(c), wish.Person)
	if apperr.Is(err, apperr.KindNotFound) {
		return homesWords{}, nil // handing out says so
	}
	if err != nil {
		return homesWords{}, err
	}
	var not, unsaid []string
	for _, k := range kits {
		lacks, against := p.HomeLacks(k.Homes)
		words := fmt.Sprintf("kit %s is for somebody who asks for homes with %s", k.KitRef, strings.Join(k.Homes, " and "))
		if against {
			not = append(not, words)
		} else if len(lacks) > 0 {
			unsaid = append(unsaid, words)
		}
	}
	var said homesWords
	if len(not) > 0 {
		said.Against = fmt.Sprintf("%s, and %s says that theirs is not so.", firstOf(not), p.Name)
	}
	if len(unsaid) > 0 {
		said.Ask = fmt.Sprintf(" %s: ask %s, and note it under People.", firstOf(unsaid), p.Name)
	}
	return said, nil
}

// told says the same of what has gone out or come in already: it is said, and nothing is
// asked. It begins with a space, so that it goes on after what was done.
func (w homesWords) told() string {
	if w.Against == "" {
		return w.Ask
	}
	return " " + w.Against + w.Ask
}

// homeOfMaker holds what the recipient of a line asks of homes against what somebody said of
// theirs who sewed for it without a kit; nothing where either is not known.
func (s *Site) homeOfMaker(c *gin.Context, b drive.BroughtIn) (string, error) {
	if b.Maker == nil || b.Asked == 0 {
		return "", nil
	}
	ctx, id := c.Request.Context(), s.driveID(c)
	line, err := s.db.Asked(ctx, id, b.Asked)
	if err != nil {
		return "", err
	}
	r, err := s.db.Recipient(ctx, id, line.Recipient)
	if err != nil || len(r.Homes) == 0 {
		return "", err
	}
	p, err := s.db.Person(ctx, id, *b.Maker)
	if err != nil {
		return "", err
	}
	asks := r.Name + " asks for homes with " + strings.Join(r.Homes, " and ")
	switch lacks, against := p.HomeLacks(r.Homes); {
	case against:
		return fmt.Sprintf(" %s, and %s says that theirs is not so: give them to somebody else, or ask %s first.", asks, p.Name, r.Name), nil
	case len(lacks) > 0:
		return fmt.Sprintf(" %s: ask %s, and note it under People.", asks, p.Name), nil
	}
	return "", nil
}

// beside is what is told beside a booking that stands. Where that could not be read it says so: an error
// page would be taken for a booking that was refused.
func (s *Site) beside(c *gin.Context, said string, err error) string {
	if err == nil {
		return said
	}
	s.logFailure(c, err)
	return said + " What else there is to say of it could not be read."
}

// neededSooner says of kits that are to be back after the day they are needed by; nothing where
// none is. It is told, not refused: the kits may be the only ones there are. It begins with a space.
func (s *Site) neededSooner(c *gin.Context, kits []drive.KitRef, due *time.Time) (string, error) {
	rows := make([]drive.SignedOut, len(kits))
	for i, kit := range kits {
		rows[i] = drive.SignedOut{Kit: kit, Due: due}
	}
	return s.neededSoonerOnSheet(c, rows)
}

// neededSoonerOnSheet is neededSooner for kits that have each a day of their own. Where a kit was
// needed by a day that has passed, no earlier one can be agreed on.
func (s *Site) neededSoonerOnSheet(c *gin.Context, rows []drive.SignedOut) (string, error) {
	var kits []drive.KitRef
	dues, last := map[drive.KitRef]time.Time{}, time.Time{}
	for _, r := range rows {
		if r.Due != nil {
			kits = append(kits, r.Kit)
			dues[r.Kit] = *r.Due
			if r.Due.After(last) {
				last = *r.Due
			}
		}
	}
	if len(kits) == 0 {
		return "", nil
	}
	late, err := s.db.KitsNeededBefore(c.Request.Context(), s.driveID(c), kits, last)
	if err != nil {
		return "", err
	}
	var soon, past []string
	for _, k := range late {
		due, by := dues[k.KitRef], k.By.Format("2 Jan 2006")
		switch {
		case !k.By.Before(due):
		case k.By.Before(s.today(c)):
			past = append(past, fmt.Sprintf("kit %s was needed by %s", k.KitRef, by))
		default:
			soon = append(soon, fmt.Sprintf("kit %s is needed by %s, before the %s it is to be back", k.KitRef, by, due.Format("2 Jan")))
		}
	}
	text := ""
	if len(soon) > 0 {
		text = fmt.Sprintf(" %s: agree on an earlier day.", firstOf(soon))
	}
	if len(past) > 0 {
		text += fmt.Sprintf(" %s.", firstOf(past))
	}
	return text, nil
}

// homesOnSheet is homesOf for each who took kits by a sign-out sheet.
func (s *Site) homesOnSheet(c *gin.Context, rows []drive.SignedOut) (string, error) {
	var people []int64
	kits := map[int64][]drive.KitRef{}
	for _, r := range rows {
		if len(kits[r.Person]) == 0 {
			people = append(people, r.Person)
		}
		kits[r.Person] = append(kits[r.Person], r.Kit)
	}
	text := ""
	for _, person := range people {
		homes, err := s.homesOf(c, drive.HandOut{Kits: kits[person], Person: person})
		if err != nil {
			return "", err
		}
		text += homes.told()
	}
	return text, nil
}

// firstOf begins a sentence with the first of a few, and says how many more there are.
func firstOf(words []string) string {
	text := strings.ToUpper(words[0][:1]) + words[0][1:]
	if len(words) > 1 {
		text += fmt.Sprintf(" (and %d more of them)", len(words)-1)
	}
	return text
}
