package invent

import "boltward/internal/planning"

// Kinds lists all kinds.
func Kinds() []Kind {
	return []Kind{
		{"centimetres", "metre goods and fat quarters in half centimetres", []int{15, 40, 100, 300}, centimetres},
		{"millimetres", "cut sizes of inches in millimetres, cloth measured to the tenth", []int{15, 40, 100, 300}, millimetres},
		{"identical", "few lots of many identical pieces", []int{4, 12, 40}, identical},
		{"sparse", "many groups, each body with one or two trims", []int{20, 80, 200, 500}, sparse},
		{"dense", "any plain goes with anything", []int{15, 60, 200}, dense},
		{"scraps", "fat quarters, fat eighths and offcuts; bodies in two panels and pieced cuffs", []int{20, 60, 200}, scraps},
		{"sizes", "five sizes, folded or in two panels", []int{20, 80, 250}, fiveSizes},
		{"depot", "bolts of 10 to 100 m", []int{20, 80, 300}, depot},
		{"steep", "weights of 100, 10 and 1, and too little for the last", []int{12, 40, 150}, steep},
		{"typed", "weights as people type them", []int{12, 40, 150}, typed},
		{"planted", "cut backwards from a plan without waste that meets every quota", []int{5, 20, 60, 200}, planted},
		{"hidden", "the same among cloth that no best plan needs", []int{8, 30, 90}, hidden},
		{"area", "cut without waste, more asked for than there is, each worth its cloth", []int{5, 20, 60, 200}, byArea},
	}
}

var (
	inches = []size{
		{"standard", [][3]string{{"body", "41", "27"}, {"cuff", "41", "9"}, {"accent", "41", "2"}}},
		{"queen", [][3]string{{"body", "41", "30.5"}, {"cuff", "41", "10"}, {"accent", "41", "2.5"}}},
		{"child", [][3]string{{"body", "29", "17.5"}, {"cuff", "29", "7"}}},
	}
	metric = []size{
		{"50x75", [][3]string{{"body", "103", "69.5"}, {"cuff", "103", "24"}, {"accent", "103", "5.5"}}},
		{"65x65", [][3]string{{"body", "133", "60.5"}, {"cuff", "133", "22"}}},
		{"40x60", [][3]string{{"body", "83", "55.5"}, {"cuff", "83", "18.5"}, {"accent", "83", "5.5"}}},
	}
	// Inches of the first list in millimetres, as the service writes them.
	exactMetric = []size{
		{"standard", [][3]string{{"body", "1041.4", "685.8"}, {"cuff", "1041.4", "228.6"}, {"accent", "1041.4", "50.8"}}},
		{"queen", [][3]string{{"body", "1041.4", "774.7"}, {"cuff", "1041.4", "254"}, {"accent", "1041.4", "63.5"}}},
		{"child", [][3]string{{"body", "736.6", "444.5"}, {"cuff", "736.6", "177.8"}}},
	}
	five = []size{
		{"travel", [][3]string{{"body", "25", "15.25"}, {"cuff", "25", "6"}}},
		{"standard", [][3]string{{"body", "41", "27"}, {"cuff", "41", "9"}, {"accent", "41", "2"}}},
		{"queen", [][3]string{{"body", "41", "30.5"}, {"cuff", "41", "10"}, {"accent", "41", "2.5"}}},
		{"king", [][3]string{{"body", "41", "36.5"}, {"cuff", "41", "10"}, {"accent", "41", "2.5"}}},
		{"euro", [][3]string{{"body*2", "27", "27"}}},
		{"standard-two", [][3]string{{"body*2", "20.75", "27"}, {"cuff*2", "20.75", "9"}}},
	}
	pieced = []size{
		{"two-panel", [][3]string{{"body*2", "20.5", "17.5"}, {"cuff*2", "20.5", "9"}}},
		{"child", [][3]string{{"body*2", "15", "17.5"}, {"cuff", "29", "7"}}},
		{"travel", [][3]string{{"body*2", "13", "15.25"}}},
	}
)

// quarters draws a lot as people bring it: mostly one width of quilting cotton, some wide, some fat quarters.
func (s *sketch) quarters(group string, pieces int) {
	switch n := s.r.IntN(100); {
	case n < 9:
		s.lot(group, s.between(68, 73), s.between(80, 86), 4, pieces)
	case n < 22:
		s.lot(group, s.between(72, 720), s.between(212, 232), 4, pieces)
	default:
		s.lot(group, s.remnant(), s.between(166, 174), 4, pieces)
	}
}

// remnant draws a length in quarter inches: most under a yard, some bolts' ends.
func (s *sketch) remnant() int64 {
	switch n := s.r.IntN(100); {
	case n < 20:
		return s.between(36, 72)
	case n < 55:
		return s.between(72, 160)
	case n < 90:
		return s.between(160, 440)
	default:
		return s.between(440, 1200)
	}
}

