package site

import (
	"context"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"

	"github.com/gin-gonic/gin"

	"boltward/internal/account"
	"boltward/internal/drive"
	"boltward/internal/postgres"
)

// needsPage is what needs somebody, in order of harm, each with one act.
type needsPage struct {
	Sections []needSection
	Steps    []step // of a drive that has nothing else to say yet
	Next     *step  // the next of them where it has
}

func (needsPage) template() string { return "needs.html" }
func (needsPage) title() string    { return "Needs you" }

// needSection is needs of one urgency, the worst first.
type needSection struct {
	Title string
	Rows  []needRow
	More  int // that follow once some of these are done
}

// rowsOfNeeds is how many needs of one urgency are shown: nobody does more at a time.
const rowsOfNeeds = 40

// needRow is one need in words.
type needRow struct {
	Text  string
	Since string // how long, or how soon
	Late  bool
	First bool // the worst of all: its act is the page's main one
	write bool // only whoever may write there can do anything about it
	Act   string
	Path  string
}

// needs handles GET /drives/:drive/needs. A visitor sees what belongs to the
// areas they may read.
func (s *Site) needs(c *gin.Context) error {
	id := s.driveID(c)
	var needs []drive.Need
	var done drive.FirstSteps
	err := s.db.Together(c.Request.Context(),
		func(ctx context.Context) (err error) { needs, err = s.db.Needs(ctx, id); return err },
		func(ctx context.Context) (err error) { done, err = s.db.FirstSteps(ctx, id); return err })
	if err != nil {
		return err
	}
	p := needsPage{Sections: []needSection{{Title: "Late or short"}, {Title: "This week"}, {Title: "Stuck"}, {Title: "Waiting"}}}
	all := 0
	for _, n := range needs {
		area, row := newNeedRow(id, n, s.today(c))
		if s.drive(c).ClosedAt != nil && beginsMore(n.Kind) || !s.may(c, area, account.Read) || row.write && !s.may(c, area, account.Write) {
			continue
		}
		if s.drive(c).ClosedAt != nil && n.Kind == drive.NeedSaidCannot {
			row.Act = "Arrange to get them back"
		}
		if (reachesSomebody(n.Kind) || n.Kind == drive.NeedRemind && !s.mails) && !s.may(c, account.Contacts, account.Read) {
			row.Act = "Tell an organiser"
			if s.may(c, account.Kits, account.Write) {
				row.Act += ", or note what you hear"
			}
		}
		row.Late, row.First = n.Late(), all == 0
		all++
		section := &p.Sections[urgencyOf(n)]
		if len(section.Rows) == rowsOfNeeds {
			section.More++
		} else {
			section.Rows = append(section.Rows, row)
		}
	}
	p.Sections = slices.DeleteFunc(p.Sections, func(section needSection) bool { return len(section.Rows) == 0 })
	if steps := s.steps(c, done); all == 0 {
		p.Steps = steps
	} else {
		p.Next = nextOf(steps)
	}
	return s.page(c, http.StatusOK, p)
}

// beginsMore says that what is needed begins something, which a closed drive does no more.
func beginsMore(kind drive.NeedKind) bool {
	switch kind {
	case drive.NeedKitsReady, drive.NeedKitsCut, drive.NeedToPlan, drive.NeedSupplyShort, drive.NeedClothShort:
		return true
	}
	return false
}

// reachesSomebody says that what is needed is a word with somebody who sews at home: who may not see how they
// are reached can tell those who may, and note what comes to their ears.
func reachesSomebody(kind drive.NeedKind) bool {
	switch kind {
	case drive.NeedKitsLate, drive.NeedKitsSilent, drive.NeedSaidCannot, drive.NeedSaidFinished, drive.NeedRemindAstray:
		return true
	}
	return false
}

// urgencyOf gives the section of a need: late, this week, stuck, or waiting.
func urgencyOf(n drive.Need) int {
	switch {
	case n.Late():
		return 0
	case n.Kind == drive.NeedLineDue || n.Kind == drive.NeedKitsDue:
		return 1
	case n.Stuck():
		return 2
	}
	return 3
}

