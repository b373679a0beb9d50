package site

import (
	"bytes"
	"cmp"
	"fmt"
	"html/template"
	"net/http"
	"strconv"

	"github.com/gin-gonic/gin"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/paper"
	"boltward/internal/sizing"
	"boltward/internal/words"
)

// cardsPrinted is the most cards one page prints.
const cardsPrinted = 200

// kitCardsPage is cards to print, each on a sheet of its own.
type kitCardsPage struct {
	Cards  []kitCard
	PDF    string // where the same are drawn for a printer
	Labels string // where labels of the same are
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
	paper.KitCard
	Kit     drive.KitRef
	Code    codeDrawn
	OwnCode *codeDrawn // of the page of whoever has it
	Cut     caseDrawing
	Shown   shownSteps
}

// stepShown is a step with its drawing.
type stepShown struct {
	words.Step
	Drawing template.HTML // paths of an SVG; empty where the step has none
}

// shownSteps is the steps of a card.
type shownSteps []stepShown

// Drawn is the list of the steps.
func (shown shownSteps) Drawn() template.HTML {
	var m markup
	size := 0
	for _, step := range shown {
		size += len(step.Drawing) + len(step.How) + 200
	}
	m.out.Grow(size)
	m.put("\n<ol class=\"drawn-steps\">")
	for _, step := range shown {
		m.put("<li>")
		if step.Drawing != "" {
			m.put(`<svg class="figure-drawn" viewBox="0 0 100 60" aria-hidden="true">`).as(step.Drawing).put("</svg>")
		}
		m.put("<b>").text(step.Do).put(".</b> ").text(step.How).put("</li>")
	}
	m.put("</ol>\n")
	return m.html()
}

// drawnStep is what a step's drawing depends on.
type drawnStep struct {
	figure words.Figure
	of     paper.Make
}

// showSteps gives the steps of a card with their drawings. There are few makes and few steps, so
// each is drawn once.
func (s *Site) showSteps(card words.Card, of words.CardFacts) shownSteps {
	shown := make(shownSteps, len(card.Steps))
	for i, step := range card.Steps {
		key := drawnStep{step.Figure, paper.MakeOf(of)}
		drawing, drawn := s.drawn.Load(key)
		if !drawn {
			drawing, _ = s.drawn.LoadOrStore(key, drawShapes(paper.DrawStep(key.figure, key.of)))
		}
		shown[i] = stepShown{step, drawing.(template.HTML)}
	}
	return shown
}

// kitCard handles GET /drives/:drive/kits/:kit/card.
func (s *Site) kitCard(c *gin.Context) error {
	ref, err := kitInPath(c)
	if err != nil {
		return err
	}
	return s.showCards(c, []drive.KitRef{ref})
}

// kitCards handles GET /drives/:drive/kits/cards?kit=…&kit=….
func (s *Site) kitCards(c *gin.Context) error {
	refs, err := kitsToPrint(c)
	if err != nil {
		return err
	}
	return s.showCards(c, refs)
}

// kitsToPrint reads which kits are printed.
func kitsToPrint(c *gin.Context) ([]drive.KitRef, error) {
	refs, err := kitRefs(c.QueryArray("kit"))
	if err != nil {
		return nil, err
	}
	if len(refs) == 0 || len(refs) > cardsPrinted {
		return nil, apperr.Invalid("kit", "Choose 1 to %d kits to print for.", cardsPrinted)
	}
	return refs, nil
}

func (s *Site) showCards(c *gin.Context, refs []drive.KitRef) error {
	cards, kits, err := s.cardsOf(c, refs)
	if err != nil {
		return err
	}
	page := kitCardsPage{
		PDF:    s.path(c, "kits", "cards", "cards.pdf") + "?" + kitsInQuery(refs),
		Labels: s.path(c, "kits", "labels") + "?" + kitsInQuery(refs),
	}
	for i, card := range cards {
		panels, _, err := sizing.Cuts(kits[i].Spec)
		if err != nil {
			return fmt.Errorf("card of kit %s: %w", kits[i].KitRef, err)
		}
		shown := kitCard{KitCard: card, Kit: kits[i].KitRef, Cut: drawCuts(panels, s.drive(c).Unit)}
		if shown.Code, err = drawCode(card.Address); err != nil {
			return err
		}
		if card.OwnAddress != "" {
			own, err := drawCode(card.OwnAddress)
			if err != nil {
				return err
			}
			shown.OwnCode = &own
		}
		shown.Shown = s.showSteps(card.Card, card.Facts)
		page.Cards = append(page.Cards, shown)
	}
	return s.page(c, http.StatusOK, page)
}

// cardsOf writes the cards of kits; none of them here is not found.
func (s *Site) cardsOf(c *gin.Context, refs []drive.KitRef) ([]paper.KitCard, []drive.KitToSew, error) {
	kits, err := s.kitsToSew(c, refs)
	if err != nil {
		return nil, nil, err
	}
	own, err := s.pagesOfHolders(c, kits)
	if err != nil {
		return nil, nil, err
	}
	cards := make([]paper.KitCard, len(kits))
	for i, k := range kits {
		if cards[i], err = paper.NewKitCard(s.drive(c), s.url.String(), "en", k, own[numberOr0(k.Holder)]); err != nil {
			return nil, nil, err
		}
	}
	return cards, kits, nil
}

