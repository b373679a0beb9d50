package sizing

import (
	"fmt"
	"strings"

	"boltward/internal/length"
)

// Report is a size with its cuts for a program to read: lengths are decimal
// strings in Unit. Rounded says that some of them are rounded to 1/64 in or 0.1 mm.
type Report struct {
	Unit     length.Unit    `json:"unit"`
	Rounded  bool           `json:"rounded,omitempty"`
	Finished ReportFinished `json:"finished"`
	Cuts     []ReportCut    `json:"cuts"`
	Notes    []string       `json:"notes"`
}

// ReportFinished is the case laid flat; Cuff and Accent are what shows of them.
type ReportFinished struct {
	Width  string `json:"width"`
	Length string `json:"length"`
	Cuff   string `json:"cuff"`
	Accent string `json:"accent"`
	Hem    string `json:"hem,omitempty"`
	Flap   string `json:"flap,omitempty"`
}

// ReportCut is a panel, Around × Along, in so many pieces.
type ReportCut struct {
	Role       string `json:"role"`
	Pieces     int    `json:"pieces"`
	Around     string `json:"around"`
	Along      string `json:"along"`
	MostAround string `json:"most_around"`
}

// ReportUnit is the unit that a report can be written in for one a person used:
// inches, centimetres or millimetres.
func ReportUnit(u length.Unit) length.Unit {
	switch u {
	case length.Ft, length.Yd:
		return length.In
	case length.M:
		return length.CM
	}
	return u
}

// NewReport gives s in ReportUnit(u). In the system the spec's own unit belongs to,
// a length is exact wherever its decimals end; in the other it is rounded to 1/64 in
// or 0.1 mm.
func NewReport(s Spec, u length.Unit) (Report, error) {
	r := Report{Unit: ReportUnit(u), Cuts: []ReportCut{}, Notes: []string{}}
	panels, notes, err := Cuts(s.In(r.Unit))
	if err != nil {
		return Report{}, err
	}
	text := func(l length.Length) string {
		shown := l
		if r.Unit.Metric() != s.Unit.Metric() {
			shown = l.Round(r.Unit.Fine(), length.Nearest)
		}
		decimal, exact := length.Decimal(shown, r.Unit)
		r.Rounded = r.Rounded || shown != l || !exact
		return decimal
	}
	r.Finished = ReportFinished{Width: text(s.Width), Length: text(s.Length), Cuff: text(s.Cuff), Accent: text(s.Accent)}
	if s.Hem.Depth > 0 {
		r.Finished.Hem = text(s.Hem.Depth)
	}
	if s.Flap > 0 {
		r.Finished.Flap = text(s.Flap)
	}
	for _, p := range panels {
		r.Cuts = append(r.Cuts, ReportCut{p.Role, p.Pieces, text(p.Around), text(p.Along), text(p.MostAround)})
	}
	for _, n := range notes {
		r.Notes = append(r.Notes, n.Text)
	}
	return r, nil
}

// Describe draws the case in words for people: finished size, what shows from the
// open end to the closed end, the cuts, what the seams take, and the notes.
func Describe(s Spec) (string, error) {
	panels, notes, err := Cuts(s)
	if err != nil {
		return "", err
	}
	var b strings.Builder
	line := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	line("Finished, laid flat: %s wide, %s long (%s × %s)", s.text(s.Width), s.text(s.Length),
		length.Other(s.Width, s.Unit), length.Other(s.Length, s.Unit))
	line("")
	line("From the open end to the closed end:")
	for _, part := range s.shows() {
		line("  %s", part)
	}
	line("")
	line("Cut, around × along:")
	for _, p := range panels {
		line("  %d × %-7s %s × %s (%s × %s)", p.Pieces, p.Role, s.text(p.Around), s.text(p.Along),
			length.Other(p.Around, s.Unit), length.Other(p.Along, s.Unit))
	}
	line("")
	line("Lost in the seams: %s", s.lost())
	for _, n := range notes {
		kind := "Note"
		if n.Warning {
			kind = "Take care"
		}
		line("%s: %s", kind, n.Text)
	}
	return b.String(), nil
}

// shows names what one sees of the case, end to end.
func (s Spec) shows() []string {
	sides := "folded, with one side seam"
	if s.Body == FrontAndBack {
		sides = "front and back, with two side seams"
	}
	switch s.Opening() {
	case ByFlap:
		return []string{
			fmt.Sprintf("flap     %s deep, folded in over the pillow", s.text(s.Flap)),
			fmt.Sprintf("body     %s, one piece folded at the closed end, with two side seams", s.text(s.Length)),
		}
	case ByHem:
		return []string{
			fmt.Sprintf("hem      %s deep, turned under by %s", s.text(s.Hem.Depth), s.text(s.Hem.Turn)),
			fmt.Sprintf("body     %s in all, %s", s.text(s.Length), sides),
		}
	}
	parts := []string{fmt.Sprintf("cuff     %s, double", s.text(s.Cuff))}
	if s.Accent > 0 {
		parts = append(parts, fmt.Sprintf("accent   %s, folded, lying on the body", s.text(s.Accent)))
	}
	return append(parts, fmt.Sprintf("body     %s, %s", s.text(s.BodyShows()), sides))
}

// lost says what each seam takes of each edge.
func (s Spec) lost() string {
	seam := s.text(s.TakeUp())
	if s.Seam.Kind == French {
		seam += fmt.Sprintf(" (French: %s, then %s)", s.text(s.Seam.First), s.text(s.Seam.Second))
	}
	switch s.Opening() {
	case ByFlap:
		return fmt.Sprintf("%s of each edge at both sides", seam)
	case ByHem:
		return fmt.Sprintf("%s of each edge at the side and the closed end", seam)
	}
	return fmt.Sprintf("%s of each edge where cuff and body join; %s at the side and the closed end", s.text(s.Join), seam)
}
