package site

import (
	"cmp"
	"context"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"time"

	"github.com/gin-gonic/gin"

	"boltward/internal/account"
	"boltward/internal/drive"
	"boltward/internal/outlook"
	"boltward/internal/planning"
	"boltward/internal/postgres"
)

// askedPage is what everybody asked for and how far it has come.
type askedPage struct {
	List     listing
	File     string // the lines as a spreadsheet
	Groups   []askedGroup
	Together drive.Standing // of every line that is found
	Lines    int
	Tape     tape
	Foretold *foretold // of everything together; nil where nothing is left to do
	AsOf     string    // when the likely days were worked out, where that was not just now
	Monthly  []monthlyRow
	Nobody   bool   // there is no recipient yet
	AddFirst string // where the first one is added, for those who may
	Next     *step
}

func (askedPage) template() string { return "asked.html" }
func (askedPage) title() string    { return "Asked for" }

// askedGroup is one recipient with its lines.
type askedGroup struct {
	Number   int64
	Name     string
	Together drive.Standing
	Due      *time.Time // the first day on which something is still due
	Likely   likely
	Lines    []askedRow
}

// askedRow is one line as it is shown.
type askedRow struct {
	drive.AskedLine
	Standing drive.Standing
	What     string // sizes and themes
	Course   courseWords
	Likely   likely
	Why      *lineShort // why the newest plan leaves it short, where it does
}

// lineShort is why a plan makes less than a line asks for.
type lineShort struct {
	Plan  int64
	Short int    // of what is missing now
	Words string // why the plan was short when it was made
	Then  string // what the plan counts, where that is not what is missing now; else empty
}

// shortThen says why a plan counts otherwise than the column beside it.
func shortThen(plan postgres.NewestPlan, counts, missing, spareShare int) string {
	switch {
	case counts > missing && spareShare > 0:
		return fmt.Sprintf("Plan %d left %d missing when it was made, with %d %% more asked of it for kits that never come back. Now %d %s missing.", plan.Number, counts, spareShare, missing, is(missing))
	case counts > missing:
		return fmt.Sprintf("Plan %d left %d missing when it was made. Now %d %s missing.", plan.Number, counts, missing, is(missing))
	case counts < missing && !plan.Accepted:
		return fmt.Sprintf("All %d stay missing until the plan is accepted.", missing)
	case counts < missing:
		return fmt.Sprintf("The other %d of the %d missing came on top since it was made.", missing-counts, missing)
	}
	return ""
}

// courseWords says how a line stands, in the colour of it.
type courseWords struct{ Text, Class string }

// asked handles GET /drives/:drive/asked.
func (s *Site) asked(c *gin.Context) error {
	list, show := s.askedLookedAt(c)
	ctx, id := c.Request.Context(), s.driveID(c)
	var recipients []drive.Recipient
	var lines []drive.AskedLine
	var plan postgres.NewestPlan
	var reasons []planning.Reason
	var kept *drive.KeptForecast
	var standing []drive.StandingAsk
	var done drive.FirstSteps
	err := s.db.Together(ctx,
		func(ctx context.Context) (err error) { recipients, err = s.db.Recipients(ctx, id); return err },
		func(ctx context.Context) (err error) { lines, err = s.db.AskedLines(ctx, id); return err },
		func(ctx context.Context) (err error) { plan, reasons, err = s.db.NewestReasons(ctx, id); return err },
		func(ctx context.Context) (err error) {
			kept, err = s.db.KeptForecast(ctx, id, outlook.Form)
			return err
		},
		func(ctx context.Context) (err error) { standing, err = s.db.StandingAsks(ctx, id); return err },
		func(ctx context.Context) (err error) { done, err = s.db.FirstSteps(ctx, id); return err })
	if err != nil {
		return err
	}
	p := askedPage{Nobody: len(recipients) == 0}
	if s.may(c, account.Drive, account.Write) {
		p.AddFirst = s.path(c, "recipients", "new")
	}
	short := linesShort(plan, reasons, lines, s.drive(c))
	var help *int64
	if list.Q == "" && show == "open" {
		help = new(int64)
	}
	ahead, err := s.outlooks(ctx, s.drive(c), kept, lines, help)
	if err != nil {
		return err
	}
	p.AsOf = ahead.asOf
	groups := groupAsked(recipients, lines, short, list.Q, show, s.today(c))
	for i, g := range groups {
		groups[i].Likely = ahead.of(g.Number)
		for k, row := range g.Lines {
			g.Lines[k].Likely = ahead.line(row.AskedLine)
		}
		p.Together = p.Together.Plus(g.Together)
		p.Lines += len(g.Lines)
	}
	sortAsked(groups, list.Sort, list.Desc)
	list.Total = len(groups)
	if to := list.pastEnd(); to != "" {
		return s.seeOther(c, to)
	}
	from := min(list.Offset(), len(groups))
	p.Groups = groups[from:min(from+list.Limit(), len(groups))]
	p.List, p.Tape, p.File = list, standingTape(p.Together), list.with(s.path(c, "asked", "asked.csv"))
	p.Monthly = s.monthly(c, standing, recipients)
	if help != nil {
		p.Foretold = ahead.foretold(*help)
	}
	p.Next = nextOf(s.steps(c, done))
	return s.page(c, http.StatusOK, p)
}

