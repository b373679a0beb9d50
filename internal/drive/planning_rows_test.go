package drive

import (
	"testing"

	"github.com/stretchr/testify/require"

	"boltward/internal/length"
)

// A border that is parted off leaves a strip with the border and a rest without.
func TestRowsOfBordersAndFatQuarters(t *testing.T) {
	d := NewDrive("spring", "Spring", "UTC", length.In)
	row := func(line int, tag string, m Measured) Incoming[LotIn] {
		return Incoming[LotIn]{Line: line, Value: LotIn{Tagging: Tagging{Tag: tag, Pieces: m.Cuts[0].Pieces}, Measured: &m}}
	}
	made := Make{Fibre: "cotton", Weight: "quilting", Washed: true, Print: PrintFeature, Turn: TurnAlong, Border: BorderOne}
	plain := Make{Fibre: "cotton", Weight: "quilting", Print: PrintTonal, Turn: TurnEither}
	rows := []Incoming[LotIn]{
		row(2, "A1", Measured{Make: made, BorderDepth: 12 * inch, Cuts: []Cuttings{{Pieces: 1, Length: 90 * inch, Width: 44 * inch}}}),
		row(3, "A2", Measured{Make: made, Cuts: []Cuttings{{Pieces: 1, Length: 90 * inch, Width: 44 * inch}}}),
		row(4, "B1/2", Measured{Make: plain, Cuts: []Cuttings{{Pieces: 6, Length: 18 * inch, UsableWidth: 21 * inch}}}),
		{Line: 5, Value: LotIn{Tagging: Tagging{Tag: "C1", Pieces: 1}}},
	}
	in, fates, _ := PlanFromRows(d, rows, nil, nil)
	for _, f := range fates {
		require.Empty(t, f.Faults, "line %d", f.Line)
	}
	borders, strips, pieces := map[string]string{}, map[string]bool{}, map[string]int{}
	for _, c := range in.Cloths {
		borders[c.ID], strips[c.ID], pieces[c.ID] = c.Border, c.Strip, c.Pieces
	}
	require.Equal(t, map[string]int{"A1/2": 1, "A1/3": 1, "A2/1": 1, "B1/2/1": 6}, pieces, "what is not measured is left out")
	require.Equal(t, BorderOne, borders["A2/1"])
	require.Empty(t, borders["A1/2"]+borders["A1/3"])
	require.NotEqual(t, strips["A1/2"], strips["A1/3"])
	require.False(t, strips["A2/1"])
	require.Equal(t, "B1/2", lotOf("B1/2/1"))
}
