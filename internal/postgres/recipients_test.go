package postgres

import (
	"testing"

	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/stretchr/testify/require"
)

func wardFour() drive.Recipient {
	return drive.Recipient{
		Kind: drive.RecipientWard, Name: "  Ward   4 ", Ages: "3 to 12", Contact: "Sister Quill", Email: "ward4@example.org", Phone: "555 0104",
		Address: "2 Elm Road", Fibres: []string{"Cotton", "cotton", ""}, Rules: []string{"Washed hot", "no  fragrance"}, Note: "ring first",
	}
}

func TestRecipientsKept(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	r, err := s.CreateRecipient(t.Context(), s.act("ward"), wardFour())
	require.NoError(t, err)
	require.Equal(t, "Ward 4", r.Name)
	require.Equal(t, []string{"cotton"}, r.Fibres)
	require.Equal(t, []string{"Washed hot", "no fragrance"}, r.Rules)
	again, err := s.CreateRecipient(t.Context(), s.act("ward"), wardFour())
	require.NoError(t, err)
	require.Equal(t, r.Number, again.Number)

	got, err := s.Recipient(t.Context(), "spring", r.Number)
	require.NoError(t, err)
	got.CreatedAt = r.CreatedAt
	require.Equal(t, r, got)

	addRecipient(t, s, "Harbour shelter")
	list, err := s.Recipients(t.Context(), "spring")
	require.NoError(t, err)
	require.Len(t, list, 2)
	require.Equal(t, "Harbour shelter", list[0].Name, "by name")
}

func TestCreateRecipientRefused(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	addRecipient(t, s, "Ward 4")
	_, err := s.CreateRecipient(t.Context(), s.fresh(), drive.Recipient{Kind: drive.RecipientHospice, Name: "ward 4"})
	require.Equal(t, map[string]string{"name": "There is a recipient of this name already."}, apperr.Fields(err))

	_, err = s.CreateRecipient(t.Context(), s.fresh(), drive.Recipient{Kind: "castle", Email: "nobody", Fibres: []string{"asbestos"}})
	require.Subset(t, keys(apperr.Fields(err)), []string{"name", "kind", "email", "fibres"})
}

func TestUpdateRecipient(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	r, err := s.CreateRecipient(t.Context(), s.fresh(), wardFour())
	require.NoError(t, err)

	changed := r
	changed.Phone, changed.Rules = "555 0199", nil
	got, err := s.UpdateRecipient(t.Context(), s.act("phone"), changed)
	require.NoError(t, err)
	require.Equal(t, 2, got.Version)
	again, err := s.UpdateRecipient(t.Context(), s.act("phone"), changed)
	require.NoError(t, err)
	require.Equal(t, 2, again.Version)
	_, err = s.UpdateRecipient(t.Context(), s.fresh(), r)
	require.True(t, apperr.Is(err, apperr.KindConflict), "version 1 is stale: %v", err)

	other := addRecipient(t, s, "Hospice")
	other.Name = "WARD 4"
	_, err = s.UpdateRecipient(t.Context(), s.fresh(), other)
	require.Contains(t, apperr.Fields(err), "name")

	var text string
	const q = `SELECT changes::text FROM audit WHERE drive_id = 'spring' AND act = 'recipient changed'`
	require.NoError(t, s.db.Pool.QueryRow(t.Context(), q).Scan(&text))
	require.Contains(t, text, `"phone": {"to": "changed"}`)
	require.NotContains(t, text, "555", "the trail names no phone")
}

func TestRecipientOfAnotherDrive(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	startDriveAs(t, s, "autumn")
	r := addRecipient(t, s, "Ward 4")
	_, err := s.Recipient(t.Context(), "autumn", r.Number)
	require.True(t, apperr.Is(err, apperr.KindNotFound), "%v", err)
	_, err = s.UpdateRecipient(t.Context(), s.actIn("autumn", "theirs"), r)
	require.True(t, apperr.Is(err, apperr.KindNotFound), "%v", err)
}

func keys(m map[string]string) []string {
	list := make([]string, 0, len(m))
	for k := range m {
		list = append(list, k)
	}
	return list
}
