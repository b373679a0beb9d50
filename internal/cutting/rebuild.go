package cutting

// Pattern rebuilds the pattern whose value Best gives, from the last run.
func (p *Program) Pattern(point int32, width int) Pattern {
	var pattern Pattern
	p.EachStrip(point, width, func(i int32) {
		pattern = append(pattern, p.Strip(i, width))
	})
	return pattern
}

// EachStrip calls f with the raster point of the height of each strip of the best pattern.
func (p *Program) EachStrip(point int32, width int, f func(i int32)) {
	for j := point; j > 0 && p.t[width][j] > 0; {
		i := p.from[width][j]
		f(i)
		j = floorIndex(p.hs, p.hs[j]-p.hs[i])
	}
}

// Strip rebuilds the best strip of a height, by its raster point, from the last run.
func (p *Program) Strip(i int32, width int) Strip {
	p.takeLive(int(i))
	p.fillStrip(int(i), true)
	var strip Strip
	for j := p.wTop[width]; j > 0 && p.strip[j] > 0; {
		c := &p.live[p.choice[j]]
		var col Column
		for y := i; y > 0 && c.stack[y] > 0; {
			f := c.top[y]
			col = append(col, f)
			y = p.hPred[f][y]
		}
		strip = append(strip, col)
		j = c.pred[j]
	}
	return strip
}

// Counts adds the number of each form in the best pattern, times many, to into.
func (p *Program) Counts(point int32, width int, many int64, into []int64) {
	p.EachStrip(point, width, func(i int32) { p.countStrip(i, width, many, into) })
}

// CountAll adds the forms of the best patterns of many pieces of one width at once: pieces
// gives how many stand at each raster point and is used up. The work does not grow with them.
func (p *Program) CountAll(width int, pieces []int64, into []int64) {
	t := p.t[width]
	for j := len(pieces) - 1; j > 0; j-- {
		n := pieces[j]
		if n == 0 || t[j] == 0 {
			continue
		}
		pieces[j] = 0
		i := p.from[width][j]
		p.countStrip(i, width, n, into)
		pieces[floorIndex(p.hs, p.hs[j]-p.hs[i])] += n
	}
}

func (p *Program) countStrip(i int32, width int, many int64, into []int64) {
	p.takeLive(int(i))
	p.fillStrip(int(i), true)
	for j := p.wTop[width]; j > 0 && p.strip[j] > 0; {
		c := &p.live[p.choice[j]]
		for y := i; y > 0 && c.stack[y] > 0; {
			f := c.top[y]
			into[f] += many
			y = p.hPred[f][y]
		}
		j = c.pred[j]
	}
}
