package drive

import "strings"

// LooseStep is one step of pillowcases that came without a kit: they were brought in, checked or
// mended, promised, or went on. Asked and From are where they stood, ToAsked and To where they
// stand then; a step that led out of the loose ones has another kit in ToKit.
type LooseStep struct {
	Size    int64     `db:"size"`
	N       int       `db:"n"`
	Asked   int64     `db:"asked"`
	Kit     int64     `db:"kit"`
	From    CaseState `db:"from_state"`
	ToAsked int64     `db:"to_asked"`
	ToKit   int64     `db:"to_kit"`
	To      CaseState `db:"to_state"`
	Sewer   int64     `db:"sewer"` // who sewed them, as noted when they were brought in; 0: nobody
	Name    string    `db:"name"`  // of the sewer
	Sews    bool      `db:"sews"`  // the sewer takes work now
}

// LooseSewers is who may have sewn some loose pillowcases: those that lie together cannot be told
// from each other.
type LooseSewers struct {
	Names  []string // those who brought some in last come first
	Others bool     // some may be of somebody whose name is not known
	Only   int64    // the one who can have sewn them and sews still; 0: there are several, or nobody is known
}

// namesTold is how many who may have sewn something are named.
const namesTold = 3

// Words names them as whoever did something: "Ada Quill or Bo Lund"; empty where nobody is known.
func (l LooseSewers) Words() string {
	names := l.Names[:min(len(l.Names), namesTold)]
	switch {
	case len(names) == 0:
		return ""
	case len(names) < len(l.Names) || l.Others:
		return strings.Join(names, ", ") + " or others"
	case len(names) == 1:
		return names[0]
	}
	last := len(names) - 1
	return strings.Join(names[:last], ", ") + " or " + names[last]
}

// looseAt is where loose pillowcases lie together.
type looseAt struct {
	asked, size int64
	state       CaseState
}

// looseTrace follows loose pillowcases back through steps, the newest first.
type looseTrace struct {
	steps []LooseStep
	now   map[looseAt]int
	seen  map[looseSeen]bool
	found LooseSewers
	known map[int64]bool
}

type looseSeen struct {
	looseAt
	step int
}

// LooseSewersOf says who may have sewn what lies in a stack without a kit, or in a kit that was made to
// have such pillowcases mended. steps are the newest steps of
// loose pillowcases that were not undone, the newest first, and now is what lies in every loose stack.
// Whatever came to a stack since it was last empty may lie in it; what came before the first step is of
// somebody whose name is not known.
func LooseSewersOf(of Stack, steps []LooseStep, now []Stack) LooseSewers {
	t := looseTrace{steps: steps, now: map[looseAt]int{}, seen: map[looseSeen]bool{}, known: map[int64]bool{}}
	for _, s := range now {
		if s.Kit == 0 {
			t.now[looseAt{s.Asked, s.Size, s.State}] += s.N
		}
	}
	only := int64(0)
	if of.Kit == 0 {
		t.back(looseAt{of.Asked, of.Size, of.State}, 0)
	} else {
		t.beforeKit(of.Kit)
	}
	for _, s := range steps {
		if t.known[s.Sewer] && s.Sews {
			only = s.Sewer
		}
	}
	if len(t.known) == 1 && !t.found.Others {
		t.found.Only = only
	}
	return t.found
}

// beforeKit notes who may have sewn what lay where this kit was made of it.
func (t *looseTrace) beforeKit(kit int64) {
	for i, s := range t.steps {
		if s.ToKit == kit && s.Kit == 0 {
			t.back(looseAt{s.Asked, s.Size, s.From}, i+1)
			return
		}
	}
	t.found.Others = true
}

// back notes who may have sewn what lay at a place before so many of the newest steps.
func (t *looseTrace) back(at looseAt, step int) {
	if t.seen[looseSeen{at, step}] {
		return
	}
	t.seen[looseSeen{at, step}] = true
	lay := t.now[at]
	for i, s := range t.steps {
		if i >= step && lay <= 0 {
			return
		}
		from, to := looseAt{s.Asked, s.Size, s.From}, looseAt{s.ToAsked, s.Size, s.To}
		comes, goes := s.ToKit == 0 && to == at, s.From != CaseBorn && s.Kit == 0 && from == at
		if comes {
			lay -= s.N
		}
		if goes {
			lay += s.N
		}
		if i < step || !comes || goes {
			continue
		}
		switch {
		case s.From == CaseBorn:
			t.note(s)
		case s.Kit == 0 && (s.From == CaseSewn || s.From == CaseToMend):
			t.back(from, i+1)
		default:
			t.found.Others = true // back from a recipient: looked at no further
		}
	}
	if lay > 0 {
		t.found.Others = true
	}
}

func (t *looseTrace) note(s LooseStep) {
	switch {
	case s.Sewer == 0:
		t.found.Others = true
	case !t.known[s.Sewer]:
		t.known[s.Sewer] = true
		t.found.Names = append(t.found.Names, s.Name)
	}
}
