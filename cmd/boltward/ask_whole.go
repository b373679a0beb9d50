package main

import (
	"fmt"
	"strings"

	"boltward/internal/drive"
	"boltward/internal/length"
)

// driveShort is the cloth that a line takes for all that has none yet.
type driveShort struct {
	Line    string        `json:"line"`
	Missing int           `json:"missing"`
	Kind    string        `json:"kind"` // of its bodies, in words; empty for any
	Cloth   []driveLength `json:"cloth"`
}

// driveWhole is the same for all lines together.
type driveWhole struct {
	Missing int           `json:"missing"`
	Cloth   []driveLength `json:"cloth"`
}

// driveLength is cloth of one role.
type driveLength struct {
	Role   string `json:"role"`
	Length string `json:"length"` // rounded up
	Width  string `json:"width"`
}

func lengthsOf(cloth []drive.ClothNeed, unit length.Unit) []driveLength {
	list := []driveLength{}
	for _, c := range cloth {
		list = append(list, driveLength{c.Role, c.Yardage(unit), length.Format(c.Width, unit)})
	}
	return list
}

func shortOf(short []drive.LineNeed, unit length.Unit) []driveShort {
	list := []driveShort{}
	for _, n := range short {
		list = append(list, driveShort{n.Want.ID, n.Missing, n.Want.Kind(), lengthsOf(n.Cloth, unit)})
	}
	return list
}

func wholeOf(short []drive.LineNeed, unit length.Unit) driveWhole {
	missing, cloth := drive.AllNeeds(short)
	return driveWhole{missing, lengthsOf(cloth, unit)}
}

// wholeWords says what all that is short takes, as the page of the drive does: a yard and two of
// what helps most would have donors believe that little is wanted.
func wholeWords(short []drive.LineNeed, names map[string]string, unit length.Unit) string {
	missing, cloth := drive.AllNeeds(short)
	if missing == 0 {
		return ""
	}
	var text strings.Builder
	fmt.Fprintf(&text, "\nAll that is short: %s", pillowcases(missing))
	if len(cloth) > 0 {
		var wide length.Length
		for _, c := range cloth {
			wide = max(wide, c.Width)
		}
		fmt.Fprintf(&text, ", about %s, counted in cloth %s usable, as if none of it came from the shelf", drive.ClothWords(cloth, unit), length.Format(wide, unit))
	}
	text.WriteString(".\n")
	for _, n := range short {
		fmt.Fprintf(&text, "%s: %s of %s", names[n.Want.ID], pillowcases(n.Missing), orAny(n.Want.Kind()))
		if len(n.Cloth) > 0 {
			text.WriteString(": " + drive.ClothWords(n.Cloth, unit))
		} else {
			text.WriteString("; no size is chosen")
		}
		text.WriteString("\n")
	}
	return text.String()
}

func pillowcases(n int) string {
	if n == 1 {
		return "1 pillowcase"
	}
	return fmt.Sprintf("%d pillowcases", n)
}

func orAny(kind string) string {
	if kind == "" {
		return "any fabric"
	}
	return kind
}
