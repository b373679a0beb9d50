package site

import (
	"fmt"
	"net/http"
	"slices"
	"strconv"

	"github.com/gin-gonic/gin"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/length"
	"boltward/internal/workbook"
)

// clothAct is one way to handle cloth: where its form is and what it is for.
type clothAct struct {
	Slug  string
	Kind  drive.DeedKind
	Label string
	What  string
	Done  string // for the notice
	Free  bool   // only of what is free
	Out   bool   // only of what was booked out
}

// clothActs lists what people may do to a piece.
func clothActs() []clothAct {
	return []clothAct{
		{"count", drive.DeedRecounted, "Count it anew", "What lies there differs from what is booked.", "counted anew", false, false},
		{"part", drive.DeedParted, "Part it", "At a flaw, at a border, into a strip, or cut across.", "parted", true, false},
		{"give", drive.DeedGivenAway, "Give away", "Some or all of it goes to somebody else.", "given away in part or whole", true, false},
		{"discard", drive.DeedDiscarded, "Discard", "Some or all of it is of no use.", "discarded in part or whole", true, false},
		{"square", drive.DeedSquared, "Square it off", "An end was crooked and is trimmed.", "squared off", true, false},
		{"remnant", drive.DeedPutBack, "Put a remnant back", "An offcut is worth keeping, or cloth came back.", "put back in part", false, true},
	}
}

// handlePage is the form of one way to handle a piece.
type handlePage struct {
	Form      handleForm
	Problems  map[string]string
	Since     []string // what somebody else booked while the form was open
	Act       clothAct
	Lot       int64
	Piece     int
	Words     string
	Booked    string // what lies on the shelf by the books
	Promised  bool
	Border    bool // the piece is a border strip already
	Yardage   string
	Unit      string
	Ways      []option
	Borders   []option
	DepthHint string
	Reasons   []string
}

func (handlePage) template() string { return "fabric-handle.html" }
func (p handlePage) title() string {
	return fmt.Sprintf("%s: piece %d/%d", p.Act.Label, p.Lot, p.Piece)
}

// handleForm is as typed.
type handleForm struct {
	Seen   string `form:"seen"`
	How    string `form:"how"` // of a parting: flaw, border, strip or across
	Length string `form:"length"`
	All    string `form:"all"`
	Width  string `form:"width"`
	Flaws  string `form:"flaws"`
	Border string `form:"border"`
	Depth  string `form:"depth"`
	Reason string `form:"reason"`
	Sure   string `form:"sure"`
}

// handle handles GET /drives/:drive/fabric/:lot/pieces/:piece/:act.
func (s *Site) handle(c *gin.Context) error {
	page, _, err := s.handleStands(c)
	if err != nil {
		return err
	}
	page.Form.How = "flaw"
	return s.page(c, http.StatusOK, page)
}

// handleNow handles POST /drives/:drive/fabric/:lot/pieces/:piece/:act.
func (s *Site) handleNow(c *gin.Context) error {
	page, stock, err := s.handleStands(c)
	if err != nil {
		return err
	}
	last := page.Form.Seen
	page.Form.Seen = "" // what the form does not say it has not seen
	if err := s.read(c, &page.Form); err != nil {
		return err
	}
	h, problems := page.Form.handling(page.Act.Kind, s.drive(c))
	h.Piece, page.Problems = page.Piece, problems
	if len(problems) > 0 {
		return s.page(c, http.StatusUnprocessableEntity, page)
	}
	done, err := s.db.HandleCloth(c.Request.Context(), s.act(c), page.Lot, typedNumber(page.Form.Seen), h)
	switch {
	case err == nil:
		text := fmt.Sprintf("Piece %d/%d is %s.", page.Lot, page.Piece, page.Act.Done)
		if len(done.Pieces) > 0 {
			text += " New: " + namesOfPieces(page.Lot, done.Pieces) + "."
		}
		s.flashUndo(c, s.path(c, "fabric", page.Lot, "deeds", done.Deed, "undo"), "%s", text)
		return s.seeOther(c, s.path(c, "fabric", page.Lot))
	case apperr.Is(err, apperr.KindConflict):
		page.Problems[""], page.Since = apperr.As(err).Text, since(stock, typedNumber(page.Form.Seen), s.drive(c))
		page.Form.Seen = last
		return s.page(c, http.StatusConflict, page)
	case !adopt(page.Problems, err):
		return err
	}
	return s.page(c, http.StatusUnprocessableEntity, page)
}

// undoCloth handles POST /drives/:drive/fabric/:lot/deeds/:deed/undo.
func (s *Site) undoCloth(c *gin.Context) error {
	lot, err := s.number(c, "lot")
	if err != nil {
		return err
	}
	deed, err := s.number(c, "deed")
	if err != nil {
		return err
	}
	_, err = s.db.UndoCloth(c.Request.Context(), s.act(c), lot, deed)
	if apperr.Is(err, apperr.KindConflict) {
		return s.lotWith(c, http.StatusConflict, lotPage{Problems: map[string]string{"": apperr.As(err).Text}})
	}
	if err != nil {
		return err
	}
	s.flash(c, "Undone.")
	return s.seeOther(c, s.path(c, "fabric", lot))
}

