package postgres

import (
	"strings"
	"testing"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/stretchr/testify/require"
)

func TestPhotoOfALot(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	startDriveAs(t, s, "autumn")
	hash, err := s.KeepPhoto(t.Context(), "spring", Photo{Full: []byte("full"), Small: []byte("small"), Width: 4, Height: 3})
	require.NoError(t, err)
	again, err := s.KeepPhoto(t.Context(), "spring", Photo{Full: []byte("full"), Small: []byte("small"), Width: 4, Height: 3})
	require.NoError(t, err)
	require.Equal(t, hash, again, "the same photo is kept once")
	here, err := s.PhotoWaits(t.Context(), "spring", hash)
	require.NoError(t, err)
	require.True(t, here)

	_, err = s.TagLots(t.Context(), s.fresh(), []drive.Tagging{{Pieces: 1, ReceivedOn: dayIn(0), Photo: hash}, {Pieces: 1, ReceivedOn: dayIn(0)}})
	require.NoError(t, err)
	full, err := s.LotPhoto(t.Context(), "spring", 1, false)
	require.NoError(t, err)
	require.Equal(t, "full", string(full))
	small, err := s.LotPhoto(t.Context(), "spring", 1, true)
	require.NoError(t, err)
	require.Equal(t, "small", string(small))
	_, err = s.LotPhoto(t.Context(), "spring", 2, true)
	require.True(t, apperr.Is(err, apperr.KindNotFound), "%v", err)

	unknown := strings.Repeat("ab", 32)
	_, err = s.TagLots(t.Context(), s.fresh(), []drive.Tagging{{Pieces: 1, ReceivedOn: dayIn(0), Photo: unknown}})
	require.Contains(t, apperr.Fields(err)["photo"], "not here any more")
	_, err = s.SetLotPhoto(t.Context(), s.fresh(), 2, unknown)
	require.Contains(t, apperr.Fields(err)["photo"], "not here any more")
	act := s.fresh()
	act.Drive = "autumn"
	_, err = s.TagLots(t.Context(), act, []drive.Tagging{{Pieces: 1, ReceivedOn: dayIn(0), Photo: hash}})
	require.NotNil(t, apperr.Fields(err)["photo"], "another drive's photo")

	s.clock.forward(PhotoKept + time.Minute)
	n, err := s.ForgetPhotos(t.Context())
	require.NoError(t, err)
	require.Zero(t, n, "a lot has it")
	_, err = s.SetLotPhoto(t.Context(), s.fresh(), 1, "")
	require.NoError(t, err)
	n, err = s.ForgetPhotos(t.Context())
	require.NoError(t, err)
	require.EqualValues(t, 1, n)
	here, err = s.PhotoWaits(t.Context(), "spring", hash)
	require.NoError(t, err)
	require.False(t, here)
}
