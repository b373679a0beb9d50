package postgres

import (
	"testing"
	"time"

	"boltward/internal/drive"

	"github.com/stretchr/testify/require"
)

// The flow is looked at for some months; of what was before it says who had kits then.
func TestFlowTellsWhoHadKitsBefore(t *testing.T) {
	s := newStore(t)
	startDrive(t, s)
	z := addSize(t, s, "standard")
	mary, bo := addPerson(t, s, "Mary Ellis"), addPerson(t, s, "Bo Lund")
	ownKits(t, s, z, 1, 4, mary, nil)
	flow, err := s.Flow(t.Context(), "spring", dayIn(drive.FlowDays-1))
	require.NoError(t, err)
	require.Len(t, flow.Held, 1)
	require.Empty(t, flow.Before)

	s.clock.forward((drive.FlowDays + 10) * 24 * time.Hour)
	ownKits(t, s, z, 1, 4, bo, nil)
	flow, err = s.Flow(t.Context(), "spring", dayIn(drive.FlowDays+10))
	require.NoError(t, err)
	require.Len(t, flow.Held, 1)
	require.Equal(t, bo, flow.Held[0].Who)
	require.Equal(t, []int64{mary}, flow.Before)
}
