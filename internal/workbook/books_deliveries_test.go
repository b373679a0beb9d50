package workbook

import (
	"fmt"
	"testing"

	"boltward/internal/drive"

	"github.com/stretchr/testify/require"
)

// The summary counts the deliveries that left in the period: the list also has those of which something was taken
// back, or came to light, that had left before.
func TestSummaryCountsDeliveriesThatLeft(t *testing.T) {
	b := noBooks()
	b.Deliveries = rowsOf([]drive.BookDelivery{
		{Number: 1, Boxes: 1, SentBefore: 10, Sent: 2, Confirmed: 12}, // two more were in the box
		{Number: 2, SentBefore: 4, Sent: -4},                          // undone
		{Number: 3},                                                   // left and undone
		{Number: 4, Boxes: 2, Sent: 8},
	})
	figures, _ := summaryOf(t, opened(t, written(t, b)))
	require.Equal(t, 1.0, figures["Deliveries"])
	x := opened(t, written(t, b))
	rows, err := x.GetRows(sheetSummary)
	require.NoError(t, err)
	for i, row := range rows {
		if len(row) == 0 || row[0] != "Deliveries" {
			continue
		}
		got, err := x.CalcCellValue(sheetSummary, fmt.Sprintf("B%d", i+1))
		require.NoError(t, err)
		require.Equal(t, "1", got, "worked out anew")
	}
}
