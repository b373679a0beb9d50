package paper

import (
	"fmt"

	"boltward/internal/drive"
	"boltward/internal/words"
)

// NewBoxLabel writes the label of a box: its number, whom it is for and how many of
// which size and theme lie in it. It is drawn as those of kits are.
func NewBoxLabel(d drive.Drive, base, lang string, box int64, to string, rows []drive.NoteRow) KitLabel {
	facts := words.BoxFacts{For: to}
	for _, r := range rows {
		facts.Cases += r.N
		facts.Lines = append(facts.Lines, words.BoxLineFacts{N: r.N, Size: r.Size, Theme: r.Theme})
	}
	number := fmt.Sprint(box)
	return KitLabel{words.In(lang).Box(facts), number, Address(base, d.ID, drive.CodeBox, number)}
}
