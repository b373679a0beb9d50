package postgres

import (
	"testing"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/length"
	"boltward/internal/sizing"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"
)

func TestSizesKeptExactly(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	z := addSize(t, s, "standard")
	require.Equal(t, int64(1), z.Number)
	require.Equal(t, 1, z.Version)

	got, err := s.Size(t.Context(), "spring", z.Number)
	require.NoError(t, err)
	require.Equal(t, z.Spec, got.Spec)
	require.False(t, got.Used)

	euro := addSize(t, s, "euro")
	list, err := s.Sizes(t.Context(), "spring")
	require.NoError(t, err)
	require.Len(t, list, 2)
	require.Equal(t, euro.Spec, list[1].Spec)
}

func TestCreateSizeOnce(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	z := drive.Size{Name: "standard", Spec: addSize(t, s, "travel").Spec}
	first, err := s.CreateSize(t.Context(), s.act("one"), z)
	require.NoError(t, err)
	again, err := s.CreateSize(t.Context(), s.act("one"), z)
	require.NoError(t, err)
	require.Equal(t, first.Number, again.Number)

	z.Name = "another"
	_, err = s.CreateSize(t.Context(), s.act("one"), z)
	require.True(t, apperr.Is(err, apperr.KindConflict), "the same key with another body: %v", err)
	list, err := s.Sizes(t.Context(), "spring")
	require.NoError(t, err)
	require.Len(t, list, 2)
}

func TestCreateSizeRefused(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	z := addSize(t, s, "standard")

	_, err := s.CreateSize(t.Context(), s.fresh(), drive.Size{Name: "STANDARD ", Spec: z.Spec})
	require.Equal(t, map[string]string{"name": "There is a size of this name already."}, apperr.Fields(err))

	bad := z.Spec
	bad.Width = -length.Inch
	_, err = s.CreateSize(t.Context(), s.fresh(), drive.Size{Name: " ", Spec: bad})
	require.Contains(t, apperr.Fields(err), "name")
	require.Contains(t, apperr.Fields(err), "width")
}

func TestUpdateSize(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	z := addSize(t, s, "standard")

	z.Name = "ward standard"
	z.Spec.Length += length.Inch
	changed, err := s.UpdateSize(t.Context(), s.act("change"), z)
	require.NoError(t, err)
	require.Equal(t, 2, changed.Version)
	again, err := s.UpdateSize(t.Context(), s.act("change"), z)
	require.NoError(t, err, "a repeat answers what the first answered")
	require.Equal(t, changed.Version, again.Version)
	got, err := s.Size(t.Context(), "spring", z.Number)
	require.NoError(t, err)
	require.Equal(t, "ward standard", got.Name)
	require.Equal(t, z.Spec, got.Spec)

	_, err = s.UpdateSize(t.Context(), s.fresh(), z)
	require.True(t, apperr.Is(err, apperr.KindConflict), "version 1 is stale: %v", err)
	z.Number = 77
	_, err = s.UpdateSize(t.Context(), s.fresh(), z)
	require.True(t, apperr.Is(err, apperr.KindNotFound), "no size 77: %v", err)
}

func TestUpdateSizeOfWhatStands(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	z := addSize(t, s, "standard")
	standing(t, s, 0, z.Number, drive.CaseSewn, 3)

	z.Spec.Length += length.Inch
	_, err := s.UpdateSize(t.Context(), s.fresh(), z)
	require.Contains(t, apperr.Fields(err), "width", "the measures of what was made stay: %v", err)
	z.Spec.Length -= length.Inch
	z.Name = "renamed"
	got, err := s.UpdateSize(t.Context(), s.fresh(), z)
	require.NoError(t, err)
	require.True(t, got.Used)
}

func TestRetireSize(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	a, b := addSize(t, s, "standard"), addSize(t, s, "queen")

	retired, err := s.RetireSize(t.Context(), s.act("retire"), a.Number)
	require.NoError(t, err)
	require.True(t, retired.Retired)
	same, err := s.RetireSize(t.Context(), s.fresh(), a.Number)
	require.NoError(t, err)
	require.Equal(t, retired.Version, same.Version, "retiring twice changes nothing")
	list, err := s.Sizes(t.Context(), "spring")
	require.NoError(t, err)
	require.Equal(t, []int64{b.Number, a.Number}, []int64{list[0].Number, list[1].Number}, "retired sizes come last")

	back, err := s.RestoreSize(t.Context(), s.fresh(), a.Number)
	require.NoError(t, err)
	require.False(t, back.Retired)
	_, err = s.RetireSize(t.Context(), s.fresh(), 99)
	require.True(t, apperr.Is(err, apperr.KindNotFound), "no size 99: %v", err)
}

func TestStock(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	tell(t, s, `INSERT INTO lots (drive_id, number, received_on, created_at, raw_length, raw_width, fibre, weight, print, turn, set_aside, measured_at) VALUES
			('spring', 1, '2026-10-01', now(), 1, 1, 'cotton', 'quilting', 'solid', 'along', '', now()),
			('spring', 2, '2026-10-01', now(), 1, 1, 'cotton', 'quilting', 'solid', 'either', 'smell', now())`,
		`INSERT INTO pieces (drive_id, lot, piece, kind, width) VALUES ('spring', 1, 1, 'whole', 40), ('spring', 1, 2, 'whole', 30), ('spring', 2, 1, 'whole', 40)`)
	err := pgx.BeginFunc(t.Context(), s.db.Pool, func(tx pgx.Tx) error {
		return writeFabric(t.Context(), tx, s.fresh(), []drive.FabricEntry{
			{Lot: 1, Piece: 1, Kind: drive.FabricMeasured, From: drive.Outside, To: drive.Free, Length: 10, Area: 400},
			{Lot: 2, Piece: 1, Kind: drive.FabricMeasured, From: drive.Outside, To: drive.Free, Length: 10, Area: 400},
		})
	})
	require.NoError(t, err)
	stock, err := s.Stock(t.Context(), "spring")
	require.NoError(t, err)
	require.Equal(t, []sizing.Cloth{{Width: 40, Length: 10, Turn: sizing.Along}}, stock, "neither what is used up nor what is set aside")
}

func TestSizesOfAnotherDrive(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	startDriveAs(t, s, "autumn")
	z := addSize(t, s, "standard")

	list, err := s.Sizes(t.Context(), "autumn")
	require.NoError(t, err)
	require.Empty(t, list)
	_, err = s.Size(t.Context(), "autumn", z.Number)
	require.True(t, apperr.Is(err, apperr.KindNotFound), "%v", err)
	_, err = s.UpdateSize(t.Context(), s.actIn("autumn", "theirs"), z)
	require.True(t, apperr.Is(err, apperr.KindNotFound), "%v", err)
	_, err = s.RetireSize(t.Context(), s.actIn("autumn", "theirs-too"), z.Number)
	require.True(t, apperr.Is(err, apperr.KindNotFound), "%v", err)
}
