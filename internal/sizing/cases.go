package sizing

import "boltward/internal/length"

// Case is a spec under the name people ask for.
type Case struct {
	Name string
	Also []string
	Spec Spec
}

// Cases gives the built-in sizes, each time a fresh list: where a drive starts
// from. All fit the usual pillow of the same name. The widest need 41 in around, or
// 102 cm, so that cloth of 44 in or 110 cm still makes them. Depths of cuffs and accents are common practice, no source.
func Cases() []Case {
	return []Case{
		inches("standard", "standard", 80, 122, 17, 3),
		inches("queen", "queen", 80, 140, 19, 3),
		inches("king", "king", 80, 160, 19, 3),
		inches("travel", "travel", 54, 76, 13, 0),
		inches("child", "toddler", 56, 80, 13, 0, "toddler"),
		flapped("euro", length.In, 26*length.Inch, 26*length.Inch, 8*length.Inch, Hem{length.Inch, length.Inch / 4}, length.Inch/2),
		centimetres("UK standard", 50, 81, 11, 2),
		centimetres("UK king", 50, 96, 11, 2),
		centimetres("Australian", 48, 79, 11, 2),
		flapped("square 65", length.CM, 66*length.Centimetre, 66*length.Centimetre, 20*length.Centimetre, Hem{2 * length.Centimetre, length.Centimetre}, length.Centimetre),
		flapped("square 80", length.CM, 80*length.Centimetre, 80*length.Centimetre, 20*length.Centimetre, Hem{2 * length.Centimetre, length.Centimetre}, length.Centimetre),
		flapped("40 by 80", length.CM, 41*length.Centimetre, 80*length.Centimetre, 20*length.Centimetre, Hem{2 * length.Centimetre, length.Centimetre}, length.Centimetre),
	}
}

// CaseNamed finds a built-in size by its name; capitals do not matter.
func CaseNamed(name string) (Case, bool) {
	for _, c := range Cases() {
		if named(name, c.Name, c.Also) {
			return c, true
		}
	}
	return Case{}, false
}

// DefaultSeams gives the join and the seam of cases where nobody said: 1/4 in for the
// join and each of the two French seams, or 7 mm and 5 mm. No allowance is under 1/4
// in (US A-A-55215, 1993).
func DefaultSeams(u length.Unit) (join length.Length, seam Seam) {
	if u.Metric() {
		const mm = length.Millimetre
		return 7 * mm, Seam{Kind: French, First: 5 * mm, Second: 5 * mm}
	}
	const q = length.Inch / 4
	return q, Seam{Kind: French, First: q, Second: q}
}

// inches makes a folded case with a cuff, its sizes in quarter inches.
func inches(name, pillow string, width, long, cuff, accent length.Length, also ...string) Case {
	const q = length.Inch / 4
	return cuffed(name, pillow, length.In, width*q, long*q, cuff*q, accent*q, also)
}

// centimetres does the same in centimetres.
func centimetres(name string, width, long, cuff, accent length.Length) Case {
	const cm = length.Centimetre
	return cuffed(name, name, length.CM, width*cm, long*cm, cuff*cm, accent*cm, nil)
}

func cuffed(name, pillow string, u length.Unit, width, long, cuff, accent length.Length, also []string) Case {
	s := Spec{Unit: u, Width: width, Length: long, Cuff: cuff, Accent: accent, Body: Folded, Pillow: pillowOf(pillow)}
	s.Join, s.Seam = DefaultSeams(u)
	return Case{name, also, s}
}

func flapped(name string, u length.Unit, width, long, flap length.Length, hem Hem, seam length.Length) Case {
	return Case{name, nil, Spec{
		Unit: u, Width: width, Length: long, Flap: flap, Hem: hem, Body: Folded,
		Seam: Seam{Kind: Plain, First: seam}, Pillow: pillowOf(name),
	}}
}

func pillowOf(name string) Rect {
	p, _ := PillowNamed(name)
	return p.Size
}
