package drive

import (
	"cmp"
	"slices"
	"strings"
	"time"

	"boltward/internal/sizing"
)

// BeginnerCases is the most pillowcases of a kit for somebody who begins.
const BeginnerCases = 2

// KitHere is a kit that lies here, with what decides whom it suits.
type KitHere struct {
	Kit
	KitHereFacts
	NeededBy *time.Time // by its recipient
}

// KitHereFacts is how a kit is sewn and what its recipient asks of homes.
type KitHereFacts struct {
	Spec  sizing.Spec `db:"spec"`
	Homes []string    `db:"homes"`
}

// Sewist is somebody a kit is sought for.
type Sewist struct {
	Person
	Sizes []int64 // that they have sewn before
	Weeks int     // until the kit should be back
}

// Suit says how well a kit suits somebody. A kit that speaks Against is still
// theirs to choose: the person at the table decides.
type Suit struct {
	KitRef
	Why     []string // in words, the weightiest first
	Against bool
	score   int
}

// Suits orders kits for somebody: skill and what is declared of a home first, then
// size, place, and the longest needed and longest lying.
func (w Sewist) Suits(kits []KitHere) []Suit {
	suits := make([]Suit, len(kits))
	byRef := make(map[KitRef]KitHere, len(kits))
	for i, k := range kits {
		suits[i], byRef[k.KitRef] = w.suit(k), k
	}
	slices.SortStableFunc(suits, func(a, b Suit) int {
		k, l := byRef[a.KitRef], byRef[b.KitRef]
		return cmp.Or(cmp.Compare(a.score, b.score), CompareDays(k.NeededBy, l.NeededBy), CompareDays(k.Since, l.Since), k.Compare(l.KitRef))
	})
	return suits
}

// suit scores a kit, the less the better.
func (w Sewist) suit(k KitHere) Suit {
	s := Suit{KitRef: k.KitRef}
	weigh := func(score int, why string) {
		s.score += score
		s.Why = append(s.Why, why)
	}
	if lacks, against := w.HomeLacks(k.Homes); against {
		s.Against = true
		weigh(200, "its recipient asks for "+strings.Join(k.Homes, " and ")+", which they say is not so")
	} else if len(lacks) > 0 {
		weigh(100, "its recipient asks for "+strings.Join(lacks, " and ")+": ask them")
	} else if len(k.Homes) > 0 {
		weigh(0, "their home is as its recipient asks")
	}
	french := k.Spec.Seam.Kind == sizing.French
	switch {
	case french && !w.FrenchSeam:
		weigh(40, "needs French seams, not noted of them")
	case french:
		weigh(0, "French seams, which they sew")
	case w.Overlocker:
		weigh(0, "one seam to overlock")
	}
	switch small := k.Cases <= BeginnerCases; {
	case w.Beginner && small:
		weigh(-20, "small, to begin with")
	case w.Beginner:
		weigh(20, "large for a beginner")
	case small && !w.Kind.Group():
		weigh(6, "small: keep it for a beginner")
	}
	if w.Pace != nil && w.Weeks > 0 {
		if k.Cases > *w.Pace*w.Weeks {
			weigh(10, "more than they sew until then")
		} else if k.Cases > BeginnerCases || w.Beginner {
			weigh(0, "done in time at their pace")
		}
	}
	if k.Place != "" && strings.EqualFold(k.Place, w.Pickup) {
		weigh(-8, "lies where they pick up")
	} else if k.Place != "" {
		s.score += 2 // its label says where it lies
	}
	if slices.Contains(w.Sizes, k.Size) {
		weigh(-3, "a size they have sewn")
	}
	if k.State == KitCut {
		weigh(4, "not bagged yet")
	}
	return s
}

// CompareDays orders days, the earliest first; no day is after every day.
func CompareDays(a, b *time.Time) int {
	switch {
	case a == nil && b == nil:
		return 0
	case a == nil:
		return 1
	case b == nil:
		return -1
	}
	return a.Compare(*b)
}
