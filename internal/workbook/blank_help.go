package workbook

import "boltward/internal/drive"

// limit is what a spreadsheet can check of a cell by itself.
type limit int

const (
	anyText limit = iota
	aCount
	aDay
	onlyOnce
)

// help says what belongs under a heading, and what the spreadsheet checks: a choice
// of words, a count from least to most, a day, a text of most characters.
type help struct {
	text    string
	example string
	choices []string
	limit   limit
	least   int
	most    int
	loose   bool // the choices are not all that may be said
	width   float64
}

// helpFor gives the help for a field; false for one that a blank table leaves out.
func helpFor(kind drive.BringKind, name string) (help, bool) {
	of := map[drive.BringKind]func() map[string]help{
		drive.BringFabric: fabricHelp, drive.BringPeople: peopleHelp, drive.BringAsked: askedHelp, drive.BringDonors: donorHelp,
	}[kind]()
	h, ok := of[name]
	if !ok {
		h, ok = contactHelp()[name]
	}
	return h, ok
}

func yesOrNo() []string { return []string{"yes", "no"} }

func fabricHelp() map[string]help {
	return map[string]help{
		"tag":          {text: "A code of its own for every lot, as on its tag. The same code brought twice changes nothing; twice in one file is refused.", example: "A-017", limit: onlyOnce, width: 12},
		"length":       {text: "How long, as measured: 2 1/2, 2.5, 1 yd 9 in, 2,5 m. Both sides at once for a fat quarter: 18 x 21 in. Empty: it waits to be measured.", example: "2 1/2", width: 14},
		"width":        {text: "From selvedge to selvedge.", example: "44", width: 12},
		"pieces":       {text: "How many pieces of that size, 1 to 500. Empty: one.", example: "1", limit: aCount, least: 1, most: 500},
		"donor":        {text: "Who gave it. A name that is here already is the same donor; empty: unknown.", example: "Orla Quist", most: 120, width: 24},
		"received_on":  {text: "The day it came in. Empty: today.", example: "2026-10-24", limit: aDay, width: 12},
		"kind":         {text: "What it is, in your words.", example: "quilting cotton, stars", most: 120, width: 28},
		"usable":       {text: "The width that can be used, where it was measured; else it is worked out from the width.", example: "42"},
		"fibre":        {text: "What it is made of.", example: "cotton", choices: []string{"cotton", "linen", "poly-cotton", "other", "not sure"}},
		"weight":       {text: "What kind of cloth.", example: "quilting", choices: []string{"quilting", "flannel", "sheeting", "heavy"}},
		"washed":       {text: "Washed already?", example: "no", choices: yesOrNo()},
		"print":        {text: "One colour, a small print for cuffs too, or a print to show.", example: "feature", choices: []string{"solid", "tonal", "feature"}},
		"turn":         {text: "How the print must lie on the bed: any way, across or along.", example: "any", choices: []string{"any", "across", "along"}},
		"border":       {text: "Whether a border runs along the selvedge.", example: "none", choices: []string{"none", "one selvedge", "both selvedges"}},
		"border_depth": {text: "How deep the border strip is, to be parted off. Empty: as deep as the longest body."},
		"trim_ok":      {text: "May a print to show be a cuff too?", example: "no", choices: yesOrNo()},
		"colours":      {text: "Colours, the main one first.", example: "navy, white", width: 18},
		"themes":       {text: "What the print shows.", example: "space, stars", width: 18},
		"ends":         {text: "Whether the ends are torn or cut.", example: "torn", choices: []string{"cut", "torn"}},
		"flaws":        {text: "Where flaws are, from the end that was measured first: 30 to 33 in across; hole 10 to 12 in, 3 in in from the edge.", example: "stain 30 to 33 in", width: 24},
		"shelf":        {text: "Where it lies.", example: "B3", most: 40},
		"set_aside":    {text: "Why nobody should use it for now. Empty: it may be used.", example: "smells of smoke", most: 200, width: 18},
		"note":         {text: "Anything else.", most: 2000, width: 30},
	}
}

