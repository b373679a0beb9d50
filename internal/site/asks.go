package site

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/gin-gonic/gin"

	"boltward/internal/drive"
	"boltward/internal/length"
	"boltward/internal/planning"
	"boltward/internal/postgres"
)

// asksPage says which cloth to ask donors for: what brings most first, and for whom.
type asksPage struct {
	Asks postgres.Asks
	Age  string
	Rows []askRow
	Text string // the same in plain words, to send
	Mail string // a message that holds it
}

func (asksPage) template() string { return "asks.html" }
func (asksPage) title() string    { return "Fabric to ask for" }

// refresh opens the page again by itself while it is being worked out.
func (p asksPage) refresh() int {
	if p.Asks.Busy() {
		return 3
	}
	return 0
}

// askRow is one kind of cloth to ask for.
type askRow struct {
	What    string // plain or tone on tone navy
	Cloth   string // cotton, quilting weight
	HowMuch string
	Width   length.Length
	Cases   int
	For     []askFor
}

// askFor is what a line gains, or gives up for one that matters more.
type askFor struct {
	Name string
	N    int
}

// Words says it: "4 for Ward 4, standard".
func (f askFor) Words() string {
	if f.N < 0 {
		return fmt.Sprintf("%d fewer for %s", -f.N, f.Name)
	}
	return fmt.Sprintf("%d for %s", f.N, f.Name)
}

// asks handles GET /drives/:drive/plan/asks.
func (s *Site) asks(c *gin.Context) error {
	ctx, d := c.Request.Context(), s.drive(c)
	found, err := s.db.AskedForNow(ctx, d.ID)
	if err != nil {
		return err
	}
	lines, err := s.db.AskedLines(ctx, d.ID)
	if err != nil {
		return err
	}
	page := asksPage{Asks: found}
	if found.MadeAt != nil {
		page.Age = ago(s.now().Sub(*found.MadeAt))
	}
	for _, w := range found.Wishes {
		page.Rows = append(page.Rows, newAskRow(w, d, lines))
	}
	page.Text = askText(d, page.Rows)
	if len(page.Rows) > 0 {
		page.Mail = draft("", "Fabric we are looking for: "+d.Name, askText(d, page.Rows[:min(len(page.Rows), mostMailed)]))
	}
	return s.page(c, 200, page)
}

// askAgain handles POST /drives/:drive/plan/asks: it is worked out anew.
func (s *Site) askAgain(c *gin.Context) error {
	if _, err := s.db.RequestAsks(c.Request.Context(), s.act(c)); err != nil {
		return err
	}
	return s.seeOther(c, s.path(c, "plan", "asks"))
}

func newAskRow(w drive.Wish, d drive.Drive, lines []drive.AskedLine) askRow {
	row := askRow{What: w.For.Words(), Cloth: w.For.Cloth(), HowMuch: length.Format(w.Length, d.Yardage()), Width: w.For.Width, Cases: w.Cases}
	row.For = movedFor(w.Lines, lines)
	return row
}

// movedFor names the lines that gain, then those that give up.
func movedFor(moved []planning.Moved, lines []drive.AskedLine) []askFor {
	name := map[string]string{}
	for _, l := range lines {
		name[drive.NumberID(l.Number)] = l.RecipientName + ", " + strings.Join(l.SizeNames, " or ")
	}
	var list []askFor
	for _, m := range moved {
		who := name[m.ID]
		if who == "" {
			who = "line " + m.ID
		}
		list = append(list, askFor{who, m.To - m.From})
	}
	slices.SortStableFunc(list, func(a, b askFor) int { return b.N - a.N })
	return list
}

// ago says how old something is, as people do.
func ago(age time.Duration) string {
	switch minutes := int(age.Minutes()); {
	case minutes < 1:
		return "just now"
	case minutes < 60:
		return counted(minutes, "minute", "minutes") + " ago"
	case minutes < 48*60:
		return counted(minutes/60, "hour", "hours") + " ago"
	default:
		return counted(minutes/60/24, "day", "days") + " ago"
	}
}

// mostMailed is how many kinds go into a message: an address that holds it may not be long.
const mostMailed = 8

// askText says to donors what is looked for, in plain words.
func askText(d drive.Drive, rows []askRow) string {
	if len(rows) == 0 {
		return ""
	}
	var text strings.Builder
	fmt.Fprintf(&text, "%s sews pillowcases, and this fabric would help most just now:\n\n", d.Name)
	for _, r := range rows {
		text.WriteString("- " + r.HowMuch + " of " + r.What + " (" + r.Cloth + "): ")
		if r.Cases > 0 {
			text.WriteString(counted(r.Cases, "more pillowcase", "more pillowcases"))
		} else {
			text.WriteString("lets us sew what matters more")
		}
		if whom := r.whom(); len(whom) > 0 {
			text.WriteString(", for " + strings.Join(whom, " and "))
		}
		text.WriteString("\n")
	}
	text.WriteString("\nA piece like that, or longer, is a gift that somebody sleeps on. Thank you.\n")
	return text.String()
}

// whom names the recipients that gain.
func (r askRow) whom() []string {
	var names []string
	for _, f := range r.For {
		if name, _, _ := strings.Cut(f.Name, ", "); f.N > 0 && !slices.Contains(names, name) {
			names = append(names, name)
		}
	}
	return names
}
