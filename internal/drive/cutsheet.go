package drive

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"boltward/internal/apperr"
	"boltward/internal/length"
	"boltward/internal/planning"
)

// SheetLot is what the cloth of a sheet is and where it lies.
type SheetLot struct {
	Shelf   string   `db:"shelf"`
	Tag     string   `db:"tag"`
	Kind    string   `db:"kind"`
	Fibre   string   `db:"fibre"`
	Weight  string   `db:"weight"`
	Print   string   `db:"print"`
	Turn    string   `db:"turn"`
	Border  string   `db:"border"`
	Ends    string   `db:"ends"`
	Colours []string `db:"colours"`
	Themes  []string `db:"themes"`
}

// SheetPanel is a panel with where it goes.
type SheetPanel struct {
	Panel
	SizeName string
	ForWhom  string
	Around   Side // the least that the size needs round the pillow
}

// WholeSheet is one sheet with all that lies on it.
type WholeSheet struct {
	Sheet
	SheetLot
	Panels   []SheetPanel
	Remnants []Remnant
	Left     Side // free of the same piece
}

// SheetRef names one revision of a sheet as it stands on paper: 17, and 17-2 for its
// second revision.
type SheetRef struct {
	Number   int64
	Revision int
}

func (r SheetRef) String() string {
	if r.Revision <= 1 {
		return fmt.Sprint(r.Number)
	}
	return fmt.Sprintf("%d-%d", r.Number, r.Revision)
}

// Ref names the sheet as it is now.
func (s Sheet) Ref() SheetRef { return SheetRef{s.Number, s.Revision} }

// Printed refuses, as a conflict that says what replaced it, a print of the sheet that is not
// its newest revision; 0 is whichever.
func (s Sheet) Printed(revision int) error {
	switch {
	case revision == 0 || revision == s.Revision:
		return nil
	case revision > s.Revision:
		return apperr.Conflict("Sheet %d has no revision %d. Type the number as it stands beside the code: %s.", s.Number, revision, s.Ref())
	}
	return apperr.Conflict("Revision %d of sheet %d is replaced: plan %d laid it out anew. Put that print away; what is cut has the number %s.",
		revision, s.Number, s.Plan, s.Ref())
}

// ParseSheetRefs reads numbers of sheets as people type them many in a row, or as a
// scanner types their codes; each is read as one print. What is no sheet of the drive
// is an invalid "sheets" that names it.
func ParseSheetRefs(driveID, typed string) ([]SheetRef, error) {
	words := strings.FieldsFunc(typed, func(r rune) bool { return r == ',' || r == ';' || unicode.IsSpace(r) })
	if len(words) == 0 {
		return nil, apperr.Invalid("sheets", "Scan a sheet, or type the number that stands beside its code; several with a space between them.")
	}
	if len(words) > mostSheetsAtOnce {
		return nil, apperr.Invalid("sheets", "That are %d numbers; type up to %d at once.", len(words), mostSheetsAtOnce)
	}
	var refs []SheetRef
	for _, word := range words {
		code, err := ReadCode(word)
		if err != nil {
			return nil, apperr.Invalid("sheets", "%s", err.Error())
		}
		if code.Drive != "" && code.Drive != driveID {
			return nil, apperr.Invalid("sheets", "%s is a label of another drive.", shortened(word))
		}
		if code.Kind != CodeSheet && code.Kind != CodeBare {
			return nil, apperr.Invalid("sheets", "%s is the label of a %s, not of a sheet.", shortened(word), code.Kind)
		}
		ref, ok := readSheetRef(code.Number)
		if !ok {
			return nil, apperr.Invalid("sheets", "%s is no number of a sheet. It stands beside the code: 17, or 17-2 for its second revision.", shortened(word))
		}
		if !slices.Contains(refs, ref) {
			refs = append(refs, ref)
		}
	}
	return refs, nil
}

// mostSheetsAtOnce bounds one form.
const mostSheetsAtOnce = 200

