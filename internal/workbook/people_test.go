package workbook

import (
	"bytes"
	"testing"
	"time"

	"boltward/internal/drive"
	"boltward/internal/length"

	"github.com/stretchr/testify/require"
)

// What is exported can be brought in again as it was.
func TestPeopleGoOutAndComeIn(t *testing.T) {
	pace, day := 4, time.Date(2026, 10, 1, 0, 0, 0, 0, time.UTC)
	want := []PersonLine{
		{Person: drive.Person{
			Number: 7, Kind: drive.PersonSchool, Name: "Hill School", Heads: 24, Pickup: "library", Overlocker: true, Note: "=SUM(1)", Active: true,
			Language: "Polish", Smoke: drive.DeclaredNo, Pets: drive.DeclaredYes,
		}, Contacts: drive.Contacts{Contact: "Ms Fenn", Email: "office@hill.example", Phone: "555 0101", Address: "1 Hill Rd", AgreedOn: &day}, Minutes: 150},
		{Person: drive.Person{Number: 8, Kind: drive.PersonVolunteer, Name: "Bo Lund", Heads: 1, FrenchSeam: true, Beginner: true, Pace: &pace, Active: true}, Kits: 2, Cases: 8, Done: 12, Minutes: 60},
	}
	var file bytes.Buffer
	require.NoError(t, WritePeople(&file, want, true))
	require.Contains(t, file.String(), "2.50")
	book, err := Open(file.Bytes())
	require.NoError(t, err)
	terms := Terms{Today: day, Drive: drive.NewDrive("spring", "Spring", "Europe/Dublin", length.In)}
	read, err := book.people(terms)
	require.NoError(t, err)
	require.Equal(t, 2, len(read.Rows))
	for i, row := range read.Rows {
		require.Empty(t, row.Faults)
		p := want[i].Person
		p.Number, p.Active = 0, false
		got := row.Value.Person
		require.Equal(t, p, got)
		require.Equal(t, want[i].Contacts, row.Value.Contacts)
	}
	file.Reset()
	require.NoError(t, WritePeople(&file, want, false))
	require.NotContains(t, file.String(), "Fenn")
}