// linesShort gives why lines of which something is still to be planned are short in the newest
// plan.
func linesShort(plan postgres.NewestPlan, reasons []planning.Reason, lines []drive.AskedLine, d drive.Drive) map[int64]*lineShort {
	if plan.Number == 0 {
		return nil
	}
	words := drive.ReasonWords(reasons, drive.ReasonNames(d.Unit, lines, nil))
	missing := map[string]int{}
	for _, r := range reasons {
		missing[r.Quota] = r.Missing
	}
	short := map[int64]*lineShort{}
	for _, l := range lines {
		if id := drive.NumberID(l.Number); l.ToPlan > 0 && missing[id] > 0 {
			now := l.Standing().Missing
			short[l.Number] = &lineShort{Plan: plan.Number, Short: min(missing[id], now), Words: words[id], Then: shortThen(plan, missing[id], now, d.SpareShare)}
		}
	}
	return short
}

// askedLookedAt reads which lines somebody looks at, and how.
func (s *Site) askedLookedAt(c *gin.Context) (listing, string) {
	list := s.listing(c, "name", "due", "asked", "missing")
	show := list.Choose("show", "Lines", []option{{"open", "open"}, {"closed", "closed"}, {"all", "all"}})
	return list, show
}

// groupAsked puts the lines that are looked for under their recipients. One
// without lines stands there too, unless something else is looked for.
func groupAsked(recipients []drive.Recipient, lines []drive.AskedLine, short map[int64]*lineShort, q, show string, today time.Time) []askedGroup {
	q = strings.ToLower(q)
	groups := make([]askedGroup, 0, len(recipients))
	for _, r := range recipients {
		g := askedGroup{Number: r.Number, Name: r.Name}
		named := q == "" || strings.Contains(strings.ToLower(r.Name), q)
		has := false
		for _, line := range lines {
			if line.Recipient != r.Number {
				continue
			}
			has = true
			row := newAskedRow(line, today)
			row.Why = short[line.Number]
			if show != "all" && line.Closed != (show == "closed") || !named && !strings.Contains(strings.ToLower(row.What), q) {
				continue
			}
			g.Lines = append(g.Lines, row)
			g.Together = g.Together.Plus(row.Standing)
			if line.Due != nil && row.Standing.Delivered < line.Wanted && !line.Closed && (g.Due == nil || line.Due.Before(*g.Due)) {
				g.Due = line.Due
			}
		}
		if len(g.Lines) > 0 || !has && named && show != "closed" {
			groups = append(groups, g)
		}
	}
	return groups
}

func sortAsked(groups []askedGroup, by string, down bool) {
	far := time.Date(9999, 1, 1, 0, 0, 0, 0, time.UTC)
	due := func(g askedGroup) time.Time {
		if g.Due == nil {
			return far
		}
		return *g.Due
	}
	slices.SortStableFunc(groups, func(a, b askedGroup) int {
		order := 0
		switch by {
		case "due":
			order = due(a).Compare(due(b))
		case "asked":
			order = cmp.Compare(a.Together.Asked, b.Together.Asked)
		case "missing":
			order = cmp.Compare(a.Together.Missing, b.Together.Missing)
		default:
			order = cmp.Compare(strings.ToLower(a.Name), strings.ToLower(b.Name))
		}
		if down {
			order = -order
		}
		return order
	})
}

func newAskedRow(line drive.AskedLine, today time.Time) askedRow {
	what := strings.Join(line.SizeNames, " or ")
	if len(line.ThemesWanted) > 0 {
		what += ": " + strings.Join(line.ThemesWanted, ", ")
	}
	if len(line.ThemesAvoid) > 0 {
		what += "; no " + strings.Join(line.ThemesAvoid, " or ")
	}
	return askedRow{AskedLine: line, Standing: line.Standing(), What: what, Course: courseOf(line, today)}
}

// courseOf says how a line stands, as far as it can be told without a forecast.
func courseOf(line drive.AskedLine, today time.Time) courseWords {
	switch line.Course(today) {
	case drive.CourseClosed:
		return courseWords{"closed", "wait"}
	case drive.CourseDelivered:
		if confirmed := line.Counts[drive.CaseConfirmed]; confirmed < line.Wanted {
			return courseWords{"all sent, " + thousands(int64(confirmed)) + " confirmed", ""}
		}
		return courseWords{"all delivered", "done"}
	case drive.CourseLate:
		return courseWords{daysWords(*line.Due, today), "late"}
	case drive.CourseReady:
		return courseWords{"the rest is ready to go", "done"}
	case drive.CourseUnplanned:
		return courseWords{thousands(int64(line.Standing().Missing)) + " not planned yet", "wait"}
	}
	return courseWords{"under way", ""}
}

// daysWords says how far a day is: 3 days late, today, in 3 days.
func daysWords(due, today time.Time) string {
	switch days := int(today.Sub(due) / (24 * time.Hour)); {
	case days == 1:
		return "1 day late"
	case days > 1:
		return fmt.Sprintf("%d days late", days)
	case days == 0:
		return "due today"
	case days == -1:
		return "due tomorrow"
	default:
		return fmt.Sprintf("due in %d days", -days)
	}
}

// standingTape draws how far it has come.
func standingTape(s drive.Standing) tape {
	t := tape{Of: s.Asked}
	for _, part := range []tapePart{
		{"delivered", s.Delivered, "done"},
		{"good, still here", s.Good, "good"},
		{"with volunteers, to check or to mend", s.Out + s.Back, "out"},
		{"planned or cut", s.Planned, "planned"},
	} {
		if part.Count > 0 {
			t.Parts = append(t.Parts, part)
		}
	}
	return t
}