// readSheetRef reads 17 or 17-2; a print without a revision on it is of the first.
func readSheetRef(number string) (SheetRef, bool) {
	if !oneNumber.MatchString(number) && !twoNumbers.MatchString(number) {
		return SheetRef{}, false
	}
	before, after, revised := strings.Cut(number, "-")
	ref := SheetRef{Revision: 1}
	var err error
	if ref.Number, err = strconv.ParseInt(before, 10, 64); err == nil && revised {
		ref.Revision, err = strconv.Atoi(after)
	}
	return ref, err == nil
}

// PrintOf gives which print of a sheet a code is: what an address opens is a label's own, so
// without a revision it is the first; a number that somebody typed is whichever.
func (c Code) PrintOf() SheetRef {
	ref, _ := readSheetRef(c.Number)
	if c.Drive == "" && !strings.Contains(c.Number, "-") {
		ref.Revision = 0
	}
	return ref
}

// keepsWidth is how much wider than needed a panel may stay for somebody who
// trims all of a pillowcase to its narrowest.
const keepsWidth = 4 * length.Inch

// CutSheet is what a helper needs who cuts a sheet.
type CutSheet struct {
	WholeSheet
	Name   string // of the piece: Lot 42, piece 3
	Looks  string // of the cloth
	OneWay bool
	Torn   bool
	Steps  []CutStep
	Kits   []SheetForKit
	Keep   []KeptRemnant
	Hard   Difficulty
}

// SheetForKit is what of a sheet goes to one kit.
type SheetForKit struct {
	Kit     KitRef
	ForWhom string
	Size    string
	Panels  []RolePanels
}

// RolePanels are a kit's panels of one role, by number.
type RolePanels struct {
	Role    string
	Numbers []int
}

// KeptRemnant is rectangles of one size to keep, and the labels they get.
type KeptRemnant struct {
	W, H   Side
	N      int
	Labels []string
}

// PieceName names a piece for people: Lot 42, or Lot 42, piece 3.
func PieceName(lot int64, piece int) string {
	if piece == 1 {
		return fmt.Sprintf("Lot %d", lot)
	}
	return fmt.Sprintf("Lot %d, piece %d", lot, piece)
}

// Looks says what cloth looks like: navy and white feature print, space.
func (l SheetLot) Looks() string {
	words := []string{}
	if len(l.Colours) > 0 {
		words = append(words, strings.Join(l.Colours, " and "))
	}
	switch l.Print {
	case PrintFeature:
		words = append(words, "print")
	case "":
	default:
		words = append(words, l.Print)
	}
	text := strings.Join(words, " ")
	if len(l.Themes) > 0 {
		text += ", " + strings.Join(l.Themes, ", ")
	}
	return text
}

// CutSheet puts a sheet into the order and the words of the table, lengths in u.
func (w WholeSheet) CutSheet(u length.Unit) CutSheet {
	out := CutSheet{
		WholeSheet: w, Name: PieceName(w.Lot, w.Piece), Looks: w.SheetLot.Looks(),
		OneWay: w.Turn != string(planning.Either), Torn: w.Ends == EndsTorn,
	}
	around := map[int]Side{}
	for _, p := range w.Panels {
		around[p.Panel.Panel] = p.Around
	}
	fullWidth := func(p Panel) bool {
		return p.W == around[p.Panel] && p.W < w.Width && w.Width-p.W <= keepsWidth
	}
	strips := CutOrder(w.Laid(), w.Remnants)
	out.Steps = CutSteps(w.Laid(), strips, SheetCloth{Width: w.Width, Torn: out.Torn, OneWay: out.OneWay, Unit: u}, fullWidth)
	out.Kits = w.forKits()
	out.Keep = w.kept()
	out.Hard = hardness(w, strips, out.OneWay, u)
	return out
}

// Laid gives the panels without where they go.
func (w WholeSheet) Laid() []Panel {
	panels := make([]Panel, len(w.Panels))
	for i, p := range w.Panels {
		panels[i] = p.Panel
	}
	return panels
}