// pagesOfHolders gives the address of the own page of whoever has one of these kits, by their
// number; none to those who may not pass it on.
func (s *Site) pagesOfHolders(c *gin.Context, kits []drive.KitToSew) (map[int64]string, error) {
	pages := map[int64]string{}
	if !s.showsLink(c) {
		return pages, nil
	}
	ids, err := s.db.PersonLinks(c.Request.Context(), s.driveID(c), drive.HoldersOf(kits))
	for who, id := range ids {
		pages[who] = s.personalAddress(id)
	}
	return pages, err
}

func (s *Site) kitsToSew(c *gin.Context, refs []drive.KitRef) ([]drive.KitToSew, error) {
	kits, err := s.db.KitsToSew(c.Request.Context(), s.drive(c), refs)
	if err == nil && len(kits) == 0 {
		err = apperr.NotFound("There is no such kit here.")
	}
	return kits, err
}

// kitCardsFile handles GET /drives/:drive/kits/cards/cards.pdf?kit=…&paper=….
func (s *Site) kitCardsFile(c *gin.Context) error {
	refs, err := kitsToPrint(c)
	if err != nil {
		return err
	}
	cards, _, err := s.cardsOf(c, refs)
	if err != nil {
		return err
	}
	sheet := sheetOf(s.drive(c), c.Query("paper"))
	return s.printed(c, "kit-cards.pdf", func(b *bytes.Buffer) error {
		return paper.KitCards(b, s.drive(c).Name+": kit cards", sheet, cards, s.now())
	})
}

// sheetOf is the paper that a form names, else what the drive's people have.
func sheetOf(d drive.Drive, named string) paper.Sheet {
	switch named {
	case "letter":
		return paper.Letter
	case "a4":
		return paper.A4
	}
	return paper.UsualSheet(d)
}

// kitLabelsPage chooses what the labels of kits are printed on.
type kitLabelsPage struct {
	Form     kitLabelsForm
	Problems map[string]string
	Papers   []option
	Kits     string // their names in words
}

func (kitLabelsPage) template() string { return "kit-labels.html" }
func (kitLabelsPage) title() string    { return "Labels of kits" }

// kitLabelsForm is as typed.
type kitLabelsForm struct {
	Kits  []string
	Paper string
	Start string
}

// kitLabels handles GET /drives/:drive/kits/labels?kit=…: on what they are printed.
func (s *Site) kitLabels(c *gin.Context) error {
	return s.kitLabelsWith(c, http.StatusOK, map[string]string{})
}

func (s *Site) kitLabelsWith(c *gin.Context, status int, problems map[string]string) error {
	refs, err := kitsToPrint(c)
	if err != nil {
		return err
	}
	page := kitLabelsPage{Problems: problems, Form: kitLabelsForm{Paper: clean(c.Query("paper")), Start: cmp.Or(clean(c.Query("start")), "1")}}
	if page.Papers, err = s.labelPaperOptions(c); err != nil {
		return err
	}
	for i, ref := range refs {
		page.Form.Kits = append(page.Form.Kits, ref.String())
		if i > 0 {
			page.Kits += ", "
		}
		page.Kits += ref.String()
	}
	return s.page(c, status, page)
}

// labelPaperOptions gives the sheets and rolls to choose from, the drive's own first.
func (s *Site) labelPaperOptions(c *gin.Context) ([]option, error) {
	own, err := s.db.LabelPapers(c.Request.Context(), s.driveID(c))
	if err != nil {
		return nil, err
	}
	var options []option
	for _, p := range append(own, drive.ReadyLabelPapers(s.drive(c).Unit)...) {
		options = append(options, option{strconv.FormatInt(p.Number, 10), p.Name})
	}
	return options, nil
}

// kitLabelsFile handles GET /drives/:drive/kits/labels/labels.pdf?kit=…&paper=…&start=….
func (s *Site) kitLabelsFile(c *gin.Context) error {
	refs, err := kitsToPrint(c)
	if err != nil {
		return err
	}
	problems := map[string]string{}
	on, start, err := s.labelsFrom(c, problems)
	if err != nil {
		return err
	}
	if len(problems) > 0 {
		return s.kitLabelsWith(c, http.StatusUnprocessableEntity, problems)
	}
	kits, err := s.kitsToSew(c, refs)
	if err != nil {
		return err
	}
	labels := make([]paper.KitLabel, len(kits))
	for i, k := range kits {
		if labels[i], err = paper.NewKitLabel(s.drive(c), s.url.String(), "en", k); err != nil {
			return err
		}
	}
	var pdf bytes.Buffer
	err = paper.KitLabels(&pdf, s.drive(c).Name+": labels of kits", on, start, labels, s.now())
	if adopt(problems, err) {
		return s.kitLabelsWith(c, http.StatusUnprocessableEntity, problems)
	}
	if err != nil {
		return err
	}
	return s.file(c, "kit-labels.pdf", "application/pdf", pdf.Bytes())
}
