package sizing

import "boltward/internal/length"

// Panel is the cut size of one role: Pieces of Around × Along. Around is the least
// that gives the finished width, and what is planned with; up to MostAround may be
// cut where the cloth gives it.
type Panel struct {
	Role       string
	Pieces     int
	Around     length.Length
	Along      length.Length
	MostAround length.Length
}

// Cuts gives the cut size of every panel, body first, and what to know about it,
// warnings first. It refuses what Check refuses.
//
// With finished width FW and length FL, cuff C and accent A that show, joining
// seam j and take-up t: a folded body is 2·FW + 2·t around, one of front and back
// FW + 2·t; a body with a cuff is FL − C + j + t along, with a hem FL + t + depth +
// turn-under; a cuff by the tube method is 2·(C + j) along, an accent 2·(A + j); a
// flap case is FW + 2·t by 2·FL + flap + two hems. Common practice, no source.
func Cuts(s Spec) ([]Panel, []Note, error) {
	if err := s.Check(); err != nil {
		return nil, nil, err
	}
	return s.panels(), s.notes(), nil
}

// Lying gives the width and the length of cloth that one piece takes when its around
// lies across the cloth or along it. Either counts as across.
func (p Panel) Lying(turn Turn) (width, long length.Length) {
	if turn == Along {
		return p.Along, p.Around
	}
	return p.Around, p.Along
}

// TakeUp is what one edge loses at the side and the closed end.
func (s Spec) TakeUp() length.Length { return s.Seam.TakeUp() }

// BodyShows is how much of the body shows between the cuff, or the accent on it,
// and the closed end; of a case without a cuff, all of its length.
func (s Spec) BodyShows() length.Length { return s.Length - s.Cuff - s.Accent }

// panels is Cuts for a spec that passed Check.
func (s Spec) panels() []Panel {
	ps := s.needed()
	for i := range ps {
		p := &ps[i]
		spare := s.Spare[p.Role]
		p.Around += spare.Around
		p.Along += spare.Along
		p.MostAround = max(p.MostAround, p.Around)
	}
	return ps
}

// needed gives the panels that the finished size needs, cut larger where cloth
// will shrink, without what real cuts have to spare.
func (s Spec) needed() []Panel {
	t, j := s.TakeUp(), s.Join
	var ps []Panel
	switch s.Opening() {
	case ByFlap:
		ps = []Panel{s.panel(Body, 1, s.Width+2*t, 2*s.Length+s.Flap+2*s.Hem.total(), s.ease()/2)}
	case ByHem:
		ps = []Panel{s.ring(Body, s.Body == FrontAndBack, s.Length+t+s.Hem.total())}
	default:
		ps = []Panel{
			s.ring(Body, s.Body == FrontAndBack, s.Length-s.Cuff+j+t),
			s.ring(Cuff, s.PiecedCuff, 2*(s.Cuff+j)),
		}
		if s.Accent > 0 {
			ps = append(ps, s.ring(Accent, s.PiecedAccent, 2*(s.Accent+j)))
		}
	}
	return ps
}

// ring is a panel that runs all the way round the case, in one piece or two.
func (s Spec) ring(role string, two bool, along length.Length) Panel {
	t := s.TakeUp()
	switch {
	case s.Body == FrontAndBack:
		// The side seams run through every panel.
		return s.panel(role, 2, s.Width+2*t, along, s.ease()/2)
	case two:
		// Pieced first: half of the way round, and one edge in the piecing seam.
		return s.panel(role, 2, s.Width+t+s.Join, along, s.ease()/2)
	}
	return s.panel(role, 1, 2*s.Width+2*t, along, s.ease())
}

func (s Spec) panel(role string, pieces int, around, along, ease length.Length) Panel {
	return Panel{
		Role:       role,
		Pieces:     pieces,
		Around:     s.Shrink.around(around),
		Along:      s.Shrink.along(along),
		MostAround: s.Shrink.around(around + ease),
	}
}