func centimetres(seed uint64, fabrics int) *Drive {
	s := newSketch(seed, "cm", metric)
	s.groups(3+fabrics/12, 2+fabrics/25)
	for range fabrics {
		switch g := s.group(); s.r.IntN(10) {
		case 0:
			s.lot(g, s.between(98, 104), s.between(106, 114), 2, 1)
		case 1, 2:
			s.lot(g, s.between(100, 900), s.between(276, 300), 2, 1)
		default:
			s.lot(g, s.between(60, 900), s.between(214, 228), 2, 1)
		}
	}
	s.matched(1, 4)
	return s.ask(3)
}

func millimetres(seed uint64, fabrics int) *Drive {
	s := newSketch(seed, "mm", exactMetric)
	s.groups(3+fabrics/12, 2+fabrics/25)
	for range fabrics {
		s.lot(s.group(), s.between(2500, 45000), s.between(10500, 11300), 10, 1)
	}
	s.matched(1, 4)
	return s.ask(3)
}

func identical(seed uint64, fabrics int) *Drive {
	s := newSketch(seed, "in", inches)
	s.groups(2+fabrics/6, 2+fabrics/12)
	for range fabrics {
		s.quarters(s.group(), int(s.between(10, 400)))
	}
	s.matched(1, 3)
	return s.ask(3)
}

func sparse(seed uint64, fabrics int) *Drive {
	s := newSketch(seed, "in", inches)
	s.groups(3+fabrics/5, 3+fabrics/8)
	for range fabrics {
		s.quarters(s.group(), 1)
	}
	s.matched(1, 2)
	return s.ask(5)
}

func dense(seed uint64, fabrics int) *Drive {
	s := newSketch(seed, "in", inches)
	s.groups(2+fabrics/20, 3+fabrics/15)
	for range fabrics {
		s.quarters(s.group(), 1)
	}
	s.matched(0, 0)
	return s.ask(3)
}

func scraps(seed uint64, fabrics int) *Drive {
	s := newSketch(seed, "in", pieced)
	s.groups(3+fabrics/20, 2+fabrics/30)
	for range fabrics {
		switch g := s.group(); s.r.IntN(3) {
		case 0:
			s.lot(g, s.between(68, 73), s.between(80, 86), 4, 1)
		case 1:
			s.lot(g, s.between(34, 37), s.between(80, 86), 4, 1)
		default:
			s.lot(g, s.between(24, 100), s.between(30, 110), 4, 1)
		}
	}
	s.matched(1, 3)
	return s.ask(3)
}

func fiveSizes(seed uint64, fabrics int) *Drive {
	s := newSketch(seed, "in", five)
	s.groups(4+fabrics/12, 3+fabrics/25)
	for range fabrics {
		s.quarters(s.group(), 1)
	}
	s.matched(1, 4)
	d := s.ask(4)
	// Where a standard one is asked for, one in two panels will do.
	for i := range s.p.Quotas {
		if q := &s.p.Quotas[i]; q.Cases[0] == "standard" {
			q.Cases = append(q.Cases, "standard-two")
		}
	}
	return d
}

// depot measures in inches at odd seeds, in centimetres at even ones.
func depot(seed uint64, fabrics int) *Drive {
	unit, sizes, per := "in", five, int64(4)
	length, widths := [2]int64{394 * 4, 3937 * 4}, [][2]int64{{168, 176}, {216, 232}, {416, 428}}
	if seed%2 == 0 {
		unit, sizes, per = "cm", metric, 2
		length, widths = [2]int64{2000, 20000}, [][2]int64{{216, 228}, {276, 300}, {440, 480}}
	}
	s := newSketch(seed, unit, sizes)
	s.groups(4+fabrics/12, 3+fabrics/25)
	for range fabrics {
		w := widths[s.r.IntN(len(widths))]
		s.lot(s.group(), s.between(length[0], length[1]), s.between(w[0], w[1]), per, 1)
	}
	s.matched(1, 4)
	return s.ask(4)
}

func steep(seed uint64, fabrics int) *Drive {
	s := newSketch(seed, "in", inches)
	s.groups(3+fabrics/12, 2+fabrics/25)
	for range fabrics {
		s.quarters(s.group(), 1)
	}
	s.matched(1, 3)
	s.weights, s.fullness = []string{"100", "10", "1"}, 1.6
	return s.ask(4)
}

func typed(seed uint64, fabrics int) *Drive {
	s := newSketch(seed, "in", inches)
	s.groups(3+fabrics/12, 2+fabrics/25)
	for range fabrics {
		s.quarters(s.group(), 1)
	}
	s.matched(1, 3)
	s.weights, s.fullness = []string{"7.5", "3.25", "1", "0.4", "12", "2.125"}, 1.4
	d := s.ask(4)
	s.p.Keep = &planning.Keep{Width: planning.Whole(6), Length: planning.Whole(12)}
	return d
}
