package paper

import (
	"fmt"

	"boltward/internal/words"
)

// How a card is set, in millimetres.
const (
	cardEdge   = 13.0
	cardGap    = 8.0  // between columns
	slipHigh   = 41.0 // of the part that is torn off
	ownCode    = 34.0 // the side of the code of somebody's own page, with its quiet zone
	stepGap    = 5.0
	stepColumn = 3
	stepRow    = 3.0 // between rows
	itemIndent = 5.0
)

var (
	cardBody  = text{points: 9.5}
	cardBold  = text{points: 9.5, bold: true}
	cardHead  = text{points: 12, bold: true}
	cardSmall = text{points: 8.5}
	stepText  = text{points: 9}
	stepBold  = text{points: 9.5, bold: true}
)

// cardSheet is a card that is being drawn: where the next line goes, in which of
// two columns.
type cardSheet struct {
	*document
	card         KitCard
	paper        Sheet
	wide         float64 // between the edges
	top, y       float64
	bottom       float64
	column, side int
	unit         float64 // of the drawings of steps, in millimetres
}

func (d *document) kitCard(s Sheet, c KitCard) error {
	k := &cardSheet{document: d, card: c, paper: s, wide: mm(s.Width) - 2*cardEdge}
	if err := k.front(); err != nil {
		return err
	}
	k.steps()
	return nil
}

// begin goes on to the next side.
func (k *cardSheet) begin() {
	k.sheet(k.paper.Width, k.paper.Height)
	k.side++
	k.column, k.y, k.bottom = 0, cardEdge, mm(k.paper.Height)-cardEdge
	if k.side <= 2 { // the slip, and the back of it
		k.bottom = mm(k.paper.Height) - slipHigh - 4
	}
	k.pdf.SetTextColor(0, 0, 0)
	k.pdf.SetDrawColor(0, 0, 0)
	if k.side > 1 {
		k.say(cardEdge, k.y+4, cardHead, k.card.Title)
		from := k.fitted(cardSmall, k.card.From, k.wide*0.6)
		k.say(cardEdge+k.wide-k.width(cardSmall, from), k.y+4, cardSmall, from)
		k.y += 9
	}
	k.top = k.y
}

// front is the side that is read first: what it is, what is in the bag, what to
// take care of, whom to ask; and the slip.
func (k *cardSheet) front() error {
	k.begin()
	const code = 32.0
	q, err := codeFor(k.card.Address, code)
	if err != nil {
		return err
	}
	k.draw(q, cardEdge+k.wide-code+2, cardEdge-4)
	left := k.wide - code - 4
	k.y = cardEdge
	number := k.largest(k.card.Title, left*0.6, 13)
	k.say(cardEdge, k.y+11, number, k.card.Title)
	k.y += 14
	k.head(text{points: 13, bold: true}, k.card.What, left)
	k.head(cardBody, k.card.Finished, left)
	if k.card.Due != "" {
		k.head(text{points: 12, bold: true}, k.card.Due, left)
	}
	k.head(cardSmall, k.card.From, left)
	k.top = max(k.y, cardEdge+code-6) + 3
	k.pdf.SetLineWidth(0.3)
	k.pdf.SetDashPattern([]float64{1.6, 1.1}, 0)
	k.pdf.Line(cardEdge, k.top-2.5, cardEdge+k.wide, k.top-2.5)
	k.pdf.SetDashPattern([]float64{}, 0)
	k.y = k.top
	if err := k.slip(); err != nil {
		return err
	}
	c := k.card
	k.heading(c.In)
	for _, line := range c.Contents {
		k.item(line, k.tickBox)
	}
	k.panels()
	k.list(c.MattersTitle, c.Matters)
	k.list(c.LessonsTitle, c.Lessons)
	k.list(c.AsksTitle, c.Asks)
	if rest := k.restHigh(); k.column == 0 && k.y+rest > k.bottom && k.top+rest <= k.bottom {
		k.column, k.y = 1, k.top
	}
	k.list(c.CareTitle, c.Care)
	if err := k.ownPage(); err != nil {
		return err
	}
	if c.Ask != "" {
		k.heading(c.AskTitle)
		k.paragraphIn(cardBold, c.Ask)
	}
	k.list(c.BackTitle, c.Back)
	return nil
}

// ownPage draws the code of the page of whoever has the kit, with what it is for beside it.
func (k *cardSheet) ownPage() error {
	if k.card.OwnAddress == "" {
		return nil
	}
	q, err := codeFor(k.card.OwnAddress, ownCode)
	if err != nil {
		return err
	}
	lines := k.wrapped(cardBody, k.card.Own, k.columnWide()-ownCode-2)
	high := max(ownCode, float64(len(lines))*cardBody.line()+2)
	k.keep(cardHead.line() + 3.2 + high)
	k.heading(k.card.OwnTitle)
	k.draw(q, k.left()-2, k.y)
	for i, line := range lines {
		k.say(k.left()+ownCode, k.y+2+float64(i+1)*cardBody.line(), cardBody, line)
	}
	k.y += high + 0.9
	return nil
}

