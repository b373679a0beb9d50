package site

import (
	"slices"
	"strings"

	"boltward/internal/drive"
	"boltward/internal/length"
)

// measurePicks are what the form offers to be tapped.
type measurePicks struct {
	Usual                         []option // widths that cloth usually has
	Weights, Fibres, Ends, Prints []option
	Turns, Borders, Where         []option
	Colours                       []dye
	Themes                        []option
	Shelves                       []string
}

// dye is a colour with what it looks like; Fill is empty where nobody knows.
type dye struct{ Name, Fill string }

func newMeasurePicks(d drive.Drive) measurePicks {
	return measurePicks{
		Usual:   usualWidths(d),
		Weights: optionsOf(drive.Weights()), Fibres: optionsOf(drive.Fibres()),
		Ends:    []option{{drive.EndsCut, "cut"}, {drive.EndsTorn, "torn"}},
		Prints:  []option{{drive.PrintSolid, "solid"}, {drive.PrintTonal, "tonal"}, {drive.PrintFeature, "feature print"}},
		Turns:   turnOptions(),
		Borders: []option{{"", "none"}, {drive.BorderOne, "one selvedge"}, {drive.BorderBoth, "both selvedges"}},
		Where: []option{
			{flawAcross, "goes all the way across"},
			{flawEdge, "reaches in from the edge"},
			{flawFar, "reaches in from the far edge"},
			{flawInside, "has good cloth on both sides"},
			{flawNarrow, "leaves a narrower stretch"},
		},
	}
}

func turnOptions() []option {
	return []option{
		{drive.TurnEither, "either way"}, {drive.TurnAlong, "along, upright"}, {drive.TurnAcross, "across, sideways"},
	}
}

// Where a flaw lies.
const (
	flawAcross = "across"
	flawEdge   = "edge"
	flawFar    = "far"
	flawInside = "inside"
	flawNarrow = "narrow"
)

// usualWidths are what cloth usually measures from selvedge to selvedge (common
// practice, no source), each with what the drive counts on of it; before them stands
// the one that was typed.
func usualWidths(d drive.Drive) []option {
	widths := []length.Length{36, 42, 44, 45, 54, 60, 90, 108}
	if d.Unit.Metric() {
		widths = []length.Length{90, 110, 112, 140, 150, 160, 220, 280}
	}
	options := []option{{"", "as typed"}}
	for _, w := range widths {
		w *= d.Unit.Size()
		usable := strings.TrimSuffix(drive.OnTape(w-d.Allowances().Selvedges, d.Unit), " "+string(d.Unit))
		options = append(options, option{length.Format(w, d.Unit), length.Format(w, d.Unit) + ", " + usable + " usable"})
	}
	return options
}

// dyes are the colours that most cloth is sorted by, those that go with every
// other first.
func dyes() []dye {
	return []dye{
		{"white", "#FFFFFF"},
		{"cream", "#F7EED3"},
		{"grey", "#9A9DA1"},
		{"black", "#1C1C1E"},
		{"natural linen", "#D8C7A3"},
		{"red", "#C0272D"},
		{"pink", "#EFA3B4"},
		{"orange", "#EE8434"},
		{"yellow", "#F4CF3E"},
		{"green", "#4E8F3A"},
		{"teal", "#1F8A8C"},
		{"blue", "#3F7FC4"},
		{"navy", "#1E2C58"},
		{"purple", "#75479C"},
		{"brown", "#7A5230"},
	}
}

// offerColours gives the colours to tap: the usual ones, then others that cloth
// here has, and those the form has.
func offerColours(here, chosen []string) []dye {
	list := dyes()
	for _, name := range slices.Concat(chosen, here[:min(len(here), 20)]) {
		if !slices.ContainsFunc(list, func(d dye) bool { return d.Name == name }) {
			list = append(list, dye{Name: name})
		}
	}
	return list
}

// offerThemes gives the themes to tap: those in use, and those the form has.
func offerThemes(here, chosen []string) []option {
	list := here[:min(len(here), 24)]
	for _, name := range chosen {
		if !slices.Contains(list, name) {
			list = append(slices.Clip(list), name)
		}
	}
	return optionsOf(list)
}
