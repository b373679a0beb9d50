package workbook

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/length"
)

func TestTally(t *testing.T) {
	d, today := spring()
	rows := Tally([]TallyRow{
		{1, map[string]string{"donor": "Orla", "pieces": "2"}},
		{3, map[string]string{"tag": "17", "length": "2 1/2", "width": "44", "print": "F", "fibre": "cotton", "washed": "y", "flaws": "30 to 33", "shelf": "B2"}},
		{4, map[string]string{"length": "18 x 22", "print": "plain"}},
		{7, map[string]string{"length": "some", "width": "44", "pieces": "many", "print": "spotted", "turn": "crooked", "flaws": "a stain"}},
	}, Terms{Drive: d, Today: today})
	require.Len(t, rows, 4)
	require.Equal(t, 2, rows[0].Value.Pieces)
	require.Nil(t, rows[0].Value.Measured, "it waits to be measured")
	m := rows[1].Value.Measured
	require.Equal(t, drive.PrintFeature, m.Print)
	require.True(t, m.Washed)
	require.Equal(t, 90*in, m.Cuts[0].Length)
	require.Equal(t, 30*in, m.Cuts[0].Flaws[0].From)
	require.Equal(t, drive.PrintSolid, rows[2].Value.Measured.Print)
	require.Equal(t, 22*in, rows[2].Value.Measured.Cuts[0].UsableWidth)
	columns := map[string]bool{}
	for _, f := range rows[3].Faults {
		columns[f.Column] = true
	}
	require.Equal(t, map[string]bool{"length": true, "pieces": true, "print": true, "turn": true, "flaws": true}, columns)

	fates, decided := drive.JudgeTally(d, today, rows[:3], map[string]drive.Lot{}, nil)
	require.NoError(t, drive.TallyProblems(fates))
	require.Len(t, decided, 3)
}

func TestJudgeTallyAgainstTags(t *testing.T) {
	d, today := spring()
	long := 90 * in
	orla := int64(5)
	lots := map[string]drive.Lot{
		"17": {Number: 3, Donor: &orla, Version: 1},
		"18": {Number: 4, MeasuredAt: &today, RawLength: &long, RawWidth: &long},
	}
	size := map[string]string{"length": "2", "width": "44", "print": "s"}
	with := func(pairs ...string) map[string]string {
		row := map[string]string{}
		for k, v := range size {
			row[k] = v
		}
		for i := 0; i < len(pairs); i += 2 {
			row[pairs[i]] = pairs[i+1]
		}
		return row
	}
	rows := Tally([]TallyRow{
		{1, with("tag", "17", "shelf", "C1", "donor", "orla")},
		{2, with("tag", "18")},
		{3, map[string]string{"tag": "17"}},
		{4, with("tag", "19")},
		{5, with("tag", "19")},
	}, Terms{Drive: d, Today: today})
	fates, decided := drive.JudgeTally(d, today, rows, lots, map[int64]string{5: "Orla"})
	problems := apperr.Fields(drive.TallyProblems(fates))
	require.Contains(t, problems["row2_tag"], "measured already")
	require.Contains(t, problems["row3_tag"], "stands in row 1")
	require.Contains(t, problems["row5_tag"], "stands in row 4")
	require.Len(t, decided, 2)
	require.EqualValues(t, 3, decided[0].Old.Number, "the lot that waits is measured")
	require.Equal(t, "C1", *decided[0].Measured.Shelf)

	rows = Tally([]TallyRow{{1, with("tag", "17", "donor", "Pim")}, {2, map[string]string{"tag": "17", "pieces": "1"}}}, Terms{Drive: d, Today: today})
	fates, _ = drive.JudgeTally(d, today, rows[:1], lots, map[int64]string{5: "Orla"})
	require.Contains(t, apperr.Fields(drive.TallyProblems(fates))["row1_donor"], "given by Orla")
	fates, _ = drive.JudgeTally(d, today, rows[1:], lots, map[int64]string{5: "Orla"})
	require.Contains(t, apperr.Fields(drive.TallyProblems(fates))["row2_tag"], "Give its size")
}

func TestPasted(t *testing.T) {
	for _, tt := range []struct {
		text string
		want []map[string]string
	}{
		{"", nil},
		{" \n\t\n", nil},
		{"17\tOrla\t2\n\n18\tPim\t1\r\n", []map[string]string{{"tag": "17", "donor": "Orla", "pieces": "2"}, {"tag": "18", "donor": "Pim", "pieces": "1"}}},
		{"Yardage\tWidth\tGiven by\n2 1/2\t44\"\tOrla", []map[string]string{{"length": "2 1/2", "width": `44"`, "donor": "Orla"}}},
		{"\"two\nlines\"\tOrla", []map[string]string{{"tag": "two lines", "donor": "Orla"}}},
		{"\"say \"\"so\"\"\"\tOrla", []map[string]string{{"tag": `say "so"`, "donor": "Orla"}}},
		{`44"` + "\t" + `60"`, []map[string]string{{"tag": `44"`, "donor": `60"`}}},
		{"דגים\t🐳", []map[string]string{{"tag": "דגים", "donor": "🐳"}}},
	} {
		got, err := Pasted(tt.text)
		require.NoError(t, err, "Pasted(%q)", tt.text)
		require.Equal(t, tt.want, got, "Pasted(%q)", tt.text)
	}
	for text, says := range map[string]string{
		"a\xff":                            "no text",
		strings.Repeat("17\t\n", 61):       "61 rows",
		"Tag\tGiven by\tPrice\n1\tOrla\t3": "no such column",
		strings.Repeat("a\t", 20) + "b":    "no such column",
	} {
		_, err := Pasted(text)
		require.Contains(t, apperr.Fields(err)["paste"], says, "Pasted(%q)", text)
	}
}

// Whatever is pasted is taken apart without loss or refused, and what is read of it
// stands up to being judged.
func FuzzPasted(f *testing.F) {
	f.Add("17\tOrla\t2\n18\tPim\t1")
	f.Add("Yardage\tWidth\n2 1/2\t44\"")
	f.Add("\"a\"\"b\nc\"\t\"")
	f.Fuzz(func(t *testing.T, text string) {
		rows, err := Pasted(text)
		if err != nil {
			require.NotEmpty(t, apperr.Fields(err)["paste"])
			return
		}
		d, today := spring()
		var tally []TallyRow
		for i, cells := range rows {
			tally = append(tally, TallyRow{i + 1, cells})
		}
		_, decided := drive.JudgeTally(d, today, Tally(tally, Terms{Drive: d, Today: today}), nil, nil)
		for _, one := range decided {
			if one.Measured == nil {
				continue
			}
			out, err := drive.Measure(d, drive.Lot{Number: 1}, *one.Measured, 1)
			require.NoError(t, err, "what is judged good can be measured")
			for i, p := range out.Pieces {
				require.True(t, p.Width > 0 && out.Lengths[i] >= length.Length(0))
			}
		}
	})
}