// handleStands is the form for the piece as it stands now.
func (s *Site) handleStands(c *gin.Context) (handlePage, drive.Stock, error) {
	lot, p, err := s.pieceOf(c)
	if err != nil {
		return handlePage{}, drive.Stock{}, err
	}
	acts := clothActs()
	at := slices.IndexFunc(acts, func(a clothAct) bool { return a.Slug == c.Param("act") })
	if at < 0 {
		return handlePage{}, drive.Stock{}, noSuchPage()
	}
	d := s.drive(c)
	stock, err := s.db.LotStock(c.Request.Context(), d.ID, lot.Number)
	if err != nil {
		return handlePage{}, stock, err
	}
	page := handlePage{
		Act: acts[at], Lot: lot.Number, Piece: p.Piece, Words: pieceStands(p, d), Promised: p.Promised > 0, Border: p.Kind == drive.PieceBorder,
		Booked: clothSize(p.Width, p.OnShelf(), d), Yardage: string(d.Yardage()), Unit: string(d.Unit),
		Ways:    []option{{"flaw", "At a flaw"}, {"border", "A border strip"}, {"strip", "A strip along it"}, {"across", "Cut across"}},
		Borders: []option{{drive.BorderOne, "along one selvedge"}, {drive.BorderBoth, "along both selvedges"}},
		Reasons: reasonsFor(acts[at].Kind),
	}
	if page.Border {
		page.Ways = slices.Delete(page.Ways, 1, 2)
	}
	page.DepthHint = "As deep as the body or cuff that will use it; the rest beside it is a piece too."
	depth, err := s.db.BorderDepth(c.Request.Context(), d.ID)
	if err != nil {
		return page, stock, err
	}
	if depth > 0 {
		page.DepthHint = length.Format(depth, d.Unit) + " is as deep as the longest body. " + page.DepthHint
	}
	page.Form.Seen = strconv.FormatInt(stock.Last(), 10)
	page.Form.Border = drive.BorderOne
	return page, stock, nil
}

// handling reads the form.
func (f handleForm) handling(kind drive.DeedKind, d drive.Drive) (drive.Handling, map[string]string) {
	problems := map[string]string{}
	h := drive.Handling{Kind: kind, Reason: f.Reason, All: f.All == "yes", Sure: f.Sure == "yes"}
	if kind == drive.DeedParted {
		switch f.How {
		case "flaw":
			flaws, _, err := workbook.ParseFlaws(f.Flaws, d.Unit)
			switch {
			case err != nil:
				problem(problems, "flaws", "%s", upperFirst(err.Error())+".")
			case len(flaws) == 0:
				problem(problems, "flaws", "Say where the flaw is, like %s.", workbook.FlawLike(d.Unit))
			}
			h.Flaws = flaws
		case "border":
			h.Border, h.Depth = f.Border, clothLength(problems, "depth", f.Depth, d.Unit)
		case "strip":
			if h.Width = clothLength(problems, "width", f.Width, d.Unit); h.Width <= 0 {
				problem(problems, "width", "Give how wide the strip is.")
			}
		case "across":
			if h.Length = clothLength(problems, "length", f.Length, d.Yardage()); h.Length <= 0 {
				problem(problems, "length", "Give how far from its beginning it is cut.")
			}
		default:
			problem(problems, "how", "Choose how it is parted.")
		}
		return h, problems
	}
	h.Length, h.Width = clothLength(problems, "length", f.Length, d.Yardage()), clothLength(problems, "width", f.Width, d.Unit)
	if kind == drive.DeedRecounted && f.Length == "" && len(problems) == 0 {
		problem(problems, "length", "Give the length that lies there; 0 where nothing does.")
	}
	return h, problems
}

// since says what was booked of a lot after an entry.
func since(stock drive.Stock, seen int64, d drive.Drive) []string {
	var words []string
	for _, e := range stock.Entries {
		if e.ID > seen {
			words = append(words, fmt.Sprintf("Piece %d: %s (%s)", e.Piece, e.Words(d), bookedBy(e)))
		}
	}
	return words
}

func namesOfPieces(lot int64, pieces []int) string {
	text := ""
	for i, p := range pieces {
		if i > 0 {
			text += ", "
		}
		text += drive.ClothID(lot, p)
	}
	return text
}

// reasonsFor are the reasons people give most.
func reasonsFor(kind drive.DeedKind) []string {
	switch kind {
	case drive.DeedRecounted:
		return []string{"counted again", "measured wrongly", "nobody knows where it went"}
	case drive.DeedDiscarded:
		return []string{"mildew", "stains", "moth", "faded", "torn"}
	case drive.DeedPutBack:
		return []string{"kept after cutting", "came back"}
	case drive.DeedGivenAway:
		return []string{"to another drive", "to the guild", "for a class"}
	}
	return nil
}
