package site

import (
	"strings"

	"boltward/internal/drive"
	"boltward/internal/length"
	"boltward/internal/sizing"
)

// flawOn is a flaw as a piece has it.
type flawOn = sizing.Flaw

// flawForm is one flaw as typed: where it begins and ends along the length, how it
// lies across the width, and how far in it begins and ends there.
type flawForm struct {
	From  string `form:"from"`
	To    string `form:"to"`
	Where string `form:"where"`
	Clear string `form:"clear"`
	Deep  string `form:"deep"`
}

// said says whether anything stands in the row; a choice alone is none.
func (f flawForm) said() bool { return f.From+f.To+f.Clear+f.Deep != "" }

// flaw reads a row; what is wrong is said on its fields, which begin with prefix.
// Where it begins is rounded down and where it ends up, so that nothing bad is
// counted on.
func (f flawForm) flaw(problems map[string]string, prefix string, on drive.Cuttings, d drive.Drive) flawOn {
	read := func(name, typed, missing string, unit length.Unit, r length.Rounding) (length.Length, length.Unit) {
		if typed == "" {
			problem(problems, prefix+name, "%s", missing)
			return 0, unit
		}
		l, as, err := length.ParseWritten(typed, unit, r)
		if err != nil {
			problem(problems, prefix+name, "%s", upperFirst(err.Error()))
			return 0, unit
		}
		return l, as
	}
	to, unit := read("to", f.To, "Say where the flaw ends, from the end you measured first.", d.Unit, length.Up)
	from := length.Length(0)
	if f.From != "" {
		// 1 to 2 yd: the unit stands once and counts for both.
		from, _ = read("from", f.From, "", unit, length.Down)
	}
	out := flawOn{From: from, To: to}
	if to > 0 && from >= to {
		problem(problems, prefix+"to", "A flaw ends after it begins: like from 30 to 33.")
	}
	switch f.Where {
	case flawEdge, flawFar:
		out.Reach, _ = read("deep", f.Deep, "Say how far in from the edge it reaches.", d.Unit, length.Up)
		out.Far = f.Where == flawFar
	case flawInside:
		out.Reach, unit = read("deep", f.Deep, "Say how far from the edge it ends.", d.Unit, length.Up)
		out.Clear, _ = read("clear", f.Clear, "Say how far from the edge it begins.", unit, length.Down)
		if out.Reach > 0 && out.Clear >= out.Reach {
			problem(problems, prefix+"deep", "It ends further from the edge than it begins: like 20 to 22.")
		}
	case flawNarrow:
		wide, _ := read("deep", f.Deep, "Say how wide the good cloth is there.", d.Unit, length.Down)
		whole := max(on.Width, on.UsableWidth)
		if wide > 0 && whole > 0 && wide >= whole {
			problem(problems, prefix+"deep", "The narrower stretch is less wide than the whole.")
		}
		out.Reach = max(whole-wide, 0)
	case flawAcross, "":
		if strings.TrimSpace(f.Deep+f.Clear) != "" {
			problem(problems, prefix+"where", "Choose how it lies, or empty how far in: a flaw across takes the whole width.")
		}
	default:
		problem(problems, prefix+"where", "Choose how the flaw lies from the list.")
	}
	return out
}
