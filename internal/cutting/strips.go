package cutting

import "slices"

// used is a strip that a width asked for uses: one that beats what shorter strips reach.
type used struct {
	density float64 // value for each unit of length, never below the true one
	value   int64
	height  int32 // among the heights in use
}

// height is a height of strips in use, for whatever widths.
type height struct {
	length int64
	point  int32
	rest   int32 // the raster point that it leaves of the length looked at last
}

// nearly keeps densities and bounds on the safe side of rounding.
const nearly = 1e-9

// extend fills T at length i for all widths from the strips used so far. Of the strips of a
// pattern the densest is worth at least as much for its length as the pattern for all of its
// length, so only those are tried, densest first. Of equal patterns the one whose longest
// strip is shortest is kept.
func (p *Program) extend(i int) {
	n, length := len(p.widths), p.hs[i]
	far := float64(length)
	t, from := p.t[i*n:(i+1)*n], p.from[i*n:(i+1)*n]
	before, beforeFrom := p.t[(i-1)*n:i*n], p.from[(i-1)*n:i*n]
	steps := len(p.classes) + 3*n
	for u := range p.aims {
		strips := p.aims[u].strips
		best, by := before[u], beforeFrom[u]
		for k := range strips {
			s := &strips[k]
			if s.density*far < float64(best) {
				break
			}
			h := &p.heights[s.height]
			for p.hs[h.rest+1] <= length-h.length {
				h.rest++
			}
			at := int(h.rest)*n + u
			switch v := p.t[at] + s.value; {
			case v > best:
				best, by = v, max(h.point, p.from[at])
			case v == best:
				by = min(by, max(h.point, p.from[at]))
			}
			steps += 5
		}
		t[u], from[u] = best, by
	}
	p.Work += int64(steps)
}

func (p *Program) stackChanges(i int) bool {
	for c := range p.classes {
		if s := p.classes[c].stack; s[i] != s[i-1] {
			return true
		}
	}
	return false
}

// worthTrying says for which widths a strip of height i could beat what shorter strips reach,
// and gives the widest of them, −1 for none. A strip is worth no more than the best one of a
// lower height and what its columns have gained since: no column more than the most gained by
// any, each unit of width no more than the most gained for a unit.
func (p *Program) worthTrying(i int) int {
	top, n := -1, len(p.widths)
	p.Work += int64(5 * n)
	var gain growth
	base := int32(-1)
	for u := n - 1; u >= 0; u-- {
		a := &p.aims[u]
		if a.base != base {
			base, gain = a.base, p.growth(int(a.base), i)
		}
		most := a.value + gain.within(p.widths[u]) - p.lengthCost(u, i)
		if a.tight = most > p.t[i*n+u]; a.tight {
			top = max(top, u)
		}
	}
	return top
}

// growth is what the stacks gain from one height to another.
type growth struct {
	most      float64 // of any class
	each      float64 // for a unit of its width
	narrowest int64   // class that gains
}

func (p *Program) growth(low, high int) growth {
	var g growth
	p.Work += int64(4 * len(p.classes))
	for k := range p.classes {
		c := &p.classes[k]
		gain := float64(c.stack[high] - c.stack[low])
		if gain == 0 {
			continue
		}
		if g.narrowest == 0 {
			g.narrowest = c.w
		}
		g.most, g.each = max(g.most, gain), max(g.each, gain/float64(c.w))
	}
	return g
}

// within bounds what columns side by side within a width gain.
func (g *growth) within(width int64) int64 {
	if g.narrowest == 0 {
		return 0
	}
	return int64(min(g.most*float64(width/g.narrowest), g.each*float64(width))*(1+nearly)) + 1
}

func (p *Program) lengthCost(u, i int) int64 {
	if len(p.cost) == 0 {
		return 0
	}
	return p.cost[u] * p.hs[i]
}

// tryStrip finds the best strips of height i for the widths up to the one given, and takes
// those into use that beat what shorter strips reach.
func (p *Program) tryStrip(i, widest int) {
	p.fillStrip(i, int(p.wTop[widest]))
	n, any := len(p.widths), false
	for u := range p.aims[:widest+1] {
		a := &p.aims[u]
		a.base, a.value = int32(i), p.strip[p.wTop[u]]
		if v := a.value - p.lengthCost(u, i); v > p.t[i*n+u] {
			p.t[i*n+u], p.from[i*n+u] = v, int32(i)
			a.use(v, p.hs[i], int32(len(p.heights)))
			any = true
		}
	}
	if any {
		p.heights = append(p.heights, height{length: p.hs[i], point: int32(i)})
		p.row[i] = int32(len(p.choices))
		p.choices = p.choices[:len(p.choices)+len(p.across)]
	}
}

// use enters a strip among those in use, the densest first.
func (a *aim) use(value, length int64, height int32) {
	s := used{density: float64(value) / float64(length) * (1 + nearly), value: value, height: height}
	k := len(a.strips)
	for k > 0 && a.strips[k-1].density < s.density {
		k--
	}
	a.strips = slices.Insert(a.strips, k, s)
}

// takeLive lists the classes not dominated at height i.
func (p *Program) takeLive(i int) {
	p.live = p.live[:0]
	var below int64
	for k := range p.classes {
		if v := p.classes[k].stack[i]; v > below {
			p.live = append(p.live, int32(k))
			below = v
		}
	}
}

// fillStrip fills S for height i up to the point top across, and behind the choices kept the
// class of the last column of each, counted from 1.
func (p *Program) fillStrip(i, top int) {
	p.takeLive(i)
	end := len(p.choices)
	p.choices = slices.Grow(p.choices, len(p.across))
	strip, choice := p.strip[:top+1], p.choices[end:end+top+1]
	clear(strip)
	clear(choice)
	p.Work += int64(top)
	for _, k := range p.live {
		c := &p.classes[k]
		value := c.stack[i]
		if int(c.first) > top || strip[c.first] >= value {
			continue // narrower columns side by side are worth as much
		}
		pred := c.pred[:top+1]
		for j := int(c.first); j <= top; j++ {
			if v := strip[pred[j]] + value; v > strip[j] {
				strip[j], choice[j] = v, uint16(k+1)
			}
		}
		p.Work += int64(top+1-int(c.first)) * 2
	}
}
