package sizing

import "boltward/internal/length"

// How long sewing takes, from memory: somebody who sews well and is not in a hurry sews a
// standard case with cuff, accent and French seams in about half an hour. There is no source
// for any of these.
const (
	handling    = 8 // minutes a case: lay out, turn, press at the end, cut threads
	perMetre    = 5 // minutes a metre of seam: match, pin or clip, sew, press
	pressedFold = 2 // minutes for a cuff or an accent that is pressed in half, or a hem pressed twice
	shortSeam   = 2 // minutes for the short seam of a pieced cuff or accent
)

// Minutes estimates how long sewing one pillowcase takes: a share for handling, every seam by
// its length as often as it is sewn, and what is pressed or pieced before. A French seam is
// sewn twice; a case of front and back has two sides. It holds for a usual machine and hand;
// beginners take about twice as long.
func (s Spec) Minutes() int {
	minutes := float64(handling)
	sew := func(l length.Length, times int) {
		minutes += perMetre * float64(times) * float64(l) / float64(1000*length.Millimetre)
	}
	closing := 1
	if s.Seam.Kind == French {
		closing = 2
	}
	sides := 1
	if s.Body == FrontAndBack {
		sides = 2
	}
	switch s.Opening() {
	case ByCuff:
		sew(2*s.Width, 1) // the roll: cuff, accent and body in one seam
		minutes += pressedFold
		if s.Accent > 0 {
			minutes += pressedFold
		}
	case ByHem:
		sew(2*s.Width, 1)
		minutes += pressedFold
	case ByFlap:
		// One long piece: folded where it ends, closed at both sides, hemmed at two short ends.
		if s.Hem != (Hem{}) {
			sew(s.Width, 2)
			minutes += 2 * pressedFold
		}
		sew(s.Length, 2*closing)
		return upwards(minutes)
	}
	sew(s.Length, sides*closing)
	sew(s.Width, closing)
	for _, pieced := range []bool{s.PiecedCuff, s.PiecedAccent} {
		if pieced {
			minutes += shortSeam
		}
	}
	return upwards(minutes)
}

func upwards(minutes float64) int {
	n := int(minutes)
	if float64(n) < minutes {
		n++
	}
	return n
}
