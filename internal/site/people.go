package site

import (
	"fmt"
	"net/http"

	"github.com/gin-gonic/gin"

	"boltward/internal/account"
	"boltward/internal/drive"
	"boltward/internal/postgres"
)

// eventsShown is how much of what happened with somebody their page tells.
const eventsShown = 100

// peoplePage lists who sews: what they have and have done.
type peoplePage struct {
	List   listing
	People []postgres.PersonLine
	Total  int
	Kits   int
	Cases  int
	Late   int
	Done   int
	Hours  string // given by all of them; empty: none noted
	Any    bool
	File   string // the same as a spreadsheet
}

func (peoplePage) template() string { return "people.html" }
func (peoplePage) title() string    { return "People" }

// people handles GET /drives/:drive/people.
func (s *Site) people(c *gin.Context) error {
	list := s.listing(c, peopleSorts()...)
	query := s.peopleQuery(c, &list)
	found, err := s.db.People(c.Request.Context(), s.driveID(c), query)
	if err != nil {
		return err
	}
	list.Total = found.Total
	if to := list.pastEnd(); to != "" {
		return s.seeOther(c, to)
	}
	page := peoplePage{
		List: list, People: found.People, Total: found.Total, Kits: found.Kits, Cases: found.Cases, Late: found.Late, Done: found.Done,
		Any: found.Total > 0, File: s.path(c, "people", "people.csv") + "?" + c.Request.URL.RawQuery,
	}
	if found.Minutes > 0 {
		page.Hours = drive.HoursText(found.Minutes)
	}
	if !page.Any {
		all, err := s.db.People(c.Request.Context(), s.driveID(c), postgres.PeopleQuery{Who: postgres.PeopleAll, Limit: 1, Today: s.today(c)})
		if err != nil {
			return err
		}
		page.Any = all.Total > 0
	}
	return s.page(c, http.StatusOK, page)
}

func peopleSorts() []string {
	return []string{"name", "kind", "pickup", "kits", "due", "done", "hours"}
}

// peopleQuery reads how the list is looked at.
func (s *Site) peopleQuery(c *gin.Context, list *listing) postgres.PeopleQuery {
	who := list.Choose("who", "Who", []option{
		{string(postgres.PeopleSewing), "who sews"},
		{string(postgres.PeopleWithKits), "with kits"},
		{string(postgres.PeopleFree), "without a kit"},
		{string(postgres.PeopleResting), "resting"},
		{string(postgres.PeopleAll), "everybody"},
	})
	kinds := []option{{"", "any"}}
	for _, kind := range drive.PersonKinds() {
		kinds = append(kinds, option{string(kind), string(kind)})
	}
	return postgres.PeopleQuery{
		Q: list.Q, Contacts: s.may(c, account.Contacts, account.Read), Kind: drive.PersonKind(list.Choose("kind", "Kind", kinds)), Who: postgres.PeopleWho(who),
		Sort: list.Sort, Desc: list.Desc, Limit: list.Limit(), Offset: list.Offset(), Today: s.today(c),
	}
}

// personPage is somebody who sews: what they have, how to reach them for those
// who may read it, what they have done.
type personPage struct {
	Who      drive.Person
	Contacts *drive.Contacts // nil for those who may not read them
	Kits     []kitRow
	Cases    int // in the kits they have
	Done     int
	Cards    string // where the cards of their kits are printed; empty without a kit
	Events   []personEvent
	Hours    string // given so far; empty: none noted
	Given    []hoursRow
	Form     hoursForm
	Problems map[string]string
	Doing    []option
	Link     personLink
	Shows    bool // the link may be passed on by who looks
	Said     []drive.StandingReport
	Reminded bool // they want reminders
	Erases   bool // whoever looks may forget them, and take what is kept about them
}

func (personPage) template() string { return "person.html" }
func (p personPage) title() string  { return p.Who.Name }

// personEvent is one line of what happened.
type personEvent struct {
	postgres.PersonEvent
	Said string
}

// onePerson handles GET /drives/:drive/people/:person.
func (s *Site) onePerson(c *gin.Context) error {
	number, err := s.number(c, "person")
	if err != nil {
		return err
	}
	return s.onePersonWith(c, http.StatusOK, number, hoursForm{}, map[string]string{})
}

func (s *Site) onePersonWith(c *gin.Context, status int, number int64, form hoursForm, problems map[string]string) error {
	ctx, driveID := c.Request.Context(), s.driveID(c)
	page := personPage{Form: form, Problems: problems, Doing: doingOptions()}
	var err error
	if page.Who, err = s.db.Person(ctx, driveID, number); err != nil {
		return err
	}
	if s.may(c, account.Contacts, account.Read) {
		contacts, err := s.db.Contacts(ctx, driveID, number)
		if err != nil {
			return err
		}
		page.Contacts = &contacts
	}
	kits, err := s.db.Kits(ctx, driveID, postgres.KitsQuery{Where: postgres.KitsOut, Holder: number, Sort: "due", Today: s.today(c)})
	if err != nil {
		return err
	}
	page.Erases = s.may(c, account.Contacts, account.Write)
	page.Kits, page.Cases = s.kitRows(c, kits.Kits), kits.Cases
	if len(kits.Kits) > 0 && len(kits.Kits) <= cardsPrinted {
		var refs []drive.KitRef
		for _, k := range kits.Kits {
			refs = append(refs, k.KitRef)
		}
		page.Cards = s.path(c, "kits", "cards") + "?" + kitsInQuery(refs)
	}
	if page.Done, err = s.db.DoneBy(ctx, driveID, number); err != nil {
		return err
	}
	hours, minutes, err := s.db.HoursOf(ctx, driveID, number)
	if err != nil {
		return err
	}
	page.Given = hoursRows(hours)
	if minutes > 0 {
		page.Hours = drive.HoursText(minutes)
	}
	if page.Form.Heads == "" {
		page.Form.Heads = fmt.Sprint(page.Who.Heads)
	}
	if page.Shows = s.showsLink(c); page.Shows {
		if page.Link, err = s.linkOf(c, page.Who, page.Contacts); err != nil {
			return err
		}
	}
	if page.Reminded, err = s.db.WantsReminders(ctx, driveID, number); err != nil {
		return err
	}
	said, err := s.db.ReportsOf(ctx, driveID, number, 0)
	if err != nil {
		return err
	}
	for _, k := range kits.Kits {
		page.Said = append(page.Said, said[k.KitRef]...)
	}
	events, err := s.db.PersonEvents(ctx, driveID, number, eventsShown)
	if err != nil {
		return err
	}
	for _, e := range events {
		page.Events = append(page.Events, personEvent{e, personEventSaid(e)})
	}
	return s.page(c, status, page)
}

// personEventSaid says what happened, as a clause before the kit's name.
func personEventSaid(e postgres.PersonEvent) string {
	said := map[string]string{
		"got": "got", "to mend": "got to mend", "longer": "has longer for", "sewn": "sewed", "mended": "mended", "brought in": "brought in",
		"lost": "lost", "unsewn": "brought back unsewn", "given on": "passed on",
	}[e.Kind]
	if said == "" { // a reminder says how it was made, and is of the kits as they were then
		return e.Kind
	}
	return said + " " + countCases(e.Cases)
}
