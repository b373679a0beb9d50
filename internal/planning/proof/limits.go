package proof

import (
	"context"
	"errors"
	"fmt"
	"math/big"
	"slices"
	"strconv"
	"strings"
)

// What is held against each other may come from anybody, so nothing in it may cost more than
// these say: steps of the programmes, cells of one, what is remembered while cuts are tried.
// Every certificate that the planner writes lies far below.
const (
	mostWork   = 30_000_000_000
	mostCells  = 1 << 26
	mostPoints = 1 << 21
	mostKept   = 4_000_000
	mostFile   = 1 << 30 // bytes
)

// What problems may hold; the same limits that planning has, written down a second time.
const (
	mostPieces = 200_000
	mostQuotas = 1_000
	mostWanted = 10_000_000
	mostLines  = 1_000 // pieces of a role in a case
)

// meter counts the work and ends it where it is too much or nobody waits for it any more.
type meter struct {
	ctx   context.Context
	left  int64
	asked int64 // what was left when ctx was last looked at
}

var errTooMuch = errors.New("checking it takes more work than any certificate should")

// spend counts so many steps and says whether to go on.
func (m *meter) spend(steps int64) error {
	if m.left -= steps; m.left < 0 {
		return errTooMuch
	}
	if m.asked-m.left > 5_000_000 {
		m.asked = m.left
		return m.ctx.Err()
	}
	return nil
}

// exact reads a number as the planner takes it: a decimal, with an exponent that spells out no
// endless row of digits.
func exact(text string) (*big.Rat, error) {
	if at := strings.IndexAny(text, "eE"); at >= 0 {
		if n, err := strconv.Atoi(text[at+1:]); err != nil || n > 30 || n < -400 {
			return nil, fmt.Errorf("%.40q is not a number of this size", text)
		}
	}
	if len(text) > 600 {
		return nil, fmt.Errorf("%.40s… is too long a number", text)
	}
	r, ok := new(big.Rat).SetString(text)
	if !ok {
		return nil, fmt.Errorf("%q is not a number", text)
	}
	return r, nil
}

// sound refuses a problem that breaks a rule on which the proof rests.
func (p *problem) sound() error {
	ids := map[string]bool{}
	once := func(kind, id string) error {
		if ids[kind+id] {
			return fmt.Errorf("the %s %q stands twice", kind, id)
		}
		ids[kind+id] = true
		return nil
	}
	first := map[string]int{}
	var pieces int64
	for i, f := range p.Fabrics {
		if err := once("fabric ", f.ID); err != nil {
			return err
		}
		n := f.count()
		if pieces += n; n < 0 || pieces > mostPieces {
			return fmt.Errorf("fabric %q: there are 0 to %d pieces", f.ID, mostPieces)
		}
		k, known := first[f.Group]
		if !known {
			first[f.Group], k = i, i
		}
		if g := p.Fabrics[k]; g.turn() != f.turn() || !sameSet(g.Roles, f.Roles) {
			return fmt.Errorf("fabrics of the group %q do not serve alike", f.Group)
		}
	}
	for _, c := range p.Cases {
		if err := once("case ", c.ID); err != nil {
			return err
		}
		for _, l := range c.Panels {
			if err := once("case "+c.ID+" has a role that ", l.Role); err != nil {
				return err
			}
			if n := l.count(); n < 1 || n > mostLines {
				return fmt.Errorf("case %q takes %d pieces of a role", c.ID, n)
			}
		}
	}
	if len(p.Quotas) > mostQuotas {
		return fmt.Errorf("%d quotas are too many", len(p.Quotas))
	}
	for i, q := range p.Quotas {
		if err := once("quota ", q.ID); err != nil {
			return err
		}
		if q.Wanted < 0 || q.Wanted > mostWanted {
			return fmt.Errorf("quota %q wants %d pillowcases", q.ID, q.Wanted)
		}
		if p.quotas[i].weight.Sign() <= 0 {
			return fmt.Errorf("quota %q has no weight above 0", q.ID)
		}
	}
	return nil
}

func sameSet(a, b []string) bool {
	for _, x := range a {
		if !has(b, x) {
			return false
		}
	}
	return !slices.ContainsFunc(b, func(x string) bool { return !has(a, x) })
}
