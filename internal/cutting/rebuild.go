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
	for j := point; j > 0 && p.Best(j, width) > 0; {
		i := p.longest(j, width)
		f(i)
		j = p.beside(j, i)
	}
}

// longest gives the height of the longest strip of a best pattern, by raster points.
func (p *Program) longest(point int32, width int) int32 {
	return p.from[int(point)*len(p.widths)+width]
}

// beside gives what a length leaves when a strip is cut from it.
func (p *Program) beside(point, strip int32) int32 {
	return floorIndex(p.hs, p.hs[point]-p.hs[strip])
}

// Strip rebuilds from the last run the best strip of a height that EachStrip gives for the width.
func (p *Program) Strip(i int32, width int) Strip {
	var strip Strip
	p.eachColumn(i, width, func(c *class) {
		var col Column
		for y := i; y > 0 && c.stack[y] > 0; {
			f := c.top[y]
			col = append(col, f)
			y = p.hPred[f][y]
		}
		strip = append(strip, col)
	})
	return strip
}

// eachColumn calls f with the class of each column of a strip.
func (p *Program) eachColumn(i int32, width int, f func(c *class)) {
	choice := p.choices[p.row[i]:][:len(p.across)]
	for j := p.wTop[width]; choice[j] > 0; {
		c := &p.classes[choice[j]-1]
		f(c)
		j = c.pred[j]
	}
}

// Counts adds the number of each form in the best pattern, times many, to into.
func (p *Program) Counts(point int32, width int, many int64, into []int64) {
	p.EachStrip(point, width, func(i int32) { p.countStrip(i, width, many, into) })
}

// CountAll adds the forms of the best patterns of many pieces of one width at once: pieces
// gives how many stand at each raster point and is used up. The work does not grow with them.
func (p *Program) CountAll(width int, pieces []int64, into []int64) {
	for j := len(pieces) - 1; j > 0; j-- {
		n := pieces[j]
		if n == 0 || p.Best(int32(j), width) == 0 {
			continue
		}
		pieces[j] = 0
		i := p.longest(int32(j), width)
		p.countStrip(i, width, n, into)
		pieces[p.beside(int32(j), i)] += n
	}
}

func (p *Program) countStrip(i int32, width int, many int64, into []int64) {
	p.eachColumn(i, width, func(c *class) {
		for y := i; y > 0 && c.stack[y] > 0; {
			f := c.top[y]
			into[f] += many
			y = p.hPred[f][y]
		}
	})
}
