package site

import (
	"net/http"

	"github.com/gin-gonic/gin"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/length"
	"boltward/internal/postgres"
	"boltward/internal/sizing"
	"boltward/internal/words"
)

// cardsPrinted is the most cards one page prints.
const cardsPrinted = 200

// kitCardsPage is cards to print, each on a sheet of its own.
type kitCardsPage struct {
	Cards []kitCard
}

func (kitCardsPage) template() string { return "kit-cards.html" }
func (p kitCardsPage) title() string {
	if len(p.Cards) == 1 {
		return p.Cards[0].Title + ", card"
	}
	return "Kit cards"
}

// kitCard is what is printed for one kit.
type kitCard struct {
	words.Card
	Kit drive.KitRef
}

// kitCard handles GET /drives/:drive/kits/:kit/card.
func (s *Site) kitCard(c *gin.Context) error {
	ref, err := kitInPath(c)
	if err != nil {
		return err
	}
	return s.printCards(c, []drive.KitRef{ref})
}

// kitCards handles GET /drives/:drive/kits/cards?kit=…&kit=….
func (s *Site) kitCards(c *gin.Context) error {
	refs, err := kitRefs(c.QueryArray("kit"))
	if err != nil {
		return err
	}
	if len(refs) == 0 || len(refs) > cardsPrinted {
		return apperr.Invalid("kit", "Choose 1 to %d kits to print cards for.", cardsPrinted)
	}
	return s.printCards(c, refs)
}

func (s *Site) printCards(c *gin.Context, refs []drive.KitRef) error {
	found, err := s.db.KitCards(c.Request.Context(), s.driveID(c), refs)
	if err != nil {
		return err
	}
	if len(found) == 0 {
		return apperr.NotFound("There is no such kit here.")
	}
	d, page := s.drive(c), kitCardsPage{}
	for _, k := range found {
		facts, err := cardFacts(k, d)
		if err != nil {
			return err
		}
		page.Cards = append(page.Cards, kitCard{words.In("en").Card(facts), k.KitRef})
	}
	return s.page(c, http.StatusOK, page)
}

// cardFacts says what a card speaks about, in the drive's unit.
func cardFacts(k postgres.KitCard, d drive.Drive) (words.CardFacts, error) {
	panels, _, err := sizing.Cuts(k.Spec)
	if err != nil {
		return words.CardFacts{}, err
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
		Note: k.Note, Drive: d.Name,
	}
	if u == length.CM {
		f.Trim = say(3 * length.Millimetre)
	}
	for _, p := range panels {
		f.Panels = append(f.Panels, words.PanelFacts{Role: p.Role, Pieces: p.Pieces, Around: say(p.Around), Along: say(p.Along)})
		if p.Role == sizing.Cuff {
			f.KeepFree = say(thirdOf(p.Along, u))
		}
	}
	if k.State == drive.KitOut && k.Due != nil {
		f.Due = k.Due.Format("2 Jan 2006")
	}
	return f, nil
}

// thirdOf is about a third of a length, in whole inches or centimetres.
func thirdOf(l length.Length, u length.Unit) length.Length {
	step := length.Inch
	if u == length.CM {
		step = 10 * length.Millimetre
	}
	return max(step, l/3/step*step)
}
