package paper

import (
	"fmt"
	"io"
	"strings"
	"time"

	"boltward/internal/drive"
	"boltward/internal/length"
	"boltward/internal/sizing"
	"boltward/internal/words"
)

// KitCard is what is printed for one kit: its words, and what the drawings need.
type KitCard struct {
	words.Card
	Facts      words.CardFacts
	Number     string // as on its label
	Address    string // what its code opens
	OwnAddress string // the page of whoever has it; empty: they have none, or nobody has it
	Drawn      []KitPanel
}

// KitPanel is one kind of panel as it is cut, for the drawing to scale.
type KitPanel struct {
	Role          string
	Around, Along length.Length
	Words         string
}

// NewKitCard writes the card of a kit in the language of lang, with lengths in the
// drive's unit. base is the start of every address, such as https://drive.example.org.
// own is the address of the page of whoever has it, which goes on the card while they have it;
// empty where there is none. It fails on a spec that cannot be sewn.
func NewKitCard(d drive.Drive, base, lang string, k drive.KitToSew, own string) (KitCard, error) {
	l := words.In(lang)
	facts, err := CardFacts(d, k, l)
	if err != nil {
		return KitCard{}, err
	}
	if k.State != drive.KitOut {
		own = ""
	}
	facts.OwnPage = own != ""
	c := KitCard{Card: l.Card(facts), Facts: facts, Number: k.String(), Address: KitAddress(base, d.ID, k.KitRef), OwnAddress: own}
	panels, _, err := sizing.Cuts(k.Spec)
	if err != nil {
		return c, fmt.Errorf("card of kit %s: %w", k.KitRef, err)
	}
	for i, p := range panels {
		c.Drawn = append(c.Drawn, KitPanel{p.Role, p.Around, p.Along, c.Panels[i]})
	}
	return c, nil
}

// KitAddress is what the code of a kit's label and card opens.
func KitAddress(base, driveID string, ref drive.KitRef) string {
	return fmt.Sprintf("%s/l/%s/kit/%s", strings.TrimSuffix(base, "/"), driveID, ref)
}

// CardFacts says what the card of a kit speaks about, in the drive's unit; a day is
// written as l writes it.
func CardFacts(d drive.Drive, k drive.KitToSew, l words.Language) (words.CardFacts, error) {
	panels, _, err := sizing.Cuts(k.Spec)
	if err != nil {
		return words.CardFacts{}, fmt.Errorf("card of kit %s: %w", k.KitRef, err)
	}
	spec, u := k.Spec, d.Unit
	say := func(l length.Length) string {
		if l == 0 {
			return ""
		}
		return length.Format(l, u)
	}
	f := words.CardFacts{
		Kit: k.String(), Cases: k.Cases, Size: k.SizeName, Width: say(spec.Width), Length: say(spec.Length),
		Opening: words.Opening(spec.Opening()), Folded: spec.Body == sizing.Folded, Accent: spec.Accent > 0,
		PiecedTop: spec.Body == sizing.Folded && (spec.PiecedCuff || spec.PiecedAccent),
		Join:      say(spec.Join), French: spec.Seam.Kind == sizing.French, First: say(spec.Seam.First), Second: say(spec.Seam.Second),
		Trim: say(length.Inch / 8), HemTurn: say(spec.Hem.Turn), HemDepth: say(spec.Hem.Depth), Flap: say(spec.Flap),
		OwnFabric: k.OwnFabric, Washed: d.Washing == drive.WashedFirst, Fibres: k.Fibres, For: k.ForWhom, Rules: k.Rules,
		Note: k.Note, Drive: d.Name, Ask: d.Ask, Minutes: k.Cases * spec.Minutes(),
	}
	if u == length.CM {
		f.Trim = say(3 * length.Millimetre)
	}
	for _, p := range panels {
		f.Panels = append(f.Panels, words.PanelFacts{Role: p.Role, Pieces: p.Pieces, Around: say(p.Around), Along: say(p.Along), Of: fabricsOf(k, p.Role)})
		if p.Role == sizing.Cuff {
			f.KeepFree = say(thirdOf(p.Along, u))
		}
	}
	f.Lessons = LessonFacts(k.Lessons)
	for _, c := range k.Cloth {
		f.OneWay = f.OneWay || c.OneWay
	}
	if k.State == drive.KitOut && k.Due != nil {
		f.Due = l.Date(*k.Due)
	}
	return f, nil
}

// LessonFacts says what a card tells of what came up at the checking table.
func LessonFacts(lessons []drive.Lesson) []words.LessonFacts {
	facts := make([]words.LessonFacts, len(lessons))
	for i, l := range lessons {
		facts[i] = words.LessonFacts{Kind: string(l.Kind), Fault: l.Fault, Tell: l.Tell, N: l.N, Of: l.Of}
	}
	return facts
}

// fabricsOf names the fabrics that a kit has panels of one role of: with how many
// of each, where that is known.
func fabricsOf(k drive.KitToSew, role string) []words.FabricFacts {
	var list []words.FabricFacts
	for _, c := range k.Cloth {
		if c.Role != role {
			continue
		}
		f := words.FabricFacts{Lot: c.Lot, Look: c.Look}
		if k.Whole {
			f.N = c.N
		}
		list = append(list, f)
	}
	return list
}

// thirdOf is about a third of a length, in whole inches or centimetres.
func thirdOf(l length.Length, u length.Unit) length.Length {
	step := length.Inch
	if u == length.CM {
		step = length.Centimetre
	}
	return max(step, l/3/step*step)
}

// KitCards draws the cards of kits, each beginning on a sheet of its own, with the
// steps on the next one so that both can be printed on one sheet's two sides. At
// the foot of the first is a slip to tear off; behind it nothing is printed.
func KitCards(w io.Writer, title string, s Sheet, cards []KitCard, at time.Time) error {
	d, err := newDocument(title, at)
	if err != nil {
		return err
	}
	for _, c := range cards {
		if err := d.kitCard(s, c); err != nil {
			return err
		}
	}
	return d.write(w)
}

// KitLabel is the label of one kit.
type KitLabel struct {
	words.Label
	Number  string
	Address string
}

// NewKitLabel writes the label of a kit. It fails on a spec that cannot be sewn.
func NewKitLabel(d drive.Drive, base, lang string, k drive.KitToSew) (KitLabel, error) {
	l := words.In(lang)
	facts, err := CardFacts(d, k, l)
	if err != nil {
		return KitLabel{}, err
	}
	return KitLabel{l.Label(facts), k.String(), KitAddress(base, d.ID, k.KitRef)}, nil
}
