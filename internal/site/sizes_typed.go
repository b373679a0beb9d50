package site

import (
	"strconv"
	"strings"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/length"
	"boltward/internal/sizing"
)

// byCuts types a size by its cuts; a form is shown unless it was sent with doSave.
const (
	byCuts = "cuts"
	doSave = "save"
)

// sizeForm is a size as typed: by its finished measures, or by its cuts.
type sizeForm struct {
	Name         string `form:"name"`
	Unit         string `form:"unit"`
	By           string `form:"by"`
	Width        string `form:"width"`
	Length       string `form:"length"`
	Cuff         string `form:"cuff"`
	Accent       string `form:"accent"`
	CutBody      string `form:"cut"`
	CutCuff      string `form:"cut_cuff"`
	CutAccent    string `form:"cut_accent"`
	SeamKind     string `form:"seam_kind"`
	Seam         string `form:"seam"`
	SeamSecond   string `form:"seam_second"`
	Join         string `form:"join"`
	Body         string `form:"body"`
	PiecedCuff   string `form:"pieced_cuff"`
	PiecedAccent string `form:"pieced_accent"`
	Hem          string `form:"hem"`
	Turn         string `form:"turn"`
	Flap         string `form:"flap"`
	Ease         string `form:"ease"`
	Pillow       string `form:"pillow"`
	Shrink       string `form:"shrink"`
	Version      string `form:"version"`
	Do           string `form:"do"`
}

// spec works out the spec that was typed; what cannot be read is a problem at its field.
func (f sizeForm) spec(problems map[string]string) sizing.Spec {
	unit := unitOf(f.Unit)
	size := func(name, typed string) length.Length { return typedSize(problems, name, typed, unit) }
	s := sizing.Spec{
		Unit: unit,
		Join: size("join", f.Join),
		Seam: sizing.Seam{Kind: sizing.SeamKind(f.SeamKind), First: size("seam", f.Seam), Second: size("seam_second", f.SeamSecond)},
		Body: typedCount(problems, "body", f.Body, 0), PiecedCuff: f.PiecedCuff != "", PiecedAccent: f.PiecedAccent != "",
		Hem:  sizing.Hem{Depth: size("hem", f.Hem), Turn: size("turn", f.Turn)},
		Flap: size("flap", f.Flap), Ease: size("ease", f.Ease),
	}
	if f.Pillow != "" {
		pillow, err := sizing.ParsePillow("pillow", f.Pillow, unit)
		adopt(problems, err)
		s.Pillow = pillow
	}
	if f.Shrink != "" {
		shrink, err := sizing.ParseShrink("shrink", f.Shrink, unit)
		adopt(problems, err)
		s.Shrink = shrink
	}
	if f.By == byCuts {
		return f.fromCuts(s, problems)
	}
	s.Width, s.Length = size("width", f.Width), size("length", f.Length)
	s.Cuff, s.Accent = size("cuff", f.Cuff), size("accent", f.Accent)
	return s
}

// moveSeam puts what is wrong with a French seam beside its second width where
// a wider second one would do.
func moveSeam(problems map[string]string, s sizing.Spec) {
	why, wrong := problems["seam"]
	if !wrong || s.Seam.Kind != sizing.French {
		return
	}
	s.Seam.Second = length.Inch
	if _, still := apperr.Fields(s.Check())["seam"]; !still {
		delete(problems, "seam")
		problem(problems, "seam_second", "%s", why)
	}
}

// fromCuts works out what comes of typed cuts; nothing while something cannot be read.
func (f sizeForm) fromCuts(how sizing.Spec, problems map[string]string) sizing.Spec {
	var cuts []sizing.Cut
	for _, t := range []struct{ role, field, typed string }{
		{sizing.Body, "cut", f.CutBody}, {sizing.Cuff, "cut_cuff", f.CutCuff}, {sizing.Accent, "cut_accent", f.CutAccent},
	} {
		if t.typed == "" {
			continue
		}
		around, along, err := length.ParseRect(t.typed, how.Unit, length.Up)
		if err != nil {
			problem(problems, t.field, "%s", err.Error())
			continue
		}
		cuts = append(cuts, sizing.Cut{Role: t.role, Around: around, Along: along})
	}
	if len(problems) > 0 {
		return how
	}
	s, err := sizing.FromCuts(cuts, how)
	if err != nil {
		adopt(problems, err)
		return how
	}
	return s
}