// newNeedRow puts a need into words and says which area it belongs to. It
// panics on a kind it has no words for.
func newNeedRow(driveID string, n drive.Need, today time.Time) (account.Area, needRow) {
	cases := counted(n.Cases, "pillowcase", "pillowcases")
	row := needRow{}
	if n.Day != nil {
		row.Since = sinceWords(n.Days)
	}
	to := func(area account.Area, act, text string, path ...any) (account.Area, needRow) {
		row.Act, row.Text, row.Path = act, text, drivePath(driveID, path...)
		return area, row
	}
	switch n.Kind {
	case drive.NeedLedgers:
		return to(account.Books, "See which", fmt.Sprintf("%s not agree with what was booked.", counted(n.N, "balance does", "balances do")), "books")
	case drive.NeedLineLate, drive.NeedLineDue:
		row.Since = daysWords(*n.Day, today)
		return to(account.Drive, "See what is missing", lineWords(n), "recipients", n.Number)
	case drive.NeedKitsLate:
		row.Since = daysWords(*n.Day, today)
		return to(account.Kits, "Ask, then note it", kitsLateWords(n), "people", n.Number)
	case drive.NeedSaidCannot:
		return to(account.Kits, "Find somebody else", fmt.Sprintf("%s cannot finish %s with %s.", n.Name, kitsNamedIn(n), cases), "people", n.Number)
	case drive.NeedSaidLonger:
		return to(account.Kits, "Answer", fmt.Sprintf("%s asks for more time for %s with %s.", n.Name, kitsNamedIn(n), cases), "people", n.Number)
	case drive.NeedSaidFinished:
		return to(account.Kits, "Arrange to get them", fmt.Sprintf("%s has finished %s of %s.", n.Name, cases, kitsNamedIn(n)), "people", n.Number)
	case drive.NeedKitsDue:
		row.Since = daysWords(*n.Day, today)
		area, row := to(account.Kits, "See whose", fmt.Sprintf("%s with %s %s due back this week.", counted(n.N, "kit", "kits"), cases, is(n.N)), "kits")
		row.Path += filtered("where", string(postgres.KitsDueSoon))
		return area, row
	case drive.NeedCountsDiffer:
		return to(account.Packing, "Settle the count", differsWords(n), "deliveries", n.Number)
	case drive.NeedClothShort:
		return to(account.Plan, "See what to ask for", fmt.Sprintf("Cloth is short: %s would help, and none of it is on the shelf.", counted(n.N, "kind", "kinds")), "plan", "asks")
	case drive.NeedKitsSilent:
		return to(account.Kits, "Ask how it goes", fmt.Sprintf("Nothing was heard from %s of %s with %s.", n.Name, kitsNamedIn(n), cases), "people", n.Number)
	case drive.NeedRemindAstray:
		row.write = true
		return to(account.Kits, "Remind another way", fmt.Sprintf("The reminder to %s did not go out, or perhaps not.", n.Name), "people", "reminders")
	case drive.NeedRemind:
		row.write = true
		return to(account.Kits, "Remind them", fmt.Sprintf("%s to be reminded.", counted(n.N, "person is", "people are")), "people", "reminders")
	case drive.NeedBackup:
		row.write = true
		area, row := to(account.Import, "See why", backupWords(n), "settings")
		row.Path += "#backups"
		return area, row
	case drive.NeedFile:
		return to(account.Import, "Take it in or leave it", fmt.Sprintf("The file %s was brought and not taken in.", n.Name), "books", "in", n.Number)
	case drive.NeedStocktake:
		return to(account.Fabric, "Count on, then post it", fmt.Sprintf("A stocktake%s is open.", ofShelf(n.Name)), "fabric", "stocktakes", n.Number)
	case drive.NeedChangeReady:
		return to(account.Plan, "Say yes or no", fmt.Sprintf("The changed plan %d waits for an answer; until then its sheets stay as they are.", n.Number), "plan", n.Number)
	case drive.NeedWardSaid:
		return to(account.Packing, "Read it", fmt.Sprintf("%s wrote something with delivery %d.", n.Name, n.Number), "deliveries", n.Number)
	case drive.NeedToSend:
		return to(account.Packing, "Send it", fmt.Sprintf("Delivery %d to %s is made and has not left: %s with %s.", n.Number, n.Name, counted(n.N, "box", "boxes"), cases), "deliveries", n.Number)
	case drive.NeedSupplyShort:
		enough := "none is left"
		if n.Enough > 0 {
			enough = "enough for " + counted(n.Enough, "kit", "kits")
		}
		return to(account.Fabric, "Get more, note it", fmt.Sprintf("Short of %s: %s, and %s %s planned or cut.", n.Name, enough, counted(n.N, "kit", "kits"), is(n.N)), "fabric", "supplies")
	case drive.NeedSheetOut:
		return to(account.Cutting, "Look for it", fmt.Sprintf("Sheet %d was signed out by %s and is not cut.", n.Number, n.Name), "cutting", n.Number)
	case drive.NeedSheetShort:
		return to(account.Cutting, "Change the plan", fmt.Sprintf("Sheet %d came up short: its plan has to be changed before it is cut.", n.Number), "cutting", n.Number)
	case drive.NeedBoxes:
		return to(account.Packing, "Make a delivery", fmt.Sprintf("%s with %s for %s %s packed and waiting.", counted(n.N, "box", "boxes"), cases, n.Name, is(n.N)), "deliveries")
	case drive.NeedConfirmation:
		return to(account.Packing, "Ring and confirm", fmt.Sprintf("Nobody at %s has confirmed delivery %d with %s.", n.Name, n.Number, cases), "deliveries", n.Number)
	case drive.NeedToCheck:
		return to(account.Packing, "Check them", fmt.Sprintf("%s came back and %s to be checked.", cases, waits(n.Cases)), "back")
	case drive.NeedToMend:
		return to(account.Packing, "Mend or send out", fmt.Sprintf("%s %s to be mended.", cases, waits(n.Cases)), "back")
	case drive.NeedToPack:
		return to(account.Packing, "Pack a box", fmt.Sprintf("%s %s good and not packed yet.", cases, is(n.Cases)), "deliveries")
	case drive.NeedToPromise:
		return to(account.Packing, "Promise to somebody", fmt.Sprintf("%s %s good and not promised to anybody.", cases, is(n.Cases)), "back")
	case drive.NeedKitsReady:
		area, row := to(account.Kits, "Hand out", fmt.Sprintf("%s with %s %s ready to hand out.", counted(n.N, "kit", "kits"), cases, is(n.N)), "kits")
		row.Path += filtered("where", string(postgres.KitsInHouse))
		return area, row
	case drive.NeedKitsCut:
		area, row := to(account.Kits, "Put together", fmt.Sprintf("%s with %s %s cut and not put together yet.", counted(n.N, "kit", "kits"), cases, is(n.N)), "kits")
		row.Path += filtered("where", string(postgres.KitsInHouse))
		return area, row
	case drive.NeedPlanReady:
		return to(account.Plan, "Look at the plan", fmt.Sprintf("Plan %d is ready and makes %s.", n.Number, cases), "plan", n.Number)
	case drive.NeedPlanFailed:
		return to(account.Plan, "See why", fmt.Sprintf("Plan %d could not be made.", n.Number), "plan", n.Number)
	case drive.NeedSheets:
		return to(account.Cutting, "Go to the sheets", fmt.Sprintf("%s %s to be cut.", counted(n.N, "sheet", "sheets"), waits(n.N)), "cutting")
	case drive.NeedToPlan:
		return to(account.Plan, "Make a plan", fmt.Sprintf("%s that %s asked for %s in no plan yet.", cases, was(n.Cases), is(n.Cases)), "plan")
	case drive.NeedToMeasure:
		area, row := to(account.Fabric, "Measure", fmt.Sprintf("%s %s tagged and not measured.", counted(n.N, "lot", "lots"), is(n.N)), "fabric")
		row.Path += filtered("state", string(postgres.LotsWaiting))
		return area, row
	}
	panic(fmt.Sprintf("there are no words for the need %q", n.Kind))
}

