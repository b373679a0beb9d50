package site

import (
	"fmt"
	"io"
	"net/http"
	"strconv"
	"strings"
	"time"

	"github.com/gin-gonic/gin"

	"boltward/internal/drive"
	"boltward/internal/postgres"
	"boltward/internal/workbook"
)

// trailPage is who changed what, newest first.
type trailPage struct {
	List     listing
	Form     trailForm
	Problems map[string]string
	By       []option
	Kinds    []option
	Days     []trailDay
	File     string // the same as a spreadsheet
}

func (trailPage) template() string { return "trail.html" }
func (trailPage) title() string    { return "Who changed what" }

// Chosen says whether anything narrows the trail.
func (p trailPage) Chosen() bool { return p.Form != trailForm{} }

// trailForm is what is looked for, as typed.
type trailForm struct {
	Q, By, Kind, Which, From, To string
}

// trailDay is what was done on one day.
type trailDay struct {
	Day  time.Time
	Rows []trailRow
}

// trailRow is one entry in words.
type trailRow struct {
	Clock    string // in the drive's zone
	Who      string
	WhoPath  string
	Initials string // where they are not those of who signed in
	Act      string
	Thing    string // as it is called: Lot 12, Mary Ellis
	Path     string // where it is looked at, where there is such a page
	Changes  []drive.TrailChange
	Request  string
}

// trail handles GET /drives/:drive/trail.
func (s *Site) trail(c *gin.Context) error {
	ctx, driveID := c.Request.Context(), s.driveID(c)
	page := trailPage{List: s.listing(c), Problems: map[string]string{}, Kinds: trailKinds()}
	query := s.trailQuery(c, &page)
	accounts, err := s.db.TrailAccounts(ctx, driveID)
	if err != nil {
		return err
	}
	page.By = trailBy(accounts)
	status := http.StatusOK
	if len(page.Problems) > 0 {
		return s.page(c, http.StatusUnprocessableEntity, page)
	}
	if page.List.Total, err = s.db.TrailCount(ctx, driveID, query); err != nil {
		return err
	}
	if to := page.List.pastEnd(); to != "" {
		return s.seeOther(c, to)
	}
	query.Limit, query.Offset = page.List.Limit(), page.List.Offset()
	entries, err := s.db.Trail(ctx, driveID, query)
	if err != nil {
		return err
	}
	names, err := s.db.TrailNames(ctx, driveID, entries)
	if err != nil {
		return err
	}
	for _, e := range entries {
		row, at, err := s.trailRow(c, e, names)
		if err != nil {
			return err
		}
		day := drive.Day(e.At, at.Location())
		if n := len(page.Days); n == 0 || !page.Days[n-1].Day.Equal(day) {
			page.Days = append(page.Days, trailDay{Day: day})
		}
		last := &page.Days[len(page.Days)-1]
		last.Rows = append(last.Rows, row)
	}
	page.File = page.List.with(s.path(c, "trail", "trail.csv"))
	return s.page(c, status, page)
}

// trailFile handles GET /drives/:drive/trail/trail.csv: what is looked for, all of it.
func (s *Site) trailFile(c *gin.Context) error {
	page := trailPage{List: s.listing(c), Problems: map[string]string{}}
	query := s.trailQuery(c, &page)
	if len(page.Problems) > 0 {
		return s.trail(c)
	}
	return s.written(c, s.driveID(c)+"-trail.csv", asText, func(w io.Writer) error {
		return workbook.WriteTrail(w, func(yield func(workbook.TrailLine, error) bool) { s.trailLines(c, query, yield) })
	})
}

// trailPart is how many entries a file takes from the database at once.
const trailPart = 500

