package planning

import "math"

// floor gives a number of bundles that no way of putting these panels into these kits goes
// below, kind of panel by kind: the greatest of what the stacks need, what the kits need, and
// what both need when they have to meet.
func (t *table) floor() int {
	held := make([]int32, len(t.stacks)) // panels that kits take; given ones may stay on the table
	for _, s := range t.slots {
		if s != none {
			held[s]++
		}
	}
	kinds := make([]kindNeeds, len(t.m.kinds))
	largest, fullest := t.reach(held)
	for s := range t.stacks {
		if row := t.stacks[s].row; held[s] > 0 {
			k := &kinds[t.m.supply[row].kind]
			k.stacks = append(k.stacks, held[s])
			k.byStack += int((held[s] + largest[row] - 1) / largest[row])
		}
	}
	for i := range t.lines {
		l := &t.lines[i]
		for j := range l.roles {
			k, n := &kinds[t.kindOf(l, j)], fullest[[2]int{i, j}]
			for _, b := range t.bags[l.first:l.end] {
				size := b.size() * l.roles[j].count
				k.kits = append(k.kits, size)
				k.byKit += int((size + n - 1) / n)
			}
		}
	}
	sum := 0
	for i := range kinds {
		k := &kinds[i]
		sum += max(k.byStack, k.byKit, k.meeting())
	}
	return sum
}

func (t *table) kindOf(l *line, role int) int {
	p := t.m.p.Cases[l.spec].panel(l.roles[role].name)
	return t.m.kindOf(kind{p.Role, p.Around, p.Along})
}

// reach gives for each row the most panels that one kit can take from it, and for each line
// and role the most panels that a stack which may serve it holds.
func (t *table) reach(held []int32) (largest []int32, fullest map[[2]int]int32) {
	m := t.m
	largest, fullest = make([]int32, len(m.supply)), map[[2]int]int32{}
	most := make([]int32, len(m.supply))
	for s := range t.stacks {
		row := t.stacks[s].row
		most[row] = max(most[row], held[s])
	}
	rows := make([][]int, len(m.kinds))
	for r := range m.supply {
		rows[m.supply[r].kind] = append(rows[m.supply[r].kind], r)
	}
	for i := range t.lines {
		l := &t.lines[i]
		trims := map[int32]bool{}
		for _, b := range l.bodies {
			for _, g := range t.trims[b] {
				trims[g] = true
			}
		}
		for j := range l.roles {
			for _, row := range rows[t.kindOf(l, j)] {
				g := int32(m.supply[row].group)
				if j == 0 && !among(l.bodies, g) || j > 0 && !trims[g] {
					continue
				}
				largest[row] = max(largest[row], t.bags[l.first].places*l.roles[j].count)
				fullest[[2]int{i, j}] = max(fullest[[2]int{i, j}], most[row])
			}
		}
	}
	return largest, fullest
}

// kindNeeds is what there is and what is asked for of one kind of panel.
type kindNeeds struct {
	stacks, kits   []int32 // panels of each
	byStack, byKit int     // bundles that each side needs by itself
}

// meeting bounds the bundles by prices: a bundle of x panels costs its stack 1 − price[x] and
// its kit price[x], so that each side may part its panels as is cheapest for it and the sum of
// both stays below any way in which they agree. The prices rise where kits ask for fewer
// bundles of a size than stacks would give.
func (k *kindNeeds) meeting() int {
	var most, largest int32
	stacks, kits := tally(k.stacks, &most), tally(k.kits, &largest)
	if int(most)*int(largest) > 20_000 || largest == 0 {
		return 0
	}
	price := make([]float64, largest+1)
	if k.byKit > k.byStack {
		for x := range price {
			price[x] = 1
		}
	}
	gives, asks := newParting(most, largest), newParting(largest, largest)
	best := 0.0
	for round := range 150 {
		value := gives.value(stacks, func(x int32) float64 { return 1 - price[x] })
		value += asks.value(kits, func(x int32) float64 { return price[x] })
		best = max(best, value)
		var norm float64
		for x := range price {
			d := asks.count[x] - gives.count[x]
			norm += d * d
		}
		if norm == 0 {
			break
		}
		step := 0.02 * max(value, 1) / norm / (1 + float64(round)/20)
		for x := range price {
			price[x] += step * (asks.count[x] - gives.count[x])
		}
	}
	return int(math.Ceil(best - 1e-6))
}

// tally counts how often each size stands in a list and notes the largest.
func tally(list []int32, most *int32) []int {
	for _, n := range list {
		*most = max(*most, n)
	}
	out := make([]int, *most+1)
	for _, n := range list {
		out[n]++
	}
	return out
}

// parting parts numbers of panels into bundles as is cheapest.
type parting struct {
	cost  []float64
	last  []int32
	count []float64 // bundles of each size at the last values
}

func newParting(most, largest int32) *parting {
	return &parting{make([]float64, most+1), make([]int32, most+1), make([]float64, largest+1)}
}

// value sums the cheapest partings of all sizes, each as often as it stands there.
func (p *parting) value(sizes []int, cost func(x int32) float64) float64 {
	clear(p.count)
	for n := 1; n < len(p.cost); n++ {
		p.cost[n] = math.Inf(1)
		for x := int32(1); int(x) <= min(n, len(p.count)-1); x++ {
			if c := p.cost[n-int(x)] + cost(x); c < p.cost[n] {
				p.cost[n], p.last[n] = c, x
			}
		}
	}
	var sum float64
	for n, times := range sizes {
		if times == 0 {
			continue
		}
		sum += float64(times) * p.cost[n]
		for left := n; left > 0; left -= int(p.last[left]) {
			p.count[p.last[left]] += float64(times)
		}
	}
	return sum
}