func (w WholeSheet) kept() []KeptRemnant {
	var keep []KeptRemnant
	for _, r := range w.Remnants {
		i := slices.IndexFunc(keep, func(k KeptRemnant) bool { return k.W == r.W && k.H == r.H })
		if i < 0 {
			i = len(keep)
			keep = append(keep, KeptRemnant{W: r.W, H: r.H})
		}
		keep[i].N++
		keep[i].Labels = append(keep[i].Labels, ClothID(w.Lot, r.Label))
	}
	return keep
}

func (w WholeSheet) forKits() []SheetForKit {
	type key struct {
		kit  KitRef
		role string
	}
	var kits []SheetForKit
	var roles []string
	numbers := map[key][]int{}
	for _, p := range w.Panels {
		if !slices.ContainsFunc(kits, func(k SheetForKit) bool { return k.Kit == p.Kit }) {
			kits = append(kits, SheetForKit{Kit: p.Kit, ForWhom: p.ForWhom, Size: p.SizeName})
		}
		if !slices.Contains(roles, p.Role) {
			roles = append(roles, p.Role)
		}
		numbers[key{p.Kit, p.Role}] = append(numbers[key{p.Kit, p.Role}], p.Panel.Panel)
	}
	slices.SortFunc(kits, func(a, b SheetForKit) int { return a.Kit.Compare(b.Kit) })
	for i := range kits {
		for _, role := range roles {
			if list := numbers[key{kits[i].Kit, role}]; len(list) > 0 {
				kits[i].Panels = append(kits[i].Panels, RolePanels{role, list})
			}
		}
	}
	return kits
}

// Ranges writes numbers in order with runs drawn together: 1 to 4, 7, 9.
func Ranges(numbers []int) string {
	numbers = slices.Sorted(slices.Values(numbers))
	var parts []string
	for i := 0; i < len(numbers); {
		j := i
		for j+1 < len(numbers) && numbers[j+1] == numbers[j]+1 {
			j++
		}
		if j-i > 1 {
			parts = append(parts, fmt.Sprintf("%d to %d", numbers[i], numbers[j]))
		} else {
			for _, n := range numbers[i : j+1] {
				parts = append(parts, fmt.Sprint(n))
			}
		}
		i = j + 1
	}
	return strings.Join(parts, ", ")
}

// Difficulty says how practised the hands should be that cut a sheet, and why.
type Difficulty struct {
	Words string // for anyone, for careful hands, for practised hands
	Cuts  int
	Why   []string
}

// What makes a sheet hard: a strip so narrow that a slip spoils it, and more cuts
// than are easily kept apart. Common practice, no source.
const (
	narrowStrip = 3 * length.Inch
	manyCuts    = 16
)

func hardness(w WholeSheet, strips []CutStrip, oneWay bool, u length.Unit) Difficulty {
	d := Difficulty{Cuts: countCuts(strips, w.Width), Why: []string{}}
	narrowest := w.Width
	for _, p := range w.Panels {
		narrowest = min(narrowest, p.W, p.H)
	}
	if len(w.Panels) > 0 && narrowest < narrowStrip {
		d.Why = append(d.Why, "strips of "+length.Format(narrowest, u))
	}
	if oneWay {
		d.Why = append(d.Why, "the print has an up")
	}
	if d.Cuts > manyCuts {
		d.Why = append(d.Why, "many to keep apart")
	}
	d.Words = []string{"for anyone", "for careful hands", "for practised hands"}[min(len(d.Why), 2)]
	return d
}

// countCuts counts straight cuts beside the one that squares the end: each strip across the
// full width, each line along it, each across a column and each trim.
func countCuts(strips []CutStrip, width Side) int {
	n, end := 0, Side(0)
	for _, s := range strips {
		if s.Y > end {
			n++
		}
		n++
		end = s.Y + s.H
		lines := map[Side]bool{}
		for _, c := range s.Columns {
			lines[c.X], lines[c.X+c.W] = true, true
			across, trims := map[Side]bool{}, 0
			for _, i := range c.Items {
				across[i.Y], across[i.Y+i.H] = true, true
				if i.W < c.W {
					trims++
				}
			}
			delete(across, s.Y)
			delete(across, s.Y+s.H)
			n += len(across) + trims
		}
		delete(lines, 0)
		delete(lines, width)
		n += len(lines)
	}
	return n
}
