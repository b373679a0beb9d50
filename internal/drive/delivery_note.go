package drive

import "time"

// DeliveryNote is what stands on the paper that goes with a delivery.
type DeliveryNote struct {
	Number    int64
	Recipient Recipient
	SentOn    *time.Time
	CarriedBy string
	Note      string
	Rows      []NoteRow
	Overrides []NoteOverride // of the recipient's rules, with the reason
}

// NoteRow is pillowcases of one size and theme in one box.
type NoteRow struct {
	Box       int64  `db:"box"`
	PackedBy  string `db:"packed_by"`
	CheckedBy string `db:"checked_by"`
	Size      string `db:"size"`
	Theme     string `db:"theme"` // empty: none noted
	N         int    `db:"n"`
}

// NoteOverride is a rule that was not kept, with the reason.
type NoteOverride struct {
	Rule, Reason string
	Box          int64 // 0: of the whole delivery
}

// NoteTotal is how many of one size, or of one theme, stand on a note.
type NoteTotal struct {
	What string
	N    int
}

// Cases counts the pillowcases on the note, Boxes its boxes.
func (n DeliveryNote) Cases() int {
	all := 0
	for _, r := range n.Rows {
		all += r.N
	}
	return all
}

// Boxes counts the boxes on the note.
func (n DeliveryNote) Boxes() int {
	boxes := map[int64]bool{}
	for _, r := range n.Rows {
		boxes[r.Box] = true
	}
	return len(boxes)
}

// BySize adds up the sizes, ByTheme the themes, each in the order in which they first stand.
func (n DeliveryNote) BySize() []NoteTotal { return n.totals(func(r NoteRow) string { return r.Size }) }

// ByTheme adds up the themes; those without one come under the empty theme.
func (n DeliveryNote) ByTheme() []NoteTotal {
	return n.totals(func(r NoteRow) string { return r.Theme })
}

func (n DeliveryNote) totals(of func(NoteRow) string) []NoteTotal {
	var list []NoteTotal
	at := map[string]int{}
	for _, r := range n.Rows {
		i, seen := at[of(r)]
		if !seen {
			i = len(list)
			at[of(r)] = i
			list = append(list, NoteTotal{What: of(r)})
		}
		list[i].N += r.N
	}
	return list
}
