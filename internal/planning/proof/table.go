package proof

import (
	"fmt"
	"math/big"
	"slices"
)

// fabric gives the most that all pieces hold at these prices.
func (c *casework) fabric(price []int64) (*big.Int, error) {
	sum := new(big.Int)
	for _, g := range c.groups {
		value := map[[2]int64]int64{}
		for _, f := range g.forms {
			if f.at >= 0 && price[f.at] > 0 && f.w <= g.widest && f.h <= g.long {
				value[[2]int64{f.w, f.h}] = max(value[[2]int64{f.w, f.h}], price[f.at])
			}
		}
		if len(value) == 0 {
			continue
		}
		if g.tooCoarse || !fits(value, g.widest, g.long) {
			return nil, fmt.Errorf("at these prices and on this grid a piece of %s would be worth more than can be counted", g.name)
		}
		t, err := c.newTable(value, g.widest, g.long)
		if err != nil {
			return nil, fmt.Errorf("group %s: %w", g.name, err)
		}
		for size, n := range g.pieces {
			most, err := t.best(size[0], size[1])
			if err != nil {
				return nil, fmt.Errorf("group %s: %w", g.name, err)
			}
			sum.Add(sum, times(most, n))
		}
	}
	return sum, nil
}

// fits says whether what a piece can be worth, by area, stays inside int64.
func fits(value map[[2]int64]int64, widest, long int64) bool {
	for s, v := range value {
		all := new(big.Int).Mul(times(widest, long), big.NewInt(v))
		if !all.Quo(all, times(s[0], s[1])).IsInt64() || all.Cmp(big.NewInt(1<<60)) > 0 {
			return false
		}
	}
	return true
}

// table answers what the best three-stage pattern of any piece of one cloth is worth.
type table struct {
	c      *casework
	hs, ws []int64           // where panel sides can add up to
	strip  [][]int64         // by height, by width
	whole  map[int64][]int64 // by width, by length
}

func (c *casework) newTable(value map[[2]int64]int64, widest, long int64) (*table, error) {
	t := &table{c: c, whole: map[int64][]int64{}}
	var hs, ws []int64
	for s := range value {
		ws, hs = append(ws, s[0]), append(hs, s[1])
	}
	var err error
	if t.hs, err = c.sums(hs, long); err != nil {
		return nil, err
	}
	if t.ws, err = c.sums(ws, widest); err != nil {
		return nil, err
	}
	slices.Sort(ws)
	classes := slices.Compact(ws)
	cells := int64(len(t.hs)) * int64(len(t.ws)+len(classes))
	if cells > mostCells {
		return nil, errTooMuch
	}
	if err := c.spend(cells*int64(len(classes)) + int64(len(t.hs)*len(classes)*len(value))); err != nil {
		return nil, err
	}
	stacks := make([][]int64, len(classes))
	for k, w := range classes {
		stacks[k] = make([]int64, len(t.hs))
		for i, h := range t.hs {
			for s, v := range value {
				if s[0] <= w && s[1] <= h {
					stacks[k][i] = max(stacks[k][i], stacks[k][at(t.hs, h-s[1])]+v)
				}
			}
		}
	}
	for i := range t.hs {
		row := make([]int64, len(t.ws))
		for j, w := range t.ws {
			for k, c := range classes {
				if c <= w && stacks[k][i] > 0 {
					row[j] = max(row[j], row[at(t.ws, w-c)]+stacks[k][i])
				}
			}
		}
		t.strip = append(t.strip, row)
		if err := c.spend(1); err != nil {
			return nil, err
		}
	}
	return t, nil
}

func (t *table) best(width, length int64) (int64, error) {
	j := at(t.ws, width)
	all := t.whole[t.ws[j]]
	if all == nil {
		var heights []int
		for i := 1; i < len(t.hs); i++ {
			if t.strip[i][j] > t.strip[i-1][j] {
				heights = append(heights, i)
			}
		}
		all = make([]int64, len(t.hs))
		for i, l := range t.hs {
			if err := t.c.spend(1 + int64(len(heights))); err != nil {
				return 0, err
			}
			for _, k := range heights {
				if k <= i {
					all[i] = max(all[i], all[at(t.hs, l-t.hs[k])]+t.strip[k][j])
				}
			}
		}
		t.whole[t.ws[j]] = all
	}
	return all[at(t.hs, length)], nil
}

// sums lists what sides can add up to, 0 first.
func (c *casework) sums(sides []int64, most int64) ([]int64, error) {
	reach := map[int64]bool{0: true}
	points := []int64{0}
	for i := 0; i < len(points); i++ {
		if err := c.spend(10 * int64(len(sides))); err != nil {
			return nil, err
		}
		for _, s := range sides {
			if p := points[i] + s; p <= most && !reach[p] {
				reach[p] = true
				points = append(points, p)
			}
		}
		if len(points) > mostPoints {
			return nil, errTooMuch
		}
	}
	slices.Sort(points)
	return points, nil
}

// at gives the last point not above v.
func at(points []int64, v int64) int {
	i, ok := slices.BinarySearch(points, v)
	if !ok {
		i--
	}
	return i
}
