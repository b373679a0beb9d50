package drive

import (
	"fmt"
	"strings"

	"boltward/internal/apperr"
	"boltward/internal/length"
	"boltward/internal/sizing"
)

// takeOff books cloth that leaves a piece for good.
func (w *handwork) takeOff(p Piece, h Handling) error {
	if p.FreeLength == 0 {
		return w.nothingFree(p)
	}
	if h.Reason == "" && h.Kind != DeedSquared {
		why := "Say why it is discarded, in a few words."
		if h.Kind == DeedGivenAway {
			why = "Say to whom it goes or what for, in a few words."
		}
		return apperr.Invalid("reason", "%s", why)
	}
	l := h.Length
	if h.All {
		l = p.FreeLength
	}
	if l <= 0 {
		return apperr.Invalid("length", "Say how much, more than nothing, or all of it.")
	}
	if l > p.FreeLength {
		return apperr.Invalid("length", "Piece %s has %s free%s. If more lies there, recount it first.", p.Name(), w.yards(p.FreeLength), w.andPromised(p))
	}
	kind := map[DeedKind]FabricKind{DeedSquared: FabricSquaredOff, DeedGivenAway: FabricGivenAway, DeedDiscarded: FabricDiscarded}[h.Kind]
	w.enter(p.Piece, kind, Free, Out, l, area(p.Width, l), nil)
	return nil
}

// recount books what really lies there of a piece, promised cloth with it.
func (w *handwork) recount(p Piece, h Handling) error {
	if h.Reason == "" {
		return apperr.Invalid("reason", "Say why it differs from the books, in a few words: counted again, measured wrongly.")
	}
	if bad := wrongSize(w.d, h.Length, h.Width, "length", "width"); bad != nil {
		return apperr.InvalidFields(bad)
	}
	if bad := (PieceCount{p.Piece, p.OnShelf(), h.Length}).asked(w.d, w.d.Yardage(), "of piece "+p.Name(), "length"); bad != nil && !h.Sure && !h.Rest {
		return apperr.InvalidFields(bad)
	}
	if h.Width == 0 {
		h.Width = p.Width
	}
	promised := p.OnShelf() - p.FreeLength
	if h.Width != p.Width {
		if promised > 0 && !h.Rest {
			return apperr.Conflict("%s of piece %s is promised to %s at its booked width, so the width stands until that is cut or withdrawn.",
				w.yards(promised), p.Name(), w.promisedTo(p))
		}
		if h.Length == 0 {
			return apperr.Invalid("length", "Give the length that lies there; where nothing does, leave the width alone.")
		}
		now := size{p.Kind, h.Width, h.Length}
		if more := area(now.width, now.length) - p.Free; more > 0 {
			w.enter(p.Piece, FabricRecounted, Outside, Free, 0, more, nil)
			p.Free += more
		}
		w.reshape(p, []size{now}, FabricRecounted)
		return nil
	}
	free := h.Length - promised
	switch {
	case free < 0:
		return apperr.Invalid("length", "%s of piece %s is promised to %s, so that much has to be there. Where it is not, report the sheet as short on its own page.",
			w.yards(promised), p.Name(), w.promisedTo(p))
	case free == p.FreeLength:
		return apperr.Invalid("length", "That is what is booked already: nothing to put right.")
	case free < p.FreeLength:
		l := p.FreeLength - free
		w.enter(p.Piece, FabricRecounted, Free, Out, l, area(p.Width, l), nil)
	default:
		l := free - p.FreeLength
		w.enter(p.Piece, FabricRecounted, Outside, Free, l, area(p.Width, l), nil)
	}
	return nil
}

// part makes several pieces of what is free of one.
func (w *handwork) part(p Piece, h Handling) error {
	if p.FreeLength == 0 {
		return w.nothingFree(p)
	}
	if p.Promised > 0 {
		return apperr.Conflict("%s of piece %s is promised to %s. Part it when that is cut or withdrawn; report a flaw that the sheet meets on the sheet's page.",
			w.yards(p.OnShelf()-p.FreeLength), p.Name(), w.promisedTo(p))
	}
	into, err := w.parts(p, &h)
	if err != nil {
		return err
	}
	if len(into) == 0 {
		return apperr.Invalid("flaws", "The flaws leave nothing that is worth keeping. Discard the piece instead, or look at them again.")
	}
	w.out.Reason = h.Reason
	w.reshape(p, into, FabricDiscarded)
	if len(w.out.Entries) == 0 {
		return apperr.Invalid("flaws", "No flaw meets the piece: count from the end where its free cloth begins.")
	}
	return nil
}

// parts gives the rectangles that a parting leaves, and says in h's reason how.
func (w *handwork) parts(p Piece, h *Handling) ([]size, error) {
	why := func(format string, args ...any) {
		if h.Reason == "" {
			h.Reason = fmt.Sprintf(format, args...)
		}
	}
	kind := PieceRemnant
	if p.Kind == PieceBorder {
		kind = PieceBorder // a part of a border strip is one still
	}
	unit := w.d.Unit
	switch {
	case len(h.Flaws) > 0 || h.Border != "" || h.Depth > 0:
		border, err := h.border(p)
		if err != nil {
			return nil, err
		}
		words := make([]string, 0, len(h.Flaws)+1)
		if border.Depth > 0 {
			words = append(words, "border strip")
		}
		for _, f := range h.Flaws {
			words = append(words, "flaw "+FlawText(f, unit))
		}
		why("%s", strings.Join(words, "; "))
		return w.usable(p, sizing.Lot{Flaws: h.Flaws, Border: border})
	case h.Width > 0:
		if h.Width >= p.Width {
			return nil, apperr.Invalid("width", "Piece %s is %s wide: a strip of it is less.", p.Name(), OnTape(p.Width, unit))
		}
		why("cut along its length")
		return []size{{kind, h.Width, p.FreeLength}, {kind, p.Width - h.Width, p.FreeLength}}, nil
	case h.Length > 0:
		if h.Length >= p.FreeLength {
			return nil, apperr.Invalid("length", "Piece %s has %s free: cut it at less.", p.Name(), w.yards(p.FreeLength))
		}
		why("cut across")
		return []size{{p.Kind, p.Width, h.Length}, {kind, p.Width, p.FreeLength - h.Length}}, nil
	}
	return nil, apperr.Invalid("length", "Say where it is parted: at a flaw, at a border, or at what length or width it is cut.")
}

