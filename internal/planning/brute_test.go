package planning

import (
	"slices"
	"strings"
)

// brute tries everything: for each piece all patterns that none other covers, by stacks,
// columns and strips on every unit of length; then all ways to sew, by depth first search.
// It shares nothing with the planner but the problem.
type brute struct {
	p     *Problem
	kinds []kind
	work  int
}

const bruteLimit = 300_000

// bruteForce gives the most weight that can be made; ok is false where trying would take too long.
func bruteForce(p *Problem) (best float64, ok bool) {
	b := &brute{p: p}
	for _, c := range p.Cases {
		for _, l := range c.Panels {
			if k := (kind{l.Role, l.Around, l.Along}); !slices.Contains(b.kinds, k) {
				b.kinds = append(b.kinds, k)
			}
		}
	}
	// What can lie cut, as counts by group and kind, after each piece.
	all := map[string]bool{string(make([]byte, b.width())): true}
	for i := range p.Fabrics {
		f := &p.Fabrics[i]
		patterns := b.patterns(f)
		for range f.Pieces {
			next := map[string]bool{}
			for s := range all {
				for _, v := range patterns {
					sum := []byte(s)
					at := b.groupAt(f.Group) * len(b.kinds)
					for k, n := range []byte(v) {
						sum[at+k] += n
					}
					next[string(sum)] = true
					if b.work++; b.work > bruteLimit {
						return 0, false
					}
				}
			}
			all = next
		}
	}
	for s := range all {
		best = max(best, b.sew([]byte(s), 0, make([]int, len(p.Quotas))))
		if b.work > bruteLimit {
			return 0, false
		}
	}
	return best, true
}

func (b *brute) groups() []string {
	var names []string
	for i := range b.p.Fabrics {
		if g := b.p.Fabrics[i].Group; !slices.Contains(names, g) {
			names = append(names, g)
		}
	}
	return names
}

func (b *brute) groupAt(g string) int { return slices.Index(b.groups(), g) }

func (b *brute) width() int { return len(b.groups()) * len(b.kinds) }

// patterns lists the vectors of one piece that no other covers.
func (b *brute) patterns(f *Fabric) []string {
	length, width := int(f.Length.coef), int(f.Width.coef)
	type form struct{ w, h, kind int }
	var forms []form
	for i, k := range b.kinds {
		if !slices.Contains(f.Roles, k.role) {
			continue
		}
		if f.Turn != Along {
			forms = append(forms, form{int(k.around.coef), int(k.along.coef), i})
		}
		if f.Turn != Across {
			forms = append(forms, form{int(k.along.coef), int(k.around.coef), i})
		}
	}
	none := string(make([]byte, len(b.kinds)))
	add := func(a, c string) string {
		out := []byte(a)
		for i := range out {
			out[i] += c[i]
		}
		return string(out)
	}
	stack := make([][][]string, width+1)
	for w := range stack {
		stack[w] = make([][]string, length+1)
		for h := range stack[w] {
			list := []string{none}
			for _, x := range forms {
				if x.w <= w && x.h <= h {
					unit := []byte(none)
					unit[x.kind] = 1
					for _, v := range stack[w][h-x.h] {
						list = append(list, add(v, string(unit)))
					}
				}
			}
			stack[w][h] = uncovered(list)
		}
	}
	strip := make([][]string, length+1)
	for h := range strip {
		row := make([][]string, width+1)
		for w := range row {
			list := []string{none}
			for c := 1; c <= w; c++ {
				for _, v := range row[w-c] {
					for _, s := range stack[c][h] {
						list = append(list, add(v, s))
					}
				}
			}
			row[w] = uncovered(list)
		}
		strip[h] = row[width]
	}
	whole := make([][]string, length+1)
	for l := range whole {
		list := []string{none}
		for h := 1; h <= l; h++ {
			for _, v := range whole[l-h] {
				for _, s := range strip[h] {
					list = append(list, add(v, s))
				}
			}
		}
		whole[l] = uncovered(list)
	}
	return whole[length]
}

// uncovered keeps the vectors that no other covers.
func uncovered(list []string) []string {
	slices.SortFunc(list, func(a, b string) int { return strings.Compare(b, a) })
	list = slices.Compact(list)
	var out []string
	for _, v := range list {
		if !slices.ContainsFunc(out, func(u string) bool { return covers(u, v) }) {
			out = append(out, v)
		}
	}
	return out
}

func covers(u, v string) bool {
	for i := range u {
		if u[i] < v[i] {
			return false
		}
	}
	return true
}

// sew tries every next pillowcase from way number from on.
func (b *brute) sew(have []byte, from int, made []int) float64 {
	if b.work++; b.work > 20*bruteLimit {
		return 0
	}
	best, way := 0.0, 0
	for q := range b.p.Quotas {
		quota := &b.p.Quotas[q]
		for _, id := range quota.Cases {
			for _, body := range quota.Bodies {
				for _, pick := range b.picks(b.p.CaseByID(id), body) {
					if way++; way <= from || made[q] >= quota.Wanted {
						continue
					}
					rest := slices.Clone(have)
					if !b.take(rest, pick) {
						continue
					}
					made[q]++
					best = max(best, quota.Weight.Float()+b.sew(rest, way-1, made))
					made[q]--
				}
			}
		}
	}
	return best
}

type need struct{ at, n int }

// picks lists the choices of groups for a case with this body group.
func (b *brute) picks(c *Case, body string) [][]need {
	out := [][]need{nil}
	for _, l := range c.Panels {
		from := b.p.Trims[body]
		if l.Role == Body {
			from = []string{body}
		}
		var next [][]need
		for _, had := range out {
			for _, g := range from {
				if at := b.groupAt(g); at >= 0 {
					k := slices.Index(b.kinds, kind{l.Role, l.Around, l.Along})
					next = append(next, append(slices.Clone(had), need{at*len(b.kinds) + k, l.Pieces}))
				}
			}
		}
		out = next
	}
	return out
}

func (b *brute) take(have []byte, pick []need) bool {
	for _, n := range pick {
		if int(have[n.at]) < n.n {
			return false
		}
		have[n.at] -= byte(n.n)
	}
	return true
}
