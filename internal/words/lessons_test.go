package words

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestLessonsAreKind(t *testing.T) {
	got := In("en").Lessons([]LessonFacts{
		{Kind: "pins", Fault: "pin or needle found", N: 1, Of: 40},
		{Kind: "edges", Fault: "raw edge shows", N: 3, Of: 40},
		{Kind: "edges", Fault: "raw edge shows", Tell: "Overlock it.", N: 3, Of: 40},
		{Kind: "own", Fault: "smells of smoke", N: 4, Of: 40},
	})
	require.Equal(t, []string{
		"1 of 40 in the last 30 days came back with a pin or needle still inside. Count your pins before you start and when you stop.",
		"3 of 40 in the last 30 days came back with a raw edge showing. Before the second seam, trim the first one evenly and fold it right into the edge.",
		"3 of 40 in the last 30 days came back with a raw edge showing. Overlock it.",
		"4 of 40 in the last 30 days came back with this to put right: smells of smoke.",
	}, got)
	card := In("en").Card(CardFacts{Kit: "7", Cases: 1, Lessons: []LessonFacts{{Kind: "cuff", N: 3, Of: 30}}})
	require.Equal(t, "From the checking table", card.LessonsTitle)
	require.Len(t, card.Lessons, 1)
	require.Empty(t, In("en").Card(CardFacts{Kit: "7", Cases: 1}).LessonsTitle, "nothing is said where nothing came up")
}
