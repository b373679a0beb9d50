package drive

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// A new recipient may be called by a number, which is no other recipient's number.
func TestARecipientCalledByANumber(t *testing.T) {
	ward := Recipient{Number: 7, Kind: RecipientWard, Name: "Ward 4"}
	line := Asked{Recipient: 7, Sizes: []int64{1}, Wanted: 40, Matter: MatterMust}
	rows := []Incoming[AskedIn]{}
	for i, name := range []string{"7", "Ward 4"} {
		rows = append(rows, Incoming[AskedIn]{Line: i + 2, Value: AskedIn{
			Recipient: Recipient{Kind: RecipientWard, Name: name}, SizeNames: []string{"standard"}, Line: Asked{Wanted: 40, Matter: MatterMust},
		}})
	}
	fates, take := JudgeAsked(time.Date(2026, 10, 3, 0, 0, 0, 0, time.UTC), rows,
		AskedHere{Recipients: []Recipient{ward}, Lines: []Asked{line}, Sizes: map[string]int64{"standard": 1}})
	require.Equal(t, []Fate{FateTaken, FateUnchanged}, []Fate{fates[0].Fate, fates[1].Fate}, "%v", fates)
	require.Len(t, take, 1)
	require.Zero(t, take[0].Known)
}