// sizeAsTyped writes a size as its form has it.
func sizeAsTyped(z drive.Size, cuts bool) sizeForm {
	s := z.Spec
	text := func(l length.Length) string { return sizeText(l, s.Unit) }
	f := sizeForm{
		Name: z.Name, Unit: string(s.Unit), Width: text(s.Width), Length: text(s.Length), Cuff: text(s.Cuff), Accent: text(s.Accent),
		SeamKind: string(s.Seam.Kind), Seam: text(s.Seam.First), SeamSecond: text(s.Seam.Second), Join: text(s.Join), Body: strconv.Itoa(s.Body),
		PiecedCuff: tickOf(s.PiecedCuff), PiecedAccent: tickOf(s.PiecedAccent), Hem: text(s.Hem.Depth), Turn: text(s.Hem.Turn), Flap: text(s.Flap),
		Ease: text(s.Ease), Pillow: pillowText(s.Pillow, s.Unit), Shrink: shrinkText(s.Shrink), Version: strconv.Itoa(z.Version),
	}
	if !cuts {
		return f
	}
	f.By = byCuts
	panels, _, err := sizing.Cuts(s)
	if err != nil {
		return f // what cannot be sewn has no cuts; its form says why once it is sent
	}
	for _, p := range panels {
		typed := rectText(p.Around, p.Along, s.Unit)
		switch p.Role {
		case sizing.Body:
			f.CutBody = typed
		case sizing.Cuff:
			f.CutCuff = typed
		case sizing.Accent:
			f.CutAccent = typed
		}
	}
	return f
}

func tickOf(on bool) string {
	if on {
		return "yes"
	}
	return ""
}

func rectText(first, second length.Length, unit length.Unit) string {
	return sizeText(first, unit) + " x " + sizeText(second, unit)
}

func pillowText(r sizing.Rect, unit length.Unit) string {
	if r == (sizing.Rect{}) {
		return ""
	}
	return rectText(r.Width, r.Length, unit)
}

func shrinkText(s sizing.Shrink) string {
	if s.Along == 0 && s.Across == 0 {
		return ""
	}
	plain := func(p sizing.Percent) string { return strings.TrimSuffix(p.String(), " %") }
	return plain(s.Along) + ", " + plain(s.Across)
}

// sizeLengths compares the lengths of a size where both forms give them in one unit.
func sizeLengths(unit length.Unit, typed string) alike {
	if typed != string(unit) {
		return func(string, string, string) bool { return false }
	}
	return lengthsIn(unit, "width", "length", "cuff", "accent", "cut", "cut_cuff", "cut_accent", "seam", "seam_second", "join", "hem", "turn", "flap", "ease", "pillow")
}

func sizeClashFields() []clashField {
	return []clashField{
		{"name", "Name", nil},
		{"width", "Finished width", nil},
		{"length", "Finished length", nil},
		{"cuff", "Cuff", nil},
		{"accent", "Accent", nil},
		{"cut", "Body, as cut", nil},
		{"cut_cuff", "Cuff, as cut", nil},
		{"cut_accent", "Accent, as cut", nil},
		{"seam_kind", "Seam", seamOptions()},
		{"seam", "First seam", nil},
		{"seam_second", "Second seam", nil},
		{"join", "Joining seam", nil},
		{"body", "Body", bodyOptions()},
		{"pieced_cuff", "Pieced cuff", nil},
		{"pieced_accent", "Pieced accent", nil},
		{"hem", "Hem", nil},
		{"turn", "Turn-under", nil},
		{"flap", "Flap", nil},
		{"ease", "May be wider by", nil},
		{"pillow", "Pillow", nil},
		{"shrink", "Shrinkage", nil},
	}
}
