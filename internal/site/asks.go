package site

import (
	"cmp"
	"fmt"
	"net/http"
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
	// What all that is short would take, line by line and together.
	Whole        []wholeRow
	WholeMissing int
	WholeCloth   string
	WholeWidth   length.Length
	Text         string // the same in plain words, to send
	Mail         string // a message that holds it
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

// wholeRow is the cloth that a line is short of.
type wholeRow struct {
	Name    string
	Missing int
	Kind    string // cotton, foxes; empty for any
	Cloth   string // 12 1/2 yd for bodies and 3 yd for cuffs
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
	if found.Busy() && c.GetHeader("HX-Request") != "" {
		// The page asks by itself: it stays as it is, with the focus where somebody has it.
		c.Status(http.StatusNoContent)
		return nil
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
	page.addWhole(found.Short, d, lines)
	page.Text = page.text(d, len(page.Rows))
	if page.Text != "" {
		page.Mail = draft("", "Fabric we are looking for: "+d.Name, page.text(d, mostMailed))
	}
	return s.page(c, 200, page)
}

// addWhole shows the cloth for all that is short.
func (p *asksPage) addWhole(short []drive.LineNeed, d drive.Drive, lines []drive.AskedLine) {
	names := lineNames(lines)
	for _, n := range short {
		p.Whole = append(p.Whole, wholeRow{names(n.Want.ID), n.Missing, n.Want.Kind(), drive.ClothWords(n.Cloth, d.Unit)})
	}
	missing, cloth := drive.AllNeeds(short)
	p.WholeMissing, p.WholeCloth = missing, drive.ClothWords(cloth, d.Unit)
	for _, c := range cloth {
		p.WholeWidth = max(p.WholeWidth, c.Width)
	}
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

// lineNames gives what people call a line that plans name by id.
func lineNames(lines []drive.AskedLine) func(id string) string {
	name := map[string]string{}
	for _, l := range lines {
		name[drive.NumberID(l.Number)] = l.RecipientName + ", " + strings.Join(l.SizeNames, " or ")
	}
	return func(id string) string { return cmp.Or(name[id], "line "+id) }
}

// movedFor names the lines that gain, then those that give up.
func movedFor(moved []planning.Moved, lines []drive.AskedLine) []askFor {
	name := lineNames(lines)
	var list []askFor
	for _, m := range moved {
		list = append(list, askFor{name(m.ID), m.To - m.From})
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

// text says to donors what is looked for, in plain words: the whole of it, and up to so many
// kinds that help by themselves. It is empty where nothing is.
func (p asksPage) text(d drive.Drive, most int) string {
	if len(p.Rows) == 0 && p.WholeCloth == "" {
		return ""
	}
	var text strings.Builder
	fmt.Fprintf(&text, "%s sews pillowcases.", d.Name)
	between := " "
	if p.WholeCloth != "" {
		fmt.Fprintf(&text, " Fabric for %s is still to be found, about %s in all, counted in cloth %s wide:\n\n", counted(p.WholeMissing, "pillowcase", "pillowcases"), p.WholeCloth, length.Format(p.WholeWidth, d.Unit))
		for _, r := range p.Whole[:min(len(p.Whole), most)] {
			text.WriteString("- " + r.words() + "\n")
		}
		if more := len(p.Whole) - most; more > 0 {
			fmt.Fprintf(&text, "- and for %d more\n", more)
		}
		between = "\n"
	}
	if len(p.Rows) > 0 {
		text.WriteString(between + "This would help most just now, even by itself:\n\n")
	}
	for _, r := range p.Rows[:min(len(p.Rows), most)] {
		text.WriteString("- " + r.words() + "\n")
	}
	text.WriteString("\nA piece like that, or longer, is a gift that somebody sleeps on. Thank you.\n")
	return text.String()
}

// words says what a line is short of.
func (r wholeRow) words() string {
	text := r.Name + ", " + counted(r.Missing, "pillowcase", "pillowcases")
	if r.Kind != "" {
		text += " (" + r.Kind + ")"
	}
	if r.Cloth != "" {
		text += ": " + r.Cloth
	}
	return text
}

// words says what cloth would help, how much and whom.
func (r askRow) words() string {
	text := r.HowMuch + " of " + r.What + " (" + r.Cloth + "): lets us sew what matters more"
	if r.Cases > 0 {
		text = r.HowMuch + " of " + r.What + " (" + r.Cloth + "): " + counted(r.Cases, "more pillowcase", "more pillowcases")
	}
	if whom := r.whom(); len(whom) > 0 {
		text += ", for " + strings.Join(whom, " and ")
	}
	return text
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
