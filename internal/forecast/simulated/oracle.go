package simulated

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"
)

// Oracle foretells the end of a drive for who knows its character, but of this drive only what its
// books show on a day: n days on which it may be done, drawn from their distribution given both. Nearly the
// best there is from the books, but not quite: a filter with so many particles, whose likelihoods are
// simpler than the drive (explains). So what its ranges are wider by than those of
// PlayOn is for the most part what the books do not show of people, and what a forecast's are wider by than these is
// what it does not know of the character, or has wrong.
//
// What each person is like is followed by a particle filter (Gordon, Salmond and Smith 1993; from
// memory): many people drawn from the character live through the days, each weighed by how likely it
// made what this person took and brought. How many there are who never came yet is drawn by
// Bayes' rule. The rest of the drive is played on by the same days as the drive itself.
func (d *Drive) Oracle(today, n int, chance uint64) []int {
	r := rand.New(rand.NewPCG(chance, 23))
	o := oracle{Drive: d, today: today, r: r}
	o.lay()
	seen := o.histories()
	var known [][]*volunteer
	folk := 0
	for _, h := range seen {
		list, _ := o.follow(h)
		known = append(known, list)
		if h.id != schoolID {
			folk++
		}
	}
	unseen, evidence := o.follow(history{})
	if d.Group > 0 && !slices.ContainsFunc(seen, func(h history) bool { return h.id == schoolID }) {
		list, _ := o.follow(history{id: schoolID})
		known = append(known, list)
	}
	more := o.howMany(folk, evidence)
	ends := make([]int, n)
	for i := range ends {
		ends[i] = o.playOn(known, unseen, more())
	}
	return ends
}

const (
	particles  = 1500
	impossible = 1e-9 // a day that a particle cannot explain, as the books do not show everything
)

type oracle struct {
	*Drive
	today       int
	r           *rand.Rand
	first, last []int // by day: cut and not taken before and after the desk
}

// history is what the books show of one person.
type history struct {
	id       int64
	takes    map[int][]*kit // by day, in the order in which they were taken
	returned map[*kit]int   // day
}

// lay counts what lay ready on each day.
func (o *oracle) lay() {
	o.first, o.last = make([]int, o.today+1), make([]int, o.today+1)
	for _, p := range o.cases {
		for i, s := range p.steps {
			if s.to != cut {
				continue
			}
			until := math.MaxInt
			if i+1 < len(p.steps) {
				until = p.steps[i+1].day
			}
			for day := s.day; day <= o.today && day <= until; day++ {
				o.first[day]++
				if day < until {
					o.last[day]++
				}
			}
		}
	}
}

// histories makes kits of the pillowcases that each person took, as the desk handed them out.
func (o *oracle) histories() []history {
	byWho := map[int64]map[int]map[int][]*pillowcase{} // by day and line
	for _, p := range o.cases {
		for _, s := range p.steps {
			if s.to != out || s.day > o.today {
				continue
			}
			if byWho[p.who] == nil {
				byWho[p.who] = map[int]map[int][]*pillowcase{}
			}
			if byWho[p.who][s.day] == nil {
				byWho[p.who][s.day] = map[int][]*pillowcase{}
			}
			byWho[p.who][s.day][p.line] = append(byWho[p.who][s.day][p.line], p)
		}
	}
	var list []history
	for id, days := range byWho {
		h := history{id: id, takes: map[int][]*kit{}, returned: map[*kit]int{}}
		for day, lines := range days {
			order := make([]int, 0, len(lines))
			for line := range lines {
				order = append(order, line)
			}
			slices.SortFunc(order, func(a, b int) int { return cmp.Or(cmp.Compare(o.Due[a], o.Due[b]), cmp.Compare(a, b)) })
			for _, line := range order {
				for cases := range slices.Chunk(lines[line], o.Kit) {
					k := &kit{cases: cases, since: day}
					h.takes[day] = append(h.takes[day], k)
					for _, s := range cases[0].steps {
						if s.to == sewn && s.day <= o.today {
							h.returned[k] = s.day
							break
						}
					}
				}
			}
		}
		list = append(list, h)
	}
	slices.SortFunc(list, func(a, b history) int { return int(a.id - b.id) })
	return list
}

// follow gives people as this one may be today, all as likely, and the logarithm of how likely the character
// makes the history.
func (o *oracle) follow(h history) ([]*volunteer, float64) {
	cloud := make([]*volunteer, particles)
	for i := range cloud {
		cloud[i] = o.someone(h.id)
	}
	weights := make([]float64, particles)
	evidence := 0.0
	for day := 0; day <= o.today; day++ {
		for _, v := range cloud {
			v.sews(o.r, day, o.Drive)
		}
		if !o.desks(day) {
			continue
		}
		sum, squares := 0.0, 0.0
		for i, v := range cloud {
			w := max(impossible, o.explains(v, day, h))
			weights[i] = w
			sum += w
			squares += w * w
			v.as(day, h)
		}
		evidence += math.Log(sum / particles)
		// The cloud is drawn anew on each day that told something.
		if sum*sum/squares < 0.98*particles {
			cloud = o.again(cloud, weights, sum)
		}
	}
	return cloud, evidence
}

