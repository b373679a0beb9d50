package main

import (
	"context"
	"encoding/csv"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/length"
	"boltward/internal/planning"
	"boltward/internal/postgres"
	"boltward/internal/sizing"
	"boltward/internal/workbook"
	"boltward/testdata/demo"
)

// demoDrive is the id of the invented drive; demoEffort is how much work its
// plans take, a count and no time, so that the story is the same on any machine.
const (
	demoDrive  = "lantern-row"
	demoEffort = 600
)

// story tells the demo drive's four weeks, one wish after another, each at the
// moment at which somebody would have had it.
type story struct {
	ctx    context.Context
	store  *postgres.Store
	drive  drive.Drive
	today  time.Time // the moment at which the story ends
	at     time.Time // where it has come to
	acts   int
	people map[string]int64
	lines  map[string]drive.AskedLine
	events []event

	free    []drive.KitRef // cut and not handed out yet
	mending drive.Stack
}

// event is something that happened so many days before today.
type event struct {
	ago int
	do  func() error
}

func (s *story) now() time.Time { return s.at }

// ago moves to ten in the morning of a day so many days before today.
func (s *story) ago(days int) {
	day := s.today.In(s.drive.Location()).AddDate(0, 0, -days)
	s.at = time.Date(day.Year(), day.Month(), day.Day(), 10, 0, 0, 0, s.drive.Location())
	if s.at.After(s.today) {
		s.at = s.today
	}
}

// day is a date so many days from today; negative is past.
func (s *story) day(days int) *time.Time {
	day := drive.Day(s.today, s.drive.Location()).AddDate(0, 0, days)
	return &day
}

// on notes what happens on a day; tell tells the days in their order, and what
// happens on one day in the order in which it was noted.
func (s *story) on(ago int, do func() error) { s.events = append(s.events, event{ago, do}) }

// act is the next wish, a minute after the one before.
func (s *story) act() drive.Act {
	s.acts++
	if next := s.at.Add(time.Minute); !next.After(s.today) {
		s.at = next
	}
	return drive.Act{Drive: s.drive.ID, Key: fmt.Sprintf("demo-%05d", s.acts), At: s.at, Request: "demo"}
}

// tell is the whole story.
func (s *story) tell(store *postgres.Store) error {
	s.store = store
	s.drive = drive.NewDrive(demoDrive, "Lantern Row pillowcase drive", "Europe/Dublin", length.In)
	s.drive.Ask = "the kit desk in Harrow Mill library, Thursdays 10 to 12, 555 0140"
	s.on(33, s.beginnings)
	if err := s.dropOffs(); err != nil {
		return err
	}
	s.on(24, s.photographs)
	s.on(23, s.firstPlan)
	s.on(19, s.makeReady)
	s.handOuts()
	s.links()
	s.desk()
	s.returns()
	s.laundry()
	s.deliveries()
	s.cupboard()
	s.on(3, s.photographs)
	s.on(2, s.ownFabric)
	s.on(1, func() error { _, err := s.plan(); return err })
	slices.SortStableFunc(s.events, func(a, b event) int { return b.ago - a.ago })
	for _, e := range s.events {
		s.ago(e.ago)
		if err := e.do(); err != nil {
			return fmt.Errorf("%d days ago: %w", e.ago, err)
		}
	}
	return nil
}

// beginnings: the drive, its sizes, who asks and who sews.
func (s *story) beginnings() error {
	act := s.act()
	act.Drive = ""
	if _, err := s.store.CreateDrive(s.ctx, act, s.drive); err != nil {
		return err
	}
	for _, name := range []string{"standard", "queen", "travel"} {
		c, ok := sizing.CaseNamed(name)
		if !ok {
			return fmt.Errorf("no built-in size %q", name)
		}
		if _, err := s.store.CreateSize(s.ctx, s.act(), drive.Size{Name: c.Name, Spec: c.Spec}); err != nil {
			return err
		}
	}
	for _, list := range []struct {
		kind drive.BringKind
		text string
	}{{drive.BringAsked, demo.Asked}, {drive.BringPeople, demo.People}, {drive.BringDonors, demo.Donors}} {
		if err := s.bring(list.kind, s.moved(list.text), workbook.Terms{Drive: s.drive}); err != nil {
			return err
		}
	}
	return s.howToThank()
}

// bring takes a list in, which holds nothing that is refused.
func (s *story) bring(kind drive.BringKind, text string, terms workbook.Terms) error {
	list, err := workbook.Read(kind, []byte(text), terms)
	if err != nil {
		return err
	}
	return took(s.store.Import(s.ctx, s.act(), list.Bringing, false))
}