// differsWords says what differs of a delivery: Cases did not arrive, N are more than noted.
func differsWords(n drive.Need) string {
	var parts []string
	if n.Cases > 0 {
		parts = append(parts, counted(n.Cases, "pillowcase", "pillowcases")+" did not arrive")
	}
	if n.N > 0 {
		parts = append(parts, counted(n.N, "pillowcase came", "pillowcases came")+" above the note")
	}
	return fmt.Sprintf("Counts differ: of delivery %d to %s, %s.", n.Number, n.Name, strings.Join(parts, " and "))
}

// backupWords says what is wrong with backups: N failed since the last good one, or none came.
func backupWords(n drive.Need) string {
	last := "there is no good one"
	if n.Day != nil {
		last = "the last good one is of " + n.Day.Format("2 Jan")
	}
	if n.N == 0 {
		return fmt.Sprintf("No backup comes by itself any more: %s.", last)
	}
	return fmt.Sprintf("%s failed: %s.", counted(n.N, "backup", "backups"), last)
}

func ofShelf(shelf string) string {
	if shelf == "" {
		return ""
	}
	return " of shelf " + shelf
}

// lineWords says how far a line has come that is late or due.
func lineWords(n drive.Need) string {
	st := n.Standing
	var parts []string
	for _, p := range []struct {
		n     int
		words string
	}{
		{st.Delivered, "delivered"},
		{st.Good, "good"},
		{st.Back, "to check or mend"},
		{st.Out, "with volunteers"},
		{st.Planned, "planned or cut"},
		{st.Missing, "missing"},
	} {
		if p.n > 0 {
			parts = append(parts, thousands(int64(p.n))+" "+p.words)
		}
	}
	return fmt.Sprintf("%s asked for %s by %s: %s.", n.Name, thousands(int64(st.Asked)), n.Day.Format("2 Jan"), strings.Join(parts, ", "))
}