func (o *oracle) someone(id int64) *volunteer {
	if id == schoolID {
		return o.school()
	}
	return o.sewer(o.r, id)
}

// explains is how likely somebody like v does on a desk day what the history says.
func (o *oracle) explains(v *volunteer, day int, h history) float64 {
	takes, brings := len(h.takes[day]), 0
	finished, ready := 0, 0
	for _, k := range v.kits {
		done := k.sewn >= float64(len(k.cases))
		if done {
			finished++
		}
		if h.returned[k.root()] == day {
			brings++
			if done {
				ready++
			}
		}
	}
	would := finished
	if v.group && finished < len(v.kits)*4/5 {
		would = 0
	}
	left := len(v.kits) - would
	here := v.from <= day && !v.gone
	if !here {
		if takes == 0 && brings == 0 {
			return 1
		}
		return 0
	}
	took := o.tookAs(v, left, takes, day)
	if takes == 0 && brings == 0 {
		if would > 0 {
			took = 0
		}
		return 1 - o.Comes + o.Comes*took
	}
	if ready != brings || would != brings {
		return 0
	}
	return o.Comes * took
}

// tookAs is how likely somebody at the desk, who keeps left kits, takes so many.
func (o *oracle) tookAs(v *volunteer, left, takes, day int) float64 {
	asks := 1.0
	if left > 0 {
		asks = 0.4
	}
	if v.stopped || v.group && left > 0 {
		asks = 0
	}
	dry := 0.0 // that nothing was ready when their turn came
	switch {
	case o.first[day] == 0:
		dry = 1
	case o.last[day] == 0:
		dry = 0.5
	}
	if left >= v.most {
		dry = 1
	}
	switch {
	case takes == 0:
		return 1 - asks + asks*dry
	case left+takes == v.most:
		return asks
	case left+takes < v.most:
		return asks * dry
	}
	return 0
}

// as brings a particle to what the history says: its kits are those.
func (v *volunteer) as(day int, h history) {
	var keep []*kit
	for _, k := range v.kits {
		if h.returned[k.root()] != day {
			keep = append(keep, k)
		}
	}
	for _, k := range h.takes[day] {
		keep = append(keep, &kit{cases: k.cases, since: k.since, same: k})
	}
	v.kits = keep
}

// root is the kit of the books that a particle's stands for.
func (k *kit) root() *kit { return k.same }

func (v *volunteer) copy() *volunteer {
	c := *v
	c.kits = make([]*kit, len(v.kits))
	for i, k := range v.kits {
		kc := *k
		c.kits[i] = &kc
	}
	return &c
}

// again draws a cloud by weights, evenly spread (Kitagawa 1996).
func (o *oracle) again(cloud []*volunteer, weights []float64, sum float64) []*volunteer {
	next := make([]*volunteer, 0, len(cloud))
	step := sum / float64(len(cloud))
	at, up := o.r.Float64()*step, 0.0
	for i, v := range cloud {
		up += weights[i]
		used := false
		for at < up && len(next) < len(cloud) {
			if used {
				v = v.copy()
			}
			used = true
			next = append(next, v)
			at += step
		}
	}
	for len(next) < len(cloud) {
		next = append(next, cloud[o.r.IntN(len(cloud))].copy())
	}
	return next
}

// howMany draws how many people there are beside those who came: all numbers of the character
// being as likely before, n of whom `seen` came have the weight C(n, seen)·p^(n−seen).
func (o *oracle) howMany(seen int, logUnseen float64) func() int {
	var sums []float64
	sum := 0.0
	for n := max(seen, o.People[0]); n <= max(seen, o.People[1]); n++ {
		a, _ := math.Lgamma(float64(n + 1))
		b, _ := math.Lgamma(float64(n - seen + 1))
		sum += math.Exp(a - b - 20 + float64(n-seen)*logUnseen)
		sums = append(sums, sum)
	}
	return func() int {
		at := o.r.Float64() * sum
		i, _ := slices.BinarySearch(sums, at)
		return min(i, len(sums)-1) + max(0, o.People[0]-seen)
	}
}

// playOn plays the drive on to its end, with people drawn from what they may be like.
func (o *oracle) playOn(known [][]*volunteer, unseen []*volunteer, more int) int {
	d := &Drive{Character: o.Character, Wanted: o.Wanted, Due: o.Due}
	at := map[*pillowcase]*pillowcase{}
	for _, p := range o.cases {
		c := &pillowcase{line: p.line, who: p.who}
		for _, s := range p.steps {
			if s.day <= o.today {
				c.steps = append(c.steps, s)
			}
		}
		if len(c.steps) > 0 {
			at[p] = c
			d.cases = append(d.cases, c)
		}
	}
	var people []*volunteer
	add := func(list []*volunteer) {
		v := list[o.r.IntN(len(list))].copy()
		for _, k := range v.kits {
			cases := make([]*pillowcase, len(k.cases))
			for i, p := range k.cases {
				cases[i] = at[p]
			}
			k.cases = cases
		}
		people = append(people, v)
	}
	for _, list := range known {
		add(list)
	}
	for range more {
		add(unseen)
	}
	for day := o.today + 1; day < mostDays; day++ {
		d.day(o.r, day, people)
		if d.done(day) {
			break
		}
	}
	return d.end
}
