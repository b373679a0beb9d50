package site

import (
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/gin-gonic/gin"

	"boltward/internal/drive"
	"boltward/internal/length"
	"boltward/internal/planning"
	"boltward/internal/postgres"
	"boltward/internal/sizing"
	"boltward/internal/words"
)

// layoutsShown is how many layouts one page of a plan draws.
const layoutsShown = 8

// planPage is one plan: what it makes and of how many, why a line is short, how
// each piece would be cut, which kits come of it.
type planPage struct {
	Plan    drive.Plan
	Refused string        // why it cannot be accepted
	Begun   bool          // some of it is on the table or cut
	Busy    *planProgress // being worked out
	Now     int64         // the plan that took its place, 0: none
	Away    *postgres.PutAway
	Offer   *changeOffer // what has happened to it since it was accepted
	Words   string
	Ended   string // why planning ended
	Lines   []planLine
	Wanted  int
	Pieces  int
	Used    string // cloth, as an area
	Kits    []planKit
	Layouts []planLayout
	From    int // the first layout that is drawn, from 1
	To      int
	Before  string
	After   string
}

func (planPage) template() string { return "plan.html" }
func (p planPage) title() string  { return fmt.Sprintf("Plan %d", p.Plan.Number) }

// refresh opens the page again by itself while the plan is being worked out.
func (p planPage) refresh() int { return whileBusy(p.Busy) }

// Tape is what the plan makes, drawn.
func (p planPage) Tape() planTape {
	return planTape{Wanted: p.Wanted, Cases: p.Plan.Cases, Bound: p.Plan.CasesBound}
}

// Took is how long working it out took.
func (p planPage) Took() string {
	if p.Plan.Seconds < 0.1 {
		return "less than a tenth of a second"
	}
	return fmt.Sprintf("%.1f seconds", p.Plan.Seconds)
}

// AcceptedAt is when the plan was accepted; the zero time where it was not.
func (p planPage) AcceptedAt() time.Time {
	if p.Plan.AcceptedAt == nil {
		return time.Time{}
	}
	return *p.Plan.AcceptedAt
}

// planLine is one line asked for in a plan.
type planLine struct {
	Number       string
	Name         string
	Wanted, Made int
	Kits         string
	Why          string
	Unsure       string // lots that its recipient may not have while their fibre is not sure
	Fibres       string // the only ones that it takes
}

// Short is how many the line still lacks.
func (l planLine) Short() int { return l.Wanted - l.Made }

// planKit is one kit of a plan, numbered within it.
type planKit struct {
	Number int
	For    string
	Size   string
	Cases  int
	ToSew  string // about how long
	Lots   string
}

// planLayout is how one piece would be cut.
type planLayout struct {
	drive.LaidOut
	Name    string
	Kits    []string
	Left    length.Length
	Drawing layoutDrawing
}

// plan handles GET /drives/:drive/plan/:plan.
func (s *Site) plan(c *gin.Context) error {
	number, err := s.number(c, "plan")
	if err != nil {
		return err
	}
	return s.showPlan(c, http.StatusOK, number, "")
}

func (s *Site) showPlan(c *gin.Context, status int, number int64, refused string) error {
	p, err := s.db.Plan(c.Request.Context(), s.driveID(c), number)
	if err != nil {
		return err
	}
	page := planPage{Plan: p, Refused: refused}
	if p.Busy() {
		if page.Busy, err = s.progressOf(c, p, s.path(c, "plan", number)); err != nil {
			return err
		}
		return s.page(c, status, page)
	}
	if p.State == drive.PlanDropped {
		if page.Away, err = s.db.PlanPutAway(c.Request.Context(), s.driveID(c), number); err != nil {
			return err
		}
	}
	if p.Changes != nil && (p.State == drive.PlanReady || p.State == drive.PlanDropped && !p.Withdrawn()) {
		if changed, err := s.db.PlanChanged(c.Request.Context(), s.driveID(c), number); err != nil || changed != nil {
			if err != nil {
				return err
			}
			return s.showChange(c, status, p, refused)
		}
	}
	if err := s.sinceAccepted(c, &page); err != nil {
		return err
	}
	if page.Begun, err = s.db.PlanBegun(c.Request.Context(), s.driveID(c), number); err != nil {
		return err
	}
	problem, plan, err := s.db.PlanFiles(c.Request.Context(), s.driveID(c), number)
	if err != nil {
		return err
	}
	if plan == nil {
		return s.page(c, status, page)
	}
	if err := s.fillPlan(c, &page, problem, plan); err != nil {
		return err
	}
	return s.page(c, status, page)
}

func (s *Site) fillPlan(c *gin.Context, page *planPage, problem *planning.Problem, plan *planning.Plan) error {
	lines, err := s.db.AskedLines(c.Request.Context(), s.driveID(c))
	if err != nil {
		return err
	}
	sizes, err := s.db.Sizes(c.Request.Context(), s.driveID(c))
	if err != nil {
		return err
	}
	byID := map[string]drive.Size{}
	for _, z := range sizes {
		byID[drive.NumberID(z.Number)] = z
	}
	asked := map[string]drive.AskedLine{}
	for _, l := range lines {
		asked[drive.NumberID(l.Number)] = l
	}
	unit := s.drive(c).Unit
	page.Words, page.Ended = planning.Words(plan), planning.Ended(plan.Summary.Stopped)
	page.Pieces, page.Wanted = len(plan.Layouts), problem.Wanted()
	reasons, err := s.db.PlanReasons(c.Request.Context(), s.driveID(c), page.Plan.Number)
	if err != nil {
		return err
	}
	page.Lines = planLines(problem, plan, asked, drive.ReasonWords(reasons, drive.ReasonNames(unit, lines, problem)))
	if err := s.leftForFibre(c, page.Lines, problem, asked); err != nil {
		return err
	}
	page.Kits = planKits(plan, asked, byID)
	laid, err := drive.LayOut(problem, plan)
	if err != nil {
		return err
	}
	if page.Used, err = usedWords(laid, unit); err != nil {
		return err
	}
	page.draw(c, laid, unit)
	return nil
}