// head is one line or more at the top of the card, as wide as the code leaves.
func (k *cardSheet) head(t text, words string, width float64) {
	for _, line := range k.wrapped(t, words, width) {
		k.y += t.line()
		k.say(cardEdge, k.y, t, line)
	}
	k.y += 1
}

func (k *cardSheet) columnWide() float64 { return (k.wide - cardGap) / 2 }

func (k *cardSheet) left() float64 {
	return cardEdge + float64(k.column)*(k.columnWide()+cardGap)
}

// keep goes on to the next column or side where less than this is left.
func (k *cardSheet) keep(height float64) {
	if k.y+height <= k.bottom {
		return
	}
	if k.column == 0 {
		k.column, k.y = 1, k.top
		return
	}
	k.begin()
}

func (k *cardSheet) heading(words string) {
	if k.y > k.top {
		k.y += 2.2
	}
	k.keep(cardHead.line() + 2*cardBody.line())
	k.y += cardHead.line()
	k.say(k.left(), k.y, cardHead, k.fitted(cardHead, words, k.columnWide()))
	k.y += 1
}

func (k *cardSheet) list(title string, lines []string) {
	if len(lines) == 0 {
		return
	}
	k.heading(title)
	for _, line := range lines {
		k.item(line, func(x, y float64) { k.pdf.Rect(x+0.6, y-1.9, 1.2, 1.2, "F") })
	}
}

// restHigh is how much room cautions, whom to ask and how it comes back take.
func (k *cardSheet) restHigh() float64 {
	high := 0.0
	if k.card.OwnAddress != "" {
		high += cardHead.line() + 3.2 + ownCode
	}
	for _, lines := range [][]string{k.card.Care, {k.card.Ask}, k.card.Back} {
		high += cardHead.line() + 3.2
		for _, line := range lines {
			high += float64(len(k.wrapped(cardBody, line, k.columnWide()-itemIndent)))*cardBody.line() + 0.9
		}
	}
	return high
}

// tickBox is an empty square to tick.
func (k *cardSheet) tickBox(x, y float64) {
	k.pdf.SetLineWidth(0.3)
	k.pdf.Rect(x, y-3, 3, 3, "D")
}

// item is one point of a list with its mark before it.
func (k *cardSheet) item(words string, mark func(x, y float64)) {
	for i, line := range k.wrapped(cardBody, words, k.columnWide()-itemIndent) {
		k.keep(cardBody.line())
		k.y += cardBody.line()
		if i == 0 {
			k.pdf.SetFillColor(0, 0, 0)
			mark(k.left(), k.y)
		}
		k.say(k.left()+itemIndent, k.y, cardBody, line)
	}
	k.y += 0.9
}

func (k *cardSheet) paragraphIn(t text, words string) {
	for _, line := range k.wrapped(t, words, k.columnWide()) {
		k.keep(t.line())
		k.y += t.line()
		k.say(k.left(), k.y, t, line)
	}
}

// panels draws one of each panel, all to one scale, hatched by what it is, its
// measures under it.
func (k *cardSheet) panels() {
	if len(k.card.Drawn) == 0 {
		return
	}
	wide, high := 0.0, 0.0
	for _, p := range k.card.Drawn {
		wide, high = max(wide, mm(p.Around)), high+mm(p.Along)
	}
	const mostHigh = 52.0
	scale := min((k.columnWide()-2)/wide, mostHigh/high)
	line := cardSmall.line()
	k.heading(k.card.Sizes)
	k.keep(high*scale + float64(len(k.card.Drawn))*(line+2.5))
	for _, p := range k.card.Drawn {
		w, h := mm(p.Around)*scale, mm(p.Along)*scale
		k.y += 0.8
		k.clothRect(p.Role, k.left(), k.y, w, h)
		k.y += h + line
		k.say(k.left(), k.y, cardSmall, k.fitted(cardSmall, p.Words, k.columnWide()))
		k.y += 1.2
	}
}

// clothRect draws a panel as its role looks in every drawing.
func (k *cardSheet) clothRect(role string, x, y, w, h float64) {
	c := map[string]cloth{"body": bodySide, "cuff": cuffSide, "accent": accentSide}[role]
	// One unit of a drawing is about half a millimetre.
	const unit = 0.46
	outline := rectangle(0, 0, w/unit, h/unit)
	k.figure(area(outline, c)[1:], x, y, unit)
	k.pdf.SetLineWidth(0.3)
	k.pdf.Rect(x, y, w, h, "D")
}