// border is the strip to part off; none where none is said.
func (h Handling) border(p Piece) (sizing.Border, error) {
	b := sizing.Border{Edges: sizing.OneSelvedge, Depth: h.Depth}
	switch {
	case h.Border == "" && h.Depth == 0:
		return sizing.Border{}, nil
	case h.Border == BorderBoth:
		b.Edges = sizing.BothSelvedges
	case h.Border != BorderOne:
		return b, apperr.Invalid("border", "Say on which selvedge the border runs.")
	}
	if h.Depth <= 0 {
		return b, apperr.Invalid("depth", "Give how deep the strip is: as deep as the panel that will use it.")
	}
	if p.Kind == PieceBorder {
		return b, apperr.Invalid("border", "Piece %s is a border strip already. Part it along its length instead.", p.Name())
	}
	return b, nil
}

// usable parts a piece as it lies, squared already, at borders and flaws.
func (w *handwork) usable(p Piece, lot sizing.Lot) ([]size, error) {
	lot.Length, lot.UsableWidth = p.FreeLength, p.Width
	u, err := lot.Usable(sizing.Allowances{KeepWidth: w.d.KeepWidth, KeepLength: w.d.KeepLength}, w.d.Unit)
	if e := apperr.As(err); e != nil {
		for i := range e.Fields {
			if e.Fields[i].Name == "border" {
				e.Fields[i].Name = "depth"
			}
		}
	}
	if err != nil {
		return nil, err
	}
	var into []size
	for _, part := range u.Parts {
		s := size{PieceKind(part.Kind), part.Width, part.Length}
		if p.Kind == PieceBorder || part.Kind == sizing.Whole {
			s.kind = p.Kind
		}
		into = append(into, s)
	}
	return into, nil
}

// putBack books a remnant that was counted as gone: an offcut worth keeping, cloth
// that was given away and came back.
func (w *handwork) putBack(p Piece, h Handling) error {
	if h.Reason == "" {
		return apperr.Invalid("reason", "Say where it comes from, in a few words: kept after cutting, came back.")
	}
	bad := wrongSize(w.d, h.Length, h.Width, "length", "width")
	if h.Length == 0 && bad == nil {
		bad = append(bad, apperr.Field{Name: "length", Why: "Give the length of the remnant, more than nothing."})
	}
	if h.Width == 0 && bad == nil {
		bad = append(bad, apperr.Field{Name: "width", Why: "Give the width of the remnant, more than nothing."})
	}
	if bad != nil {
		return apperr.InvalidFields(bad)
	}
	if a := area(h.Width, h.Length); a > p.Out {
		return apperr.Invalid("length", "That is %s, but only %s of piece %s was ever booked out. If more lies there, recount it.",
			a.Format(w.d.Unit), p.Out.Format(w.d.Unit), p.Name())
	}
	kind := PieceRemnant
	if p.Kind == PieceBorder {
		kind = PieceBorder
	}
	w.partOff(p, Out, FabricPutBack, 0, size{kind, h.Width, h.Length})
	return nil
}

// wrongSize refuses sizes that no cloth has; 0 is not said.
func wrongSize(d Drive, long, wide length.Length, longField, wideField string) []apperr.Field {
	yardage, unit := d.Yardage(), d.Unit
	longest, widest := longestPiece*yardage.Size(), widestInches*unit.Size()
	if unit.Metric() {
		widest = widestMetric * unit.Size()
	}
	var bad []apperr.Field
	refuse := func(field, format string, args ...any) {
		bad = append(bad, apperr.Field{Name: field, Why: fmt.Sprintf(format, args...)})
	}
	switch {
	case long < 0:
		refuse(longField, "A length is not less than nothing.")
	case long > longest:
		refuse(longField, "That is longer than any bolt: a piece has up to %s. Check the number and its unit.", length.Format(longest, yardage))
	}
	switch {
	case wide < 0:
		refuse(wideField, "A width is not less than nothing.")
	case wide > widest:
		refuse(wideField, "That is wider than any cloth, which has up to %s. Check the number and its unit.", length.Format(widest, unit))
	}
	return bad
}

func (w *handwork) nothingFree(p Piece) error {
	if p.Promised > 0 {
		return apperr.Conflict("All that is left of piece %s is promised to %s. Withdraw that first, or wait until it is cut.", p.Name(), w.promisedTo(p))
	}
	return apperr.Conflict("Nothing is left of piece %s. If some lies there, recount it.", p.Name())
}

// andPromised adds what of a piece is promised, where somebody may count on it.
func (w *handwork) andPromised(p Piece) string {
	if p.Promised == 0 {
		return ""
	}
	return fmt.Sprintf(" and %s promised to %s", w.yards(p.OnShelf()-p.FreeLength), w.promisedTo(p))
}

func (w *handwork) yards(l length.Length) string { return OnTape(l, w.d.Yardage()) }
