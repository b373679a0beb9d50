package cutting

// tally packs how many panels there are of each of up to eight kinds, a byte each.
type tally uint64

const (
	mostTallied = 8  // kinds
	mostOfOne   = 63 // panels of a kind: two tallies added up stay below tops
	tops        = 0x8080808080808080
)

func (t tally) of(place int) int64 { return int64(t >> (8 * place) & 0xff) }

// within says whether o has as many of every kind.
func (t tally) within(o tally) bool { return (uint64(o)|tops-uint64(t))&tops == tops }

// atMost is the tally with no more of any kind than o.
func (t tally) atMost(o tally) tally {
	fits := (uint64(o) | tops - uint64(t)) & tops >> 7 * 0xff // all bits of each kind of which o has as many
	return t&tally(fits) | o&^tally(fits)
}
