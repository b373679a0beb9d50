package drive

import (
	"strings"
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

// A phone types the curly apostrophe and a spreadsheet the straight one: that is one ward. Who is new is
// said to be, for a name that is written otherwise makes another recipient.
func TestARecipientIsOneWhicheverApostrophe(t *testing.T) {
	ward := Recipient{Number: 1, Kind: RecipientWard, Name: "Puffin children’s ward"}.Tidy()
	row := func(line int, name string, wanted int) Incoming[AskedIn] {
		return Incoming[AskedIn]{Line: line, Value: AskedIn{
			Recipient: Recipient{Kind: RecipientWard, Name: name}, SizeNames: []string{"standard"}, Line: Asked{Wanted: wanted, Matter: MatterMust, ThemesWanted: []string{strings.Repeat("x", line)}},
		}}
	}
	fates, take := JudgeAsked(time.Date(2026, 10, 3, 0, 0, 0, 0, time.UTC),
		[]Incoming[AskedIn]{row(2, "Puffin children's ward", 40), row(3, "Puffin  children’s ward", 41), row(4, "Puffin ward", 42), row(5, "puffin ward", 43)},
		AskedHere{Recipients: []Recipient{ward}, Sizes: map[string]int64{"standard": 1}})
	require.Len(t, take, 4)
	require.Equal(t, []int64{1, 1, 0, 0}, []int64{take[0].Known, take[1].Known, take[2].Known, take[3].Known})
	require.Empty(t, fates[0].Notes)
	require.Equal(t, []string{"Puffin ward is not here yet and comes as a new recipient."}, fates[2].Notes)
	require.Empty(t, fates[3].Notes)
}
