package drive

import (
	"cmp"
	"slices"
)

// Bundle is a stack that somebody cuts, folds and labels: what one kit has of one role
// from one sheet.
type Bundle struct {
	Kit     KitRef
	ForWhom string
	Size    string
	Role    string
	Panels  []int // on the sheet, by number
	Sheet   SheetRef
	Cloth   string // the piece's id
	Looks   string
	Cut     bool // the sheet is cut
}

// Bundles gives the bundles of sheets in the order in which they are cut.
func Bundles(sheets []CutSheet) []Bundle {
	var list []Bundle
	for _, s := range sheets {
		for _, k := range s.Kits {
			for _, p := range k.Panels {
				list = append(list, Bundle{
					Kit: k.Kit, ForWhom: k.ForWhom, Size: k.Size, Role: p.Role, Panels: p.Numbers,
					Sheet: s.Ref(), Cloth: ClothID(s.Lot, s.Piece), Looks: s.Looks, Cut: s.State == SheetCut,
				})
			}
		}
	}
	return list
}

// BundlesByKit gives the bundles of each kit, by its number; a body before its trims.
func BundlesByKit(sheets []CutSheet) [][]Bundle {
	list := Bundles(sheets)
	order := map[string]int{"body": 0, "cuff": 1, "accent": 2}
	slices.SortStableFunc(list, func(a, b Bundle) int {
		return cmp.Or(a.Kit.Compare(b.Kit), cmp.Compare(order[a.Role], order[b.Role]))
	})
	var kits [][]Bundle
	for _, b := range list {
		if n := len(kits); n > 0 && kits[n-1][0].Kit == b.Kit {
			kits[n-1] = append(kits[n-1], b)
			continue
		}
		kits = append(kits, []Bundle{b})
	}
	return kits
}

// Pull is a piece to fetch from the shelf, and how much of it is cut.
type Pull struct {
	Shelf, Name, Tag, Looks string
	Width, Takes, Left      Side // Left: what stays of the piece besides
	Sheets                  []SheetRef
}

// PullList gives what to fetch from the shelves for sheets that are in their order.
func PullList(sheets []CutSheet) []Pull {
	var list []Pull
	for i, s := range sheets {
		if n := len(list); n > 0 && sheets[i-1].Lot == s.Lot && sheets[i-1].Piece == s.Piece {
			list[n-1].Takes += s.Used
			list[n-1].Sheets = append(list[n-1].Sheets, s.Ref())
			continue
		}
		list = append(list, Pull{
			Shelf: s.Shelf, Name: s.Name, Tag: s.Tag, Looks: s.Looks, Width: s.Width, Takes: s.Used, Left: s.Left, Sheets: []SheetRef{s.Ref()},
		})
	}
	return list
}
