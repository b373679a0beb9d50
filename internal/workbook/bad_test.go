package workbook

import (
	"fmt"
	"strings"
	"testing"

	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/stretchr/testify/require"
)

// What real files hold that no list should: each is told in words, at its line and
// column, and the lines beside it are not touched by it.
func TestOddRows(t *testing.T) {
	d, today := spring()
	theme := strings.Repeat("moon-and-stars ", 20) // 300 characters
	file := "Code,Yardage,Width,Given by,Themes,Notes\n" +
		"T1,2 yd,44," + "Orla," + theme + ",\n" +
		"T2,2 yd,44,🧵 Käthe 🧵,🚀 rockets,\n" +
		"T3,2 yd,44,\u202eשלום\u202c,כוכבים,right to left\n" +
		",,,,,\n" +
		"T4,2 yd,44,Orla\x00\x07,space,a\x0bb\n" +
		"T5,2.5,44,Orla,,point\n" +
		"T6,\"2,5\",44,Orla,,comma\n" +
		"T7,\"1,250\",44,Orla,,either\n" +
		"T8,=1+1,44,Orla,,a formula\n" +
		"T9,2 yd,44,Orla,,=cmd|' /C calc'!A0\n" +
		"T1,1 yd,44,Orla,,the code again\n"
	got, err := Read(drive.BringFabric, []byte(strings.ReplaceAll(file, "\x00", "")), Terms{Drive: d, Today: today})
	require.NoError(t, err)
	fates, _ := drive.JudgeFabric(d, today, got.Fabric, nil, nil)
	told := map[int]string{}
	for _, f := range fates {
		for _, fault := range f.Faults {
			told[f.Line] += fault.Column + ": " + fault.Why
		}
	}
	require.Len(t, told, 4, "%v", told)
	require.Contains(t, told[2], "Themes: ")
	require.Contains(t, told[9], "can mean 1250 or 1.250")
	require.Contains(t, told[10], `"=1+1"`)
	require.Contains(t, told[12], "stands on line 2 already")
	require.Equal(t, "🧵 Käthe 🧵", got.Fabric[1].Value.Donor)
	require.Equal(t, "שלום", got.Fabric[2].Value.Donor, "marks that turn the writing of a page are gone")
	require.Equal(t, []string{"כוכבים"}, got.Fabric[2].Value.Measured.Themes)
	require.Equal(t, "Orla", got.Fabric[3].Value.Donor)
	require.Equal(t, "ab", got.Fabric[3].Value.Note)
	require.Equal(t, 6, got.Fabric[3].Line, "empty lines count")
	require.Equal(t, got.Fabric[4].Value.Measured.Cuts[0].Length, got.Fabric[5].Value.Measured.Cuts[0].Length, "point and comma in one column")
}

func TestFiftyThousandRows(t *testing.T) {
	d, today := spring()
	rows := func(n int) []byte {
		var text strings.Builder
		text.WriteString("Name\n")
		for i := range n {
			fmt.Fprintf(&text, "Donor %d\n", i)
		}
		return []byte(text.String())
	}
	got, err := Read(drive.BringDonors, rows(MaxLines), Terms{Drive: d, Today: today})
	require.NoError(t, err)
	require.Len(t, got.Donors, MaxLines)
	_, err = Read(drive.BringDonors, rows(MaxLines+1), Terms{Drive: d, Today: today})
	require.Contains(t, apperr.Fields(err)["file"], "There are more than 50,000 lines")
	sheet := `<worksheet><sheetData><row><c t="str"><v>Name</v></c></row>` + strings.Repeat(`<row><c t="str"><v>Orla</v></c></row>`, MaxLines+1) + `</sheetData></worksheet>`
	_, err = Read(drive.BringDonors, packed(t, parts(sheet, noTexts)), Terms{Drive: d, Today: today})
	require.Contains(t, apperr.Fields(err)["file"], "There are more than 50,000 lines")
}

func TestHalfWrittenText(t *testing.T) {
	for name, text := range map[string]string{
		"in the middle of a letter": "Code,Given by\nX1,K\xc3\xa4the M\xc3",
		"in the middle of an emoji": "Code,Given by\nX1,K\xc3\xa4the \xf0\x9f\xa7",
	} {
		_, err := Open([]byte(text))
		require.Contains(t, apperr.Fields(err)["file"], "breaks off in the middle of a letter", name)
	}
	require.Equal(t, [][]string{{"Code", "Given by"}, {"X1", "Käthe Mä"}}, cells(t, "Code,Given by\nX1,K\xe4the M\xe4"), "Windows-1252 that ends with such a byte")
}