// slip is torn off and comes back with the pillowcases.
func (k *cardSheet) slip() error {
	top := mm(k.paper.Height) - slipHigh
	k.pdf.SetLineWidth(0.3)
	k.pdf.SetDashPattern([]float64{2.5, 1.8}, 0)
	k.pdf.Line(0, top, mm(k.paper.Width), top)
	k.pdf.SetDashPattern([]float64{}, 0)
	const code = 30.0
	q, err := codeFor(k.card.Address, code)
	if err != nil {
		return err
	}
	k.draw(q, cardEdge+k.wide-code+2, top+1)
	left := k.wide - code - 4
	y := top + 8
	k.say(cardEdge, y, cardHead, k.fitted(cardHead, k.card.Slip.Title, left))
	half := left / 2
	for i, line := range k.card.Slip.Lines {
		x := cardEdge + float64(i%2)*half
		if i%2 == 0 {
			y += 11
		}
		at := x + k.say(x, y, cardBody, k.fitted(cardBody, line, half-20)) + 2
		k.pdf.SetLineWidth(0.25)
		k.pdf.Line(at, y+0.6, x+half-5, y+0.6)
	}
	number := k.largest(k.card.Number, code-6, 5)
	k.say(cardEdge+k.wide-code+2+(code-k.width(number, k.card.Number))/2, top+code+5, number, k.card.Number)
	return nil
}

// steps draws every step with its drawing above its words, row by row.
func (k *cardSheet) steps() {
	k.begin()
	k.y += 1
	k.say(cardEdge, k.y+cardHead.line(), cardHead, k.card.StepsTitle)
	k.y += cardHead.line() + 1
	for _, line := range k.wrapped(cardSmall, k.card.Figures, k.wide) {
		k.y += cardSmall.line()
		k.say(cardEdge, k.y, cardSmall, line)
	}
	k.y += 3
	width := (k.wide - (stepColumn-1)*stepGap) / stepColumn
	k.unit = k.figureUnit(width)
	for from := 0; from < len(k.card.Steps); from += stepColumn {
		row := k.card.Steps[from:min(from+stepColumn, len(k.card.Steps))]
		high := k.rowHigh(from, width)
		if k.y+high > k.bottom && k.y > k.top {
			k.begin()
		}
		for i, step := range row {
			k.step(from+i, step, cardEdge+float64(i)*(width+stepGap), width)
		}
		k.y += high + stepRow
	}
}

// figureUnit gives one unit of a drawing in millimetres: as large as all steps go
// on one side with, within reason.
func (k *cardSheet) figureUnit(width float64) float64 {
	const most, least = 0.5, 0.38
	rows := float64((len(k.card.Steps) + stepColumn - 1) / stepColumn)
	k.unit = 0
	words := 0.0
	for from := 0; from < len(k.card.Steps); from += stepColumn {
		words += k.rowHigh(from, width)
	}
	room := k.bottom - k.y - words - rows*(stepRow+1)
	return clamp(room/rows/FigureHeight, least, most)
}

func (k *cardSheet) rowHigh(from int, width float64) float64 {
	high := 0.0
	for i, step := range k.card.Steps[from:min(from+stepColumn, len(k.card.Steps))] {
		high = max(high, k.stepHigh(from+i, step, width))
	}
	return high
}

func (k *cardSheet) stepHigh(i int, step words.Step, width float64) float64 {
	figure := 0.0
	if DrawStep(step.Figure, MakeOf(k.card.Facts)) != nil {
		figure = FigureHeight*k.unit + 1
	}
	return figure + float64(len(k.wrapped(stepBold, stepTitle(i, step), width)))*stepBold.line() +
		float64(len(k.wrapped(stepText, step.How, width)))*stepText.line()
}

func (k *cardSheet) step(i int, step words.Step, x, width float64) {
	y := k.y
	if f := DrawStep(step.Figure, MakeOf(k.card.Facts)); f != nil {
		k.figure(f, x+(width-FigureWidth*k.unit)/2, y, k.unit)
		y += FigureHeight*k.unit + 1
	}
	for _, line := range k.wrapped(stepBold, stepTitle(i, step), width) {
		y += stepBold.line()
		k.say(x, y, stepBold, line)
	}
	for _, line := range k.wrapped(stepText, step.How, width) {
		y += stepText.line()
		k.say(x, y, stepText, line)
	}
}

func stepTitle(i int, step words.Step) string { return fmt.Sprintf("%d  %s", i+1, step.Do) }