// dropOffs brings the fabric in, each drop-off on its own day.
func (s *story) dropOffs() error {
	rows, err := csv.NewReader(strings.NewReader(s.moved(demo.Fabric))).ReadAll()
	if err != nil {
		return fmt.Errorf("the demo's fabric: %w", err)
	}
	const dateColumn = 1
	for from := 1; from < len(rows); {
		to := from
		for to < len(rows) && rows[to][dateColumn] == rows[from][dateColumn] {
			to++
		}
		day, err := time.Parse(time.DateOnly, rows[from][dateColumn])
		if err != nil {
			return fmt.Errorf("the demo's fabric: %w", err)
		}
		lots := slices.Concat(rows[:1], rows[from:to])
		s.on(int(s.day(0).Sub(day).Hours()/24), func() error { return s.dropOff(lots, day) })
		from = to
	}
	return nil
}

func (s *story) dropOff(rows [][]string, day time.Time) error {
	var text strings.Builder
	if err := csv.NewWriter(&text).WriteAll(rows); err != nil {
		return fmt.Errorf("the demo's fabric: %w", err)
	}
	depth, err := s.store.BorderDepth(s.ctx, s.drive.ID)
	if err != nil {
		return err
	}
	return s.bring(drive.BringFabric, text.String(), workbook.Terms{Drive: s.drive, Today: day, BorderDepth: depth})
}

// firstPlan is made, accepted and mostly cut on one long day three weeks ago.
func (s *story) firstPlan() error {
	number, err := s.plan()
	if err != nil {
		return err
	}
	if _, err := s.store.AcceptPlan(s.ctx, s.act(), number); err != nil {
		return err
	}
	sheets, err := s.store.Sheets(s.ctx, s.drive.ID, postgres.SheetsQuery{Sort: "number"})
	if err != nil {
		return err
	}
	helpers := []string{"Agnes P.", "Ravi T.", "Petra H."}
	left := len(sheets.Sheets) / 6 // still to cut
	for i, sheet := range sheets.Sheets[:len(sheets.Sheets)-left] {
		if i%5 == 0 && i > 0 && s.at.Hour() < 20 {
			s.at = s.at.Add(time.Hour)
		}
		if _, err := s.store.SignOutSheet(s.ctx, s.act(), sheet.Number, helpers[i%len(helpers)]); err != nil {
			return err
		}
		if _, err := s.store.MarkSheetCut(s.ctx, s.act(), sheet.Number); err != nil {
			return err
		}
	}
	return nil
}

// plan asks for a plan and works it out here, as a worker would.
func (s *story) plan() (int64, error) {
	number, err := s.store.RequestPlan(s.ctx, s.act())
	if err != nil {
		return 0, err
	}
	problem, err := s.store.BeginPlan(s.ctx, s.drive.ID, number)
	if err != nil {
		return 0, err
	}
	plan, err := planning.Solve(s.ctx, problem, planning.Options{Effort: demoEffort})
	if err != nil {
		return 0, err
	}
	kept, err := s.store.FinishPlan(s.ctx, s.drive.ID, number, plan)
	if err == nil && !kept {
		err = fmt.Errorf("plan %d was put away while it was worked out", number)
	}
	return number, err
}

// ownFabric: two cards for somebody who sews from her own cupboard.
func (s *story) ownFabric() error {
	queen, ok := s.lines["Quiet Harbour hospice queen"]
	if !ok {
		return fmt.Errorf("the demo's hospice asks for no queen cases")
	}
	person := s.people["Odile Farrant"]
	own := drive.OwnFabric{Kits: 2, Cases: 2, Size: queen.Sizes[0], Asked: &queen.Number, Person: &person, Due: s.day(12), Note: "soft florals, please"}
	_, err := s.store.MakeOwnFabricKits(s.ctx, s.act(), own)
	return err
}

var isoDay = regexp.MustCompile(`\b20\d\d-\d\d-\d\d\b`)

// moved gives a file of the demo with every date as far from today as it was
// from the day it was written for.
func (s *story) moved(text string) string {
	written, err := time.Parse(time.DateOnly, demo.Written)
	if err != nil {
		return text // a constant of ours; the importers name the line of a date that is none
	}
	shift := int(s.day(0).Sub(written).Hours() / 24)
	return isoDay.ReplaceAllStringFunc(text, func(found string) string {
		day, err := time.Parse(time.DateOnly, found)
		if err != nil {
			return found
		}
		return day.AddDate(0, 0, shift).Format(time.DateOnly)
	})
}

// took refuses an import of which a row was refused: the demo's files are taken whole.
func took(report drive.ImportReport, err error) error {
	if err == nil && len(report.Refused) > 0 {
		r := report.Refused[0]
		return apperr.Conflict("line %d of the demo's file, %s: %s", r.Line, r.Column, r.Why)
	}
	return err
}