func peopleHelp() map[string]help {
	return map[string]help{
		"name":        {text: "The name. One that is here already stays as it is.", example: "Marit Osgood", limit: onlyOnce, width: 24},
		"kind":        {text: "One volunteer, or a group.", example: "volunteer", choices: []string{"volunteer", "school", "chapter", "sewing day"}},
		"heads":       {text: "How many people sew in a group.", example: "12", limit: aCount, least: 1, most: 5000},
		"pickup":      {text: "Where kits change hands.", example: "Tuesday table", most: 120, width: 20},
		"french_seam": {text: "Sews French seams?", example: "yes", choices: yesOrNo()},
		"overlocker":  {text: "Has an overlocker?", example: "no", choices: yesOrNo()},
		"pace":        {text: "How many pillowcases a week, as they said.", example: "4", limit: aCount, most: 10_000},
		"beginner":    {text: "Has just begun? Then small kits come first.", example: "no", choices: yesOrNo()},
		"language":    {text: "What they read best.", example: "English", most: 40, width: 14},
		"smoke":       {text: "Does anybody smoke where it is sewn? Some recipients ask. Empty: not asked yet.", example: "no", choices: yesOrNo()},
		"pets":        {text: "Are there pets where it is sewn? Empty: not asked yet.", example: "no", choices: yesOrNo()},
		"agreed_on":   {text: "The day they agreed that this is kept and used to write to them.", example: "2026-10-01", limit: aDay, width: 12},
	}
}

func donorHelp() map[string]help {
	return map[string]help{
		"name":   {text: "The name. One that is here already stays as it is.", example: "Orla Quist", limit: onlyOnce, width: 24},
		"letter": {text: "Wants a thank-you letter?", example: "yes", choices: yesOrNo()},
	}
}

func contactHelp() map[string]help {
	return map[string]help{
		"contact": {text: "Whom to ask for.", example: "Ms Bell", most: 200, width: 20},
		"email":   {text: "One e-mail address.", example: "marit@example.org", most: 254, width: 26},
		"phone":   {text: "As you would dial it.", example: "555 0101", most: 60, width: 16},
		"address": {text: "Street and place.", example: "4 Mill Lane", most: 500, width: 30},
		"note":    {text: "Anything else.", most: 2000, width: 30},
	}
}

func askedHelp() map[string]help {
	return map[string]help{
		"recipient":     {text: "Who asks. Several lines of one recipient belong together; the first says what it is.", example: "Larkspur ward", most: 120, width: 24},
		"sizes":         {text: "A size by the name it has under Sizes; any of several, parted by a semicolon.", example: "Standard", loose: true, width: 16},
		"wanted":        {text: "How many pillowcases.", example: "60", limit: aCount, least: 1, most: 100_000},
		"kind":          {text: "What kind of place.", example: "ward", choices: []string{"ward", "hospice", "shelter", "other"}},
		"due":           {text: "By when they are needed. Empty: no date.", example: "2026-12-14", limit: aDay, width: 12},
		"matter":        {text: "How much it matters.", example: "should", choices: []string{"must", "should", "if there is enough"}},
		"themes_wanted": {text: "Themes they would like. Empty: any.", example: "space, sea", width: 18},
		"themes_avoid":  {text: "Themes to leave out.", example: "clowns", width: 18},
		"kit_cases":     {text: "How many pillowcases go into one kit. Empty: as the drive has it.", example: "6", limit: aCount, least: 1, most: 50},
		"ages":          {text: "For which ages.", example: "3 to 10", most: 120},
		"fibres":        {text: "Only these fibres. Empty: no rule.", example: "cotton", width: 14},
		"rules":         {text: "The place's rules, parted by a semicolon.", example: "wash at 60 °C; no buttons", width: 30},
	}
}
