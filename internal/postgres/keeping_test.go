package postgres

import (
	"testing"

	"github.com/stretchr/testify/require"

	"boltward/internal/drive"
)

// Whom somebody dealt with a little while ago is of use, whatever they last did.
func TestWhoWasDealtWithIsOfUse(t *testing.T) {
	s, person := somebodyWhoSews(t)
	_, err := s.TakeBack(t.Context(), s.fresh(), drive.KitRef{Number: 1, Part: 1}, drive.KitReturn{Sewn: 1, RestUnsewn: true}, dayIn(0))
	require.NoError(t, err)
	donor, err := s.CreateDonor(t.Context(), s.fresh(), drive.Donor{Name: "Wool & Co"}, nil)
	require.NoError(t, err)
	months := 12
	_, err = s.UpdateKeeping(t.Context(), s.fresh(), drive.Keeping{People: &months, Donors: &months})
	require.NoError(t, err)
	s.clock.now = s.clock.now.AddDate(0, 11, 0)
	_, err = s.PersonLink(t.Context(), s.fresh(), person, true)
	require.NoError(t, err)
	d, err := s.Donor(t.Context(), "spring", donor.Number)
	require.NoError(t, err)
	d.Letter = true
	_, err = s.UpdateDonor(t.Context(), s.fresh(), d, nil)
	require.NoError(t, err)
	edited := s.clock.now

	s.clock.now = s.clock.now.AddDate(0, 2, 0)
	past, err := s.PastKeeping(t.Context(), "spring", drive.Keeping{People: &months, Donors: &months})
	require.NoError(t, err)
	for _, f := range append(past.People, past.Donors...) {
		require.NotContains(t, []string{zephyr, "Wool & Co"}, f.Name)
	}
	s.clock.now = edited.AddDate(0, 12, 1)
	past, err = s.PastKeeping(t.Context(), "spring", drive.Keeping{People: &months, Donors: &months})
	require.NoError(t, err)
	require.NotEmpty(t, past.People)
	require.NotEmpty(t, past.Donors)
}

// What was written of a delivery that nobody answered, and of a box that never left, is past
// its time too; and what cannot be forgotten holds up nothing else.
func TestNothingHoldsUpForgetting(t *testing.T) {
	s, a := wardOf(t, 60)
	number, box := onTheWay(t, s, a, 5)
	addPerson(t, s, "Mary Ellis")
	_, err := s.db.Owner().Exec(t.Context(), `UPDATE deliveries SET carried_by = 'Ann Zephyr'`)
	require.NoError(t, err)
	_, err = s.db.Owner().Exec(t.Context(), `INSERT INTO boxes (drive_id, number, recipient, created_at) SELECT drive_id, 900, recipient, created_at FROM boxes WHERE number = $1`, box)
	require.NoError(t, err)
	_, err = s.db.Owner().Exec(t.Context(), `INSERT INTO box_rules (drive_id, box, line, rule, kept, why)
		SELECT 'spring', n, 90, 'no buttons', false, 'Zephyr said so' FROM unnest(ARRAY[900, $1::bigint]) n`, box)
	require.NoError(t, err)
	_, err = s.db.Owner().Exec(t.Context(), `CREATE FUNCTION never() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN RAISE EXCEPTION 'the disk is full'; END $$;
		CREATE TRIGGER never BEFORE UPDATE ON people FOR EACH ROW EXECUTE FUNCTION never()`)
	require.NoError(t, err)
	months := 12
	_, err = s.UpdateKeeping(t.Context(), s.fresh(), drive.Keeping{People: &months, Writing: &months})
	require.NoError(t, err)
	s.clock.now = s.clock.now.AddDate(0, 13, 0)
	past, err := s.PastKeeping(t.Context(), "spring", drive.Keeping{Writing: &months})
	require.NoError(t, err)
	require.Equal(t, []int64{number}, past.Deliveries)
	require.Equal(t, 1, past.Notes)
	gone, err := s.ForgetPast(t.Context())
	require.ErrorContains(t, err, "the disk is full")
	require.Equal(t, 2, gone, "the delivery and the box went all the same")
	require.Empty(t, rowsWith(t, s, "zephyr"))
	past, err = s.PastKeeping(t.Context(), "spring", drive.Keeping{Writing: &months})
	require.NoError(t, err)
	require.True(t, past.Empty(), "%+v", past)
}
