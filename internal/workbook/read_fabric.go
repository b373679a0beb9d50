package workbook

import (
	"time"

	"boltward/internal/drive"
	"boltward/internal/length"
)

// fabricFields are what a list of fabric may hold.
func fabricFields() []field {
	return []field{
		{name: "tag", heads: []string{"Code", "Tag", "Tag number", "Tag no", "Lot", "Lot code", "Lot number", "Lot no", "Number", "No", "Nr", "Id", "Label", "Ref", "Reference", "Fabric code"}},
		{name: "length", sized: true, once: true, heads: []string{"Length", "Yardage", "Yards", "Yds", "Yd", "Metres", "Meters", "Metre", "Meter", "M", "How long", "How much", "Amount", "Size", "Cut", "Length of cut", "Total length"}},
		{name: "width", sized: true, heads: []string{"Width", "Wide", "How wide", "WOF", "Width of fabric", "Fabric width", "Full width", "Selvedge to selvedge", "Selvage to selvage"}},
		{name: "pieces", once: true, heads: []string{"Pieces", "How many", "How many pieces", "Number of pieces", "No of pieces", "Free pieces", "Count", "Qty", "Quantity", "Pcs", "Cuts"}},
		{name: "donor", heads: []string{"Given by", "Donor", "Donor name", "Name of donor", "Donated by", "Giver", "From", "Who gave it", "Source"}},
		{name: "received_on", heads: []string{"Date in", "Date", "Received", "Received on", "Date received", "Came in", "Came in on", "Given on", "Date given", "In on"}},
		{name: "kind", heads: []string{"What is it", "What it is", "What", "Description", "Fabric", "Item", "Kind", "Type", "Material"}},
		{name: "usable", sized: true, heads: []string{"Usable width", "Useable width", "Usable", "Usable WOF", "Width usable"}},
		{name: "unit", heads: []string{"Unit", "Units", "Unit of length"}},
		{name: "fibre", heads: []string{"Fibre", "Fiber", "Fibre content", "Fiber content", "Content", "Made of", "Composition"}},
		{name: "weight", heads: []string{"Weight", "Weight class", "Cloth", "Kind of cloth", "Type of cloth", "Weave"}},
		{name: "washed", heads: []string{"Washed", "Prewashed", "Pre washed", "Washed already", "Washed yet", "Is it washed"}},
		{name: "print", heads: []string{"Print", "Print kind", "Kind of print", "Print type", "Pattern", "Design"}},
		{name: "direction", heads: []string{"Direction", "Print direction", "One way", "Nap", "Directional"}},
		{name: "turn", heads: []string{"Turn", "Which way", "Lies", "How it lies", "Way", "Print lies"}},
		{name: "border", heads: []string{"Border", "Borders", "Border print"}},
		{name: "border_depth", sized: true, heads: []string{"Border depth", "Depth of border", "Border strip", "Strip depth"}},
		{name: "trim_ok", heads: []string{"Trim", "May trim", "Trim ok", "Ok as trim", "As trim"}},
		{name: "colours", heads: []string{"Colours", "Colors", "Colour", "Color", "Main colour", "Main color"}},
		{name: "themes", heads: []string{"Themes", "Theme", "Motif", "Motifs", "Subject"}},
		{name: "ends", heads: []string{"Ends", "Cut or torn", "Torn or cut", "Ends are"}},
		{name: "flaws", heads: []string{"Flaws", "Flaw", "Faults", "Defects", "Damage", "Stains"}},
		{name: "shelf", heads: []string{"Shelf", "Where", "Where it is", "Place", "Location", "Bin", "Box"}},
		{name: "set_aside", heads: []string{"Set aside", "Aside", "Why set aside", "Hold"}},
		{name: "note", heads: []string{"Notes", "Note", "Remarks", "Remark", "Comments", "Comment"}},
	}
}

func fabricList() listOf { return listOf{"fabric", fabricFields(), []string{"tag"}} }

// fabric reads a list of fabric, one lot a line.
func (b *Book) fabric(t Terms) (Reading[drive.LotIn], error) {
	return read(b, fabricList(), t, func(r *entry) drive.LotIn {
		in := drive.LotIn{Columns: r.columns, Tagging: r.tagging(t.Today)}
		in.Measured = r.measured(&in.Tagging, t.BorderDepth)
		return in
	})
}

func (r *entry) tagging(today time.Time) drive.Tagging {
	t := drive.Tagging{
		Tag: r.text("tag"), Donor: r.text("donor"), Kind: r.text("kind"), Shelf: r.text("shelf"), Note: r.text("note"),
		Pieces: 1, ReceivedOn: today,
	}
	if _, is := looksLikeDay(t.Tag, length.MM, r.d.MonthFirst()); is {
		r.note("The code reads like a date. If the spreadsheet made one of what was typed, such as 3-4, make the cell text and type it again.")
	}
	if n, said := r.count("pieces"); said {
		t.Pieces = n
	}
	if day, said := r.day("received_on"); said {
		t.ReceivedOn = *day
	}
	t.SetAside = r.setAside(t.Note)
	return t
}

// measured reads the size of a lot; nil where the line gives none, and the lot
// then waits to be measured.
func (r *entry) measured(t *drive.Tagging, borderDepth length.Length) *drive.Measured {
	m := drive.Measured{Make: r.make(t.Kind), Torn: r.torn()}
	t.Make = m.Make
	cut, said := r.sides(t)
	flaws := r.flaws()
	if !said {
		if len(flaws) > 0 {
			t.Note = joined(t.Note, "Flaws: "+r.text("flaws"))
		}
		return nil
	}
	m.Make = r.settle(m.Make)
	m.BorderDepth = r.borderDepth(m, cut, borderDepth)
	cut.Pieces = t.Pieces
	m.Cuts = []drive.Cuttings{cut}
	switch {
	case len(flaws) > 0 && t.Pieces > 1:
		good := cut
		good.Pieces = t.Pieces - 1
		cut.Pieces, cut.Flaws = 1, flaws
		m.Cuts = []drive.Cuttings{cut, good}
		r.note("The flaw was put on one of the %d pieces.", t.Pieces)
	case len(flaws) > 0:
		m.Cuts[0].Flaws = flaws
	}
	doubted := m
	if r.tooLong(cut.Length) { // that is said already, and its width not yet
		cut.Length = drive.Plenty
		doubted.Cuts = []drive.Cuttings{cut}
	}
	for _, doubt := range doubted.DoubtedSizes(r.d) {
		r.note("%s", doubt)
	}
	return &m
}

// borderDepth gives how deep the border strip is to part off; 0 leaves it on.
func (r *entry) borderDepth(m drive.Measured, cut drive.Cuttings, usual length.Length) length.Length {
	depth, said := r.size("border_depth", r.d.Unit)
	if m.Border == "" || said || r.text("border_depth") != "" {
		return depth
	}
	strips := length.Length(1)
	if m.Border == drive.BorderBoth {
		strips = 2
	}
	usable := cut.UsableWidth
	if usable == 0 {
		usable = cut.Width - r.d.Allowances().Selvedges
	}
	switch {
	case usual == 0:
		r.note("How deep the border is, is not said: it stays on the cloth.")
		return 0
	case strips*usual >= usable:
		r.note("The border stays on the cloth: %s is too narrow to part a strip as deep as a body.", length.Format(usable, r.d.Unit))
		return 0
	}
	r.note("The border strip is parted %s deep, as deep as the longest body.", length.Format(usual, r.d.Unit))
	return usual
}

func joined(a, b string) string {
	if a == "" {
		return b
	}
	return a + ". " + b
}