// kitsNamed is how many late kits are named; the person's page has them all.
const kitsNamed = 5

func kitsLateWords(n drive.Need) string {
	cases := counted(n.Cases, "pillowcase", "pillowcases")
	if n.N == 1 {
		return fmt.Sprintf("%s has %s with %s, due on %s.", n.Name, kitsNamedIn(n), cases, n.Day.Format("2 Jan"))
	}
	return fmt.Sprintf("%s has %d kits with %s that were due: %s.", n.Name, n.N, cases, kitsNamedIn(n))
}

// kitsNamedIn names the kits of a need: "kit 107", "kits 107, 109-2 and 4 more".
func kitsNamedIn(n drive.Need) string {
	var names []string
	for _, k := range n.Kits[:min(len(n.Kits), kitsNamed)] {
		names = append(names, k.String())
	}
	named := oneOr(len(n.Kits), "kit ", "kits ") + strings.Join(names, ", ")
	if more := len(n.Kits) - len(names); more > 0 {
		named += fmt.Sprintf(" and %d more", more)
	}
	return named
}

// filtered gives the end of a list's address that chooses a filter.
func filtered(name, value string) string { return "?" + url.Values{name: {value}}.Encode() }

func sinceWords(days int) string {
	switch {
	case days <= 0:
		return "since today"
	case days == 1:
		return "since yesterday"
	}
	return fmt.Sprintf("for %d days", days)
}

func counted(n int, one, many string) string {
	return thousands(int64(n)) + " " + oneOr(n, one, many)
}

func is(n int) string { return oneOr(n, "is", "are") }

func was(n int) string { return oneOr(n, "was", "were") }

func waits(n int) string { return oneOr(n, "waits", "wait") }

func oneOr(n int, one, many string) string {
	if n == 1 {
		return one
	}
	return many
}
