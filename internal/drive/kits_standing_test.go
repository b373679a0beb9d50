package drive

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// What was undone counts for nothing, whichever of several steps was undone first, and a step that two parts came of
// counts until both are undone.
func TestLastStanding(t *testing.T) {
	mary, bo := int64(1), int64(2)
	at := func(minute int) time.Time { return time.Date(2026, 3, 2, 9, minute, 0, 0, time.UTC) }
	out := func(holder *int64, cases int, reason string) KitStep {
		return KitStep{From: KitOut, To: KitOut, Holder: holder, Cases: cases, Reason: reason}
	}
	ready := KitStep{From: KitCut, To: KitReady, Cases: 6}
	handed := KitStep{From: KitReady, To: KitOut, Holder: &mary, Cases: 6}
	longer, apart := out(&mary, 6, "needs longer"), func(minute, again int) PartedStep {
		p := PartedStep{At: at(minute)}
		if again > 0 {
			moment := at(again)
			p.Again = &moment
		}
		return p
	}
	for _, tt := range []struct {
		what        string
		steps       []KitStep // one a minute, from the first; each has the number of its minute
		parted      []PartedStep
		moved, last int64
	}{
		{"nothing", nil, nil, 0, 0},
		{"handed out, and another day", []KitStep{ready, handed, longer}, nil, 2, 3},
		{"given on by mistake", []KitStep{ready, handed, longer, out(&bo, 6, ""), out(&mary, 6, undone)}, nil, 2, 3},
		{"two parts, the older undone", []KitStep{ready, handed, out(&mary, 4, ""), out(&mary, 3, ""), out(&mary, 5, undone)}, []PartedStep{apart(3, 5), apart(4, 0)}, 4, 4},
		{"two parts, the newer undone", []KitStep{ready, handed, out(&mary, 4, ""), out(&mary, 3, ""), out(&mary, 4, undone)}, []PartedStep{apart(3, 0), apart(4, 5)}, 3, 3},
		{"both, the older first", []KitStep{ready, handed, out(&mary, 4, ""), out(&mary, 3, ""), out(&mary, 5, undone), out(&mary, 6, undone)}, []PartedStep{apart(3, 5), apart(4, 6)}, 2, 2},
		{"both, the newer first", []KitStep{ready, handed, out(&mary, 4, ""), out(&mary, 3, ""), out(&mary, 4, undone), out(&mary, 6, undone)}, []PartedStep{apart(3, 6), apart(4, 5)}, 2, 2},
		{"one of two parts of a step", []KitStep{ready, handed, out(&mary, 3, ""), out(&mary, 5, undone)}, []PartedStep{apart(3, 4), apart(3, 0)}, 3, 3},
		{"both parts of a step", []KitStep{ready, handed, out(&mary, 3, ""), out(&mary, 5, undone), out(&mary, 6, undone)}, []PartedStep{apart(3, 4), apart(3, 5)}, 2, 2},
	} {
		for i := range tt.steps {
			tt.steps[i].ID, tt.steps[i].At = int64(i+1), at(i+1)
		}
		moved, last := LastStanding(tt.steps, tt.parted)
		require.Equal(t, []int64{tt.moved, tt.last}, []int64{moved, last}, tt.what)
	}
}
