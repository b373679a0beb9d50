package postgres

import (
	"fmt"
	"sync"
	"testing"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/length"

	"github.com/stretchr/testify/require"
)

// aLabelPaper is a sheet of 3 × 4 labels; version 1 goes with number 1.
func aLabelPaper(number int64) drive.LabelPaper {
	mm := length.Millimetre
	return drive.LabelPaper{
		Number: number, Version: int(number), Name: "Sheet of twelve", PaperWidth: 210 * mm, PaperHeight: 297 * mm, Left: 5 * mm, Top: 8 * mm,
		LabelWidth: 64 * mm, LabelHeight: 60 * mm, Columns: 3, Rows: 4, GapAcross: 2 * mm, GapDown: 3 * mm,
	}
}

func TestLabelPapersAreKeptUnderTheirName(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	kept, err := s.CreateLabelPaper(t.Context(), s.fresh(), aLabelPaper(0), length.CM)
	require.NoError(t, err)
	require.Equal(t, aLabelPaper(1), kept)
	_, err = s.CreateLabelPaper(t.Context(), s.fresh(), aLabelPaper(0), length.CM)
	require.Contains(t, apperr.Fields(err), "name", "a name is given once")
	wrong := kept
	wrong.Columns = 4
	_, err = s.UpdateLabelPaper(t.Context(), s.fresh(), wrong, length.CM)
	require.Contains(t, apperr.Fields(err), "columns")

	kept.Rows = 3
	after, err := s.UpdateLabelPaper(t.Context(), s.fresh(), kept, length.CM)
	require.NoError(t, err)
	_, err = s.UpdateLabelPaper(t.Context(), s.fresh(), kept, length.CM)
	require.True(t, apperr.Is(err, apperr.KindConflict), "a stale edit: %v", err)
	found, err := s.LabelPaper(t.Context(), "spring", 1)
	require.NoError(t, err)
	require.Equal(t, after, found)

	_, err = s.RetireLabelPaper(t.Context(), s.fresh(), 1)
	require.NoError(t, err)
	list, err := s.LabelPapers(t.Context(), "spring")
	require.NoError(t, err)
	require.Empty(t, list)
	_, err = s.RestoreLabelPaper(t.Context(), s.fresh(), 1)
	require.NoError(t, err)
	list, err = s.LabelPapers(t.Context(), "spring")
	require.NoError(t, err)
	require.Len(t, list, 1)
}

func TestLabelsThatAreDue(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	tagged(t, s, "Mary Ellis", 3)
	tagged(t, s, "", 1)
	due := func() LabelCounts {
		counts, err := s.LabelsDue(t.Context(), "spring")
		require.NoError(t, err)
		return counts
	}
	wish := func(which drive.LabelWhich) drive.LabelWish {
		return drive.LabelWish{Which: which, Day: dayIn(0), Start: 11, Paper: aLabelPaper(1)}
	}
	require.Equal(t, LabelCounts{Missing: 2, Shelf: 2}, due())

	each := wish(drive.LabelsMissing)
	each.Each = true
	number, err := s.PrintLabels(t.Context(), s.fresh(), each)
	require.NoError(t, err)
	require.Equal(t, LabelCounts{Shelf: 2}, due())
	p, items, err := s.LabelPrint(t.Context(), "spring", number)
	require.NoError(t, err)
	require.Len(t, items, 4, "one for each of three pieces, and one")
	require.Equal(t, []int{4, 3}, []int{p.Labels, p.After()}, "labels 11, 12, then 1 and 2 of the next sheet")
	require.Equal(t, []int{2, 3}, []int{items[1].Copy, items[1].Copies})

	_, err = s.PrintLabels(t.Context(), s.fresh(), wish(drive.LabelsMissing))
	require.Contains(t, apperr.Fields(err), "which", "none is left")
	for _, which := range []drive.LabelWhich{drive.LabelsOfDay, drive.LabelsShelf} {
		again, err := s.Labels(t.Context(), "spring", wish(which))
		require.NoError(t, err, "what has its label is printed again: %s", which)
		require.Len(t, again, 2)
	}

	s.clock.forward(3600e9)
	_, err = s.MeasureLot(t.Context(), s.fresh(), 1, 1, cotton(3, 100*inch))
	require.NoError(t, err)
	require.Equal(t, LabelCounts{Since: 1, Shelf: 2}, due(), "its label does not say its size yet")
	_, err = s.HandleCloth(t.Context(), s.fresh(), 1, 0, drive.Handling{Kind: drive.DeedParted, Piece: 1, Length: 36 * inch})
	require.NoError(t, err)
	require.Equal(t, LabelCounts{Missing: 1, Since: 1, Shelf: 3}, due(), "what is parted off gets a label of its own")

	_, err = s.UndoLabelPrint(t.Context(), s.fresh(), number)
	require.NoError(t, err)
	require.Equal(t, LabelCounts{Missing: 3, Shelf: 3}, due(), "they came out wrong")
	_, err = s.UndoLabelPrint(t.Context(), s.fresh(), number)
	require.True(t, apperr.Is(err, apperr.KindConflict), "%v", err)
}

func TestLabelsThatAreNotThere(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	tagged(t, s, "", 1)
	for _, tt := range []struct {
		wish  drive.LabelWish
		field string
	}{
		{drive.LabelWish{Which: drive.LabelsNamed, Named: []drive.LabelOf{{Lot: 9}}, Start: 1}, "lots"},
		{drive.LabelWish{Which: drive.LabelsNamed, Named: []drive.LabelOf{{Lot: 1, Piece: 2}}, Start: 1}, "lots"},
		{drive.LabelWish{Which: drive.LabelsNamed, Start: 1}, "lots"},
		{drive.LabelWish{Which: drive.LabelsOfDay, Day: dayIn(-9), Start: 1}, "day"},
		{drive.LabelWish{Which: drive.LabelsSince, Start: 1}, "which"},
		{drive.LabelWish{Which: "zephyr", Start: 1}, "which"},
		{drive.LabelWish{Which: drive.LabelsMissing, Start: 13}, "start"},
	} {
		tt.wish.Paper = aLabelPaper(1)
		_, err := s.Labels(t.Context(), "spring", tt.wish)
		require.Contains(t, apperr.Fields(err), tt.field, "%+v", tt.wish)
		_, err = s.PrintLabels(t.Context(), s.fresh(), tt.wish)
		require.Contains(t, apperr.Fields(err), tt.field, "%+v", tt.wish)
	}
	prints, err := s.LabelPrints(t.Context(), "spring", 5)
	require.NoError(t, err)
	require.Empty(t, prints, "what is refused is not noted")
}

// Several who print what has no label at once: each lot gets one.
func TestLabelsMissingArePrintedOnce(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	for range 5 {
		tagged(t, s, "", 1)
	}
	var wait sync.WaitGroup
	errs := make([]error, 8)
	for i := range errs {
		act := s.act(fmt.Sprintf("desk-%d", i))
		wait.Go(func() {
			_, errs[i] = s.PrintLabels(t.Context(), act, drive.LabelWish{Which: drive.LabelsMissing, Start: 1, Paper: aLabelPaper(1)})
		})
	}
	wait.Wait()
	printed := 0
	for _, err := range errs {
		if err == nil {
			printed++
			continue
		}
		require.Contains(t, apperr.Fields(err), "which", "%v", err)
	}
	require.Equal(t, 1, printed)
}