func planLines(problem *planning.Problem, plan *planning.Plan, asked map[string]drive.AskedLine, why map[string]string) []planLine {
	list := make([]planLine, len(problem.Quotas))
	for i, q := range problem.Quotas {
		l := planLine{Number: q.ID, Wanted: q.Wanted, Made: plan.Made(q.ID), Why: why[q.ID], Name: "line " + q.ID}
		if a, known := asked[q.ID]; known {
			l.Name = a.RecipientName + ", " + strings.Join(a.SizeNames, " or ")
		}
		var kits []int
		for _, k := range plan.KitsOf(q.ID) {
			kits = append(kits, len(k.Pillowcases))
		}
		l.Kits = kitsOfLine(kits)
		list[i] = l
	}
	return list
}

// leftForFibre notes at the lines that are short what cloth was kept from them because its fibre
// is not sure.
func (s *Site) leftForFibre(c *gin.Context, lines []planLine, problem *planning.Problem, asked map[string]drive.AskedLine) error {
	recipients, err := s.db.Recipients(c.Request.Context(), s.driveID(c))
	if err != nil {
		return err
	}
	takes := map[int64][]string{}
	for _, r := range recipients {
		takes[r.Number] = r.Fibres
	}
	for i, l := range lines {
		if fibres := takes[asked[l.Number].Recipient]; l.Short() > 0 {
			lines[i].Unsure, lines[i].Fibres = drive.UnsureFibre(problem, fibres), strings.Join(fibres, " or ")
		}
	}
	return nil
}

func planKits(plan *planning.Plan, asked map[string]drive.AskedLine, sizes map[string]drive.Size) []planKit {
	places := plan.Panels()
	list := make([]planKit, len(plan.Kits))
	for i, k := range plan.Kits {
		size := sizes[k.Case]
		list[i] = planKit{Number: i + 1, For: asked[k.Quota].RecipientName, Size: size.Name, Cases: len(k.Pillowcases)}
		list[i].ToSew = toSew(len(k.Pillowcases), size.Spec)
		var lots []int
		for _, one := range k.Pillowcases {
			for _, ids := range one {
				for _, id := range ids {
					lot, _, _ := strings.Cut(places[id].Layout.Fabric, "/")
					n, err := strconv.Atoi(lot)
					if err == nil && !slices.Contains(lots, n) {
						lots = append(lots, n)
					}
				}
			}
		}
		slices.Sort(lots)
		numbers := make([]string, len(lots))
		for j, n := range lots {
			numbers[j] = strconv.Itoa(n)
		}
		list[i].Lots = strings.Join(numbers, ", ")
	}
	return list
}

// toSew is about how long sewing so many of a size takes; nothing where the size is not known.
func toSew(cases int, spec sizing.Spec) string {
	if spec.Width == 0 {
		return ""
	}
	return words.In("").Time(cases * spec.Minutes())
}

// usedWords is how much cloth a plan takes, remnants worth keeping not counted.
func usedWords(laid []drive.LaidOut, unit length.Unit) (string, error) {
	var sum length.Area
	for _, l := range laid {
		area, err := l.Used.Times(l.Width)
		if err != nil {
			return "", fmt.Errorf("cloth of the plan: %w", err)
		}
		for _, r := range l.Remnants {
			kept, err := r.W.Times(r.H)
			if err != nil {
				return "", fmt.Errorf("cloth of the plan: %w", err)
			}
			area -= kept
		}
		if sum, err = sum.Add(area); err != nil {
			return "", fmt.Errorf("cloth of the plan: %w", err)
		}
	}
	return sum.Format(unit), nil
}

// draw draws one page of the layouts.
func (p *planPage) draw(c *gin.Context, laid []drive.LaidOut, unit length.Unit) {
	from := 0
	if n, ok := wholeNumber(c.Query("from")); ok {
		from = min(int(n-1), max(0, len(laid)-1)) / layoutsShown * layoutsShown
	}
	to := min(from+layoutsShown, len(laid))
	for _, l := range laid[from:to] {
		p.Layouts = append(p.Layouts, newPlanLayout(l, unit))
	}
	p.From, p.To = from+1, to
	link := func(at int) string { return fmt.Sprintf("%s?from=%d#layouts", c.Request.URL.Path, at+1) }
	if from > 0 {
		p.Before = link(from - layoutsShown)
	}
	if to < len(laid) {
		p.After = link(to)
	}
}

func newPlanLayout(l drive.LaidOut, unit length.Unit) planLayout {
	out := planLayout{LaidOut: l, Name: drive.PieceName(l.Lot, l.Piece), Left: l.Length - l.Used}
	var kits []drive.KitRef
	for _, panel := range l.Panels {
		kits = append(kits, panel.Kit)
	}
	for _, k := range drive.SortedKits(kits) {
		out.Kits = append(out.Kits, k.String())
	}
	out.Drawing = drawLayout(layoutToDraw{
		Width: l.Width, Used: l.Used, Left: out.Left, Panels: l.Panels, Remnants: l.Remnants, Kit: drive.KitRef.String,
		OneWay: l.Turn != planning.Either, Unit: unit,
	})
	return out
}
