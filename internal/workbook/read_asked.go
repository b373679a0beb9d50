package workbook

import (
	"strings"

	"boltward/internal/drive"
)

func askedFields() []field {
	return []field{
		{name: "recipient", heads: []string{"Recipient", "Ward", "Hospital", "Shelter", "Who asks", "Asked by", "For", "For whom", "Name", "Place"}},
		{name: "sizes", heads: []string{"Size", "Sizes", "Pillow", "Pillow size", "Case size", "Any of these sizes"}},
		{name: "wanted", once: true, heads: []string{"Wanted", "How many", "Number", "Quantity", "Qty", "Count", "Asked for", "Needed"}},
		{name: "kind", heads: []string{"Kind", "What it is", "What is it", "Type", "Kind of place"}},
		{name: "due", heads: []string{"Due", "By when", "By", "Needed by", "Due date", "Date", "When"}},
		{name: "matter", heads: []string{"How much it matters", "Matters", "Priority", "Importance"}},
		{name: "themes_wanted", heads: []string{"Themes wanted", "Themes", "Theme", "Wants", "Themes liked"}},
		{name: "themes_avoid", heads: []string{"Themes to avoid", "Avoid", "Not", "No themes"}},
		{name: "kit_cases", heads: []string{"Kit size", "Kit", "Pillowcases in a kit", "Cases a kit", "Per kit"}},
		{name: "ages", heads: []string{"Ages", "Age", "For ages"}},
		{name: "contact", heads: []string{"Contact", "Contact person", "Contact name", "Ask for"}},
		{name: "email", heads: []string{"Email", "E mail", "Mail"}},
		{name: "phone", heads: []string{"Phone", "Telephone", "Tel", "Mobile"}},
		{name: "address", heads: []string{"Address", "Street"}},
		{name: "fibres", heads: []string{"Fibres", "Fibers", "Fibre", "Fiber", "Only fibres", "Fibre rules"}},
		{name: "rules", heads: []string{"Rules", "Rule", "Conditions", "Laundering"}},
		{name: "note", heads: []string{"Notes", "Note", "Remarks", "Comments"}},
	}
}

func askedList() listOf {
	return listOf{"what is asked for", askedFields(), []string{"recipient", "sizes", "wanted"}}
}

// asked reads what is asked for, one line of one recipient a line. A recipient
// may stand on several lines; the first says what it is.
func (b *Book) asked(t Terms) (Reading[drive.AskedIn], error) {
	return read(b, askedList(), t, (*entry).asked)
}

func (r *entry) asked() drive.AskedIn {
	in := drive.AskedIn{Columns: r.columns, SizeNames: r.sizeNames()}
	in.Recipient = drive.Recipient{
		Name: r.text("recipient"), Kind: drive.RecipientOther, Ages: r.text("ages"), Contact: r.text("contact"), Email: r.text("email"),
		Phone: r.text("phone"), Address: r.text("address"), Fibres: r.fibres(), Rules: r.sentences("rules"),
	}
	if kind := r.oneOf("kind", []word{
		{string(drive.RecipientWard), []string{"ward", "hospital", "children's ward", "clinic"}},
		{string(drive.RecipientHospice), []string{"hospice"}},
		{string(drive.RecipientShelter), []string{"shelter", "refuge"}},
		{string(drive.RecipientOther), []string{"other", "home", "care home", "school"}},
	}, "ward, hospice, shelter or other"); kind != "" {
		in.Recipient.Kind = drive.RecipientKind(kind)
	}
	in.Line = drive.Asked{ThemesWanted: r.words("themes_wanted"), ThemesAvoid: r.words("themes_avoid"), Note: r.text("note"), Matter: drive.MatterShould}
	wanted, said := r.count("wanted")
	if !said && r.text("wanted") == "" {
		r.fault("wanted", "Say how many pillowcases are wanted.")
	}
	in.Line.Wanted = wanted
	in.Line.Due, _ = r.day("due")
	if matter := r.oneOf("matter", []word{
		{string(drive.MatterMust), []string{"must", "high", "urgent", "1"}},
		{string(drive.MatterShould), []string{"should", "medium", "normal", "2"}},
		{string(drive.MatterIfEnough), []string{"if there is enough", "could", "low", "nice to have", "3"}},
	}, "must, should or if there is enough"); matter != "" {
		in.Line.Matter = drive.Matter(matter)
	}
	if most, said := r.count("kit_cases"); said {
		in.Line.KitCases = &most
	}
	return in
}

// sizeNames reads the names of sizes that fill a line.
func (r *entry) sizeNames() []string {
	text := strings.NewReplacer("/", ";", " or ", ";").Replace(r.text("sizes"))
	names := drive.TidyWords(strings.FieldsFunc(text, func(r rune) bool { return strings.ContainsRune(",;\n\r", r) }))
	if len(names) == 0 {
		r.fault("sizes", "Say which size, by the name it has under Sizes.")
	}
	return names
}

func (r *entry) fibres() []string {
	list := r.words("fibres")
	for _, fibre := range list {
		switch fibre {
		case "any", "all", "no rule":
			return nil
		}
	}
	return list
}

// sentences reads a list whose members may hold commas: where the cell has
// semicolons or lines, those part it.
func (r *entry) sentences(name string) []string {
	cell := r.text(name)
	marks := ";\n\r"
	if !strings.ContainsAny(cell, marks) {
		marks = ","
	}
	return drive.TidySentences(strings.FieldsFunc(cell, func(c rune) bool { return strings.ContainsRune(marks, c) }))
}
