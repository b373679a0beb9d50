package postgres

import (
	"testing"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/stretchr/testify/require"
)

func TestUploads(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	startDriveAs(t, s, "other")
	file := []byte("Code\nA\n")
	number, err := s.KeepUpload(t.Context(), s.act("keep"), drive.BringFabric, "drop-off.csv", file)
	require.NoError(t, err)
	again, err := s.KeepUpload(t.Context(), s.act("keep"), drive.BringFabric, "drop-off.csv", file)
	require.NoError(t, err)
	require.Equal(t, number, again, "the same form sent twice keeps it once")
	kept, err := s.Upload(t.Context(), "spring", number)
	require.NoError(t, err)
	require.Equal(t, file, kept.Content)
	_, err = s.Upload(t.Context(), "other", number)
	require.True(t, apperr.Is(err, apperr.KindNotFound), "%v", err)

	second, err := s.KeepUpload(t.Context(), s.fresh(), drive.BringPeople, "people.csv", file)
	require.NoError(t, err)
	require.NoError(t, s.DropUpload(t.Context(), s.fresh(), second))
	require.NoError(t, s.DropUpload(t.Context(), s.fresh(), second))
	_, err = s.Upload(t.Context(), "spring", second)
	require.True(t, apperr.Is(err, apperr.KindNotFound), "%v", err)

	s.clock.forward(UploadKept + time.Minute)
	_, err = s.Upload(t.Context(), "spring", number)
	require.True(t, apperr.Is(err, apperr.KindNotFound), "%v", err)
	gone, err := s.ForgetUploads(t.Context())
	require.NoError(t, err)
	require.EqualValues(t, 1, gone)
}