// trailLines gives every entry for a file, some at a time, so that nothing long is held.
func (s *Site) trailLines(c *gin.Context, query postgres.TrailQuery, yield func(workbook.TrailLine, error) bool) {
	ctx, driveID := c.Request.Context(), s.driveID(c)
	for query.Limit = trailPart; ; {
		entries, err := s.db.Trail(ctx, driveID, query)
		var names map[drive.TrailThing]string
		if err == nil {
			names, err = s.db.TrailNames(ctx, driveID, entries)
		}
		if err != nil {
			yield(workbook.TrailLine{}, err)
			return
		}
		for _, e := range entries {
			row, at, err := s.trailRow(c, e, names)
			said := make([]string, len(row.Changes))
			for i, change := range row.Changes {
				said[i] = change.Text()
			}
			line := workbook.TrailLine{
				At: at, Who: row.Who, Initials: e.Initials, Act: row.Act, Thing: thingOf(e.Kind).label, Which: e.Subject, Name: names[e.Thing()],
				Changes: strings.Join(said, "; "), Request: e.Request,
			}
			if !yield(line, err) || err != nil {
				return
			}
			query.Before = e.ID
		}
		if len(entries) < trailPart {
			return
		}
	}
}

// trailQuery reads what is looked for; a day that cannot be read is a problem.
func (s *Site) trailQuery(c *gin.Context, page *trailPage) postgres.TrailQuery {
	list := &page.List
	page.Form = trailForm{
		Q: list.Q, By: list.Filter("by"), Kind: list.Filter("kind"), Which: list.Filter("which"), From: list.Filter("from"), To: list.Filter("to"),
	}
	f, zone := page.Form, s.drive(c).Location()
	query := postgres.TrailQuery{Q: f.Q, Kind: f.Kind, Which: strings.TrimLeft(f.Which, "# ")}
	switch f.By {
	case "":
	case "links":
		query.By = postgres.TrailByLink
	case "program":
		query.By = postgres.TrailByProgram
	default:
		if helper, below := strings.CutPrefix(f.By, "-"); below { // at a tablet
			query.By = postgres.TrailBy(-typedNumber(helper))
		} else {
			query.By = postgres.TrailBy(typedNumber(f.By))
		}
	}
	if from := typedDay(page.Problems, "from", f.From); from != nil {
		query.From = drive.DayBegins(*from, zone)
	}
	if to := typedDay(page.Problems, "to", f.To); to != nil {
		query.Until = drive.DayBegins(to.AddDate(0, 0, 1), zone)
	}
	if !query.From.IsZero() && !query.Until.IsZero() && !query.From.Before(query.Until) {
		problem(page.Problems, "to", "The last day lies before the first.")
	}
	return query
}

// trailRow tells an entry in words, and gives its moment in the drive's zone.
func (s *Site) trailRow(c *gin.Context, e drive.TrailEntry, names map[drive.TrailThing]string) (trailRow, time.Time, error) {
	d := s.drive(c)
	at := e.At.In(d.Location())
	changes, err := drive.TrailChanges(e, d.Unit, names)
	row := trailRow{
		Clock: at.Format("15:04"), Act: strings.ToUpper(e.Act[:1]) + e.Act[1:], Thing: thingCalled(e.Thing(), names), Path: s.thingPath(c, e.Thing()),
		Changes: changes, Request: e.Request,
	}
	switch by := e.By(); by.Kind {
	case "":
		row.Who = "the program"
	case "account":
		row.Who = names[by]
		if row.Who == "" {
			row.Who = "account " + by.Which
		}
		row.Initials = e.Initials
	default:
		row.Who, row.WhoPath = thingCalled(by, names)+", by their link", s.thingPath(c, by)
	}
	return row, at, err
}

func trailBy(accounts []postgres.TrailAccount) []option {
	options := []option{{"", "anybody"}}
	for _, a := range accounts {
		options = append(options, option{strconv.FormatInt(a.ID, 10), a.Name})
	}
	return append(options, option{"links", "by a personal link"}, option{"program", "the program: commands, background work"})
}

func trailKinds() []option {
	options := []option{{"", "anything"}}
	for _, t := range things() {
		options = append(options, option{t.kind, t.label})
	}
	return options
}

// thingCalled gives what people call a thing: its name, else its kind and number.
func thingCalled(thing drive.TrailThing, names map[drive.TrailThing]string) string {
	if name := names[thing]; name != "" {
		return name
	}
	t := thingOf(thing.Kind)
	if t.alone {
		return t.label
	}
	return fmt.Sprintf("%s %s", t.label, thing.Which)
}
