package drive_test

import (
	"fmt"
	"testing"
	"time"

	"boltward/internal/apperr"
	"boltward/internal/drive"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// sent is a delivery of two boxes that left three days ago: 6 of size 1 from two kits in
// box 1, 4 of size 2 in box 2.
func sent() drive.Delivery {
	left := today.AddDate(0, 0, -3)
	number := int64(7)
	return drive.Delivery{Number: number, Recipient: 1, SentOn: &left, Boxes: []drive.Box{
		{Number: 1, Recipient: 1, Delivery: &number, Lines: []drive.BoxLine{
			{Line: 1, Asked: 3, Size: 1, Kit: 10, Part: 1, N: 4}, {Line: 2, Asked: 3, Size: 1, Kit: 11, Part: 2, N: 2},
		}},
		{Number: 2, Recipient: 1, Delivery: &number, Lines: []drive.BoxLine{{Line: 1, Asked: 4, Size: 2, N: 4}}},
	}}
}

func says(n1, n2 int) drive.Confirmation {
	return drive.Confirmation{By: "Sister Hale", How: drive.OwnPage, On: today, Arrived: []drive.Arrived{{Box: 1, Size: 1, N: n1}, {Box: 2, Size: 2, N: n2}}}
}

// book takes what was heard into the delivery, as the store does.
func book(d drive.Delivery, h drive.Heard, on time.Time) drive.Delivery {
	for i := range d.Boxes {
		if lines, heard := h.Lines[d.Boxes[i].Number]; heard {
			d.Boxes[i].Lines = lines
		}
	}
	var said []drive.SaidCount
	for _, old := range d.Said {
		kept := true
		for _, c := range h.Counts {
			kept = kept && (c.Box != old.Box || c.Size != old.Size)
		}
		if kept {
			said = append(said, old)
		}
	}
	d.Said, d.ConfirmedOn = append(said, h.Counts...), &on
	return d
}

func TestWhatIsSaidOfADelivery(t *testing.T) {
	d := sent()
	require.Equal(t, drive.DeliveryOnWay, d.State())
	h, err := d.Confirm(says(6, 4), today)
	require.NoError(t, err)
	require.Equal(t, drive.DeliveryArrived, book(d, h, today).State())

	h, err = d.Confirm(says(5, 6), today)
	require.NoError(t, err)
	d = book(d, h, today)
	require.Equal(t, drive.DeliveryDiffers, d.State())
	require.Equal(t, []int{10, 9, 1, 2}, []int{d.Cases(), d.Confirmed(), d.Open(), d.More()})
	require.Equal(t, []drive.Difference{{Box: 1, Size: 1, Sent: 6, Arrived: 5, Short: 1}, {Box: 2, Size: 2, Sent: 4, Arrived: 6, More: 2}}, d.Differences())

	again, err := d.Confirm(says(5, 6), today)
	require.NoError(t, err)
	require.Empty(t, again.Entries, "who repeats what they said changes nothing")
	less, err := d.Confirm(says(4, 4), today)
	require.NoError(t, err)
	after := book(d, less, today)
	require.Equal(t, []int{8, 2, 0}, []int{after.Confirmed(), after.Open(), after.More()}, "who says otherwise is believed")

	_, err = d.Undo()
	require.True(t, apperr.Is(err, apperr.KindConflict), "nothing is undone that somebody has answered: %v", err)
}

func TestWhatCannotBeSaidOfADelivery(t *testing.T) {
	for name, c := range map[string]struct {
		change func(*drive.Delivery, *drive.Confirmation)
		field  string // empty: a conflict
	}{
		"nobody":             {func(_ *drive.Delivery, c *drive.Confirmation) { c.By = " " }, "by"},
		"by no way":          {func(_ *drive.Delivery, c *drive.Confirmation) { c.How = "by pigeon" }, "how"},
		"before it left":     {func(_ *drive.Delivery, c *drive.Confirmation) { c.On = today.AddDate(0, 0, -4) }, "on"},
		"tomorrow":           {func(_ *drive.Delivery, c *drive.Confirmation) { c.On = today.AddDate(0, 0, 1) }, "on"},
		"before a last word": {func(d *drive.Delivery, c *drive.Confirmation) { d.BookedOn = inDays(0); c.On = today.AddDate(0, 0, -1) }, "on"},
		"a slip":             {func(_ *drive.Delivery, c *drive.Confirmation) { c.Arrived[0].N = 66 }, "n.1.1"},
		"below none":         {func(_ *drive.Delivery, c *drive.Confirmation) { c.Arrived[0].N = -1 }, "n.1.1"},
		"another box":        {func(_ *drive.Delivery, c *drive.Confirmation) { c.Arrived[0].Box = 9 }, "n.9.1"},
		"twice":              {func(_ *drive.Delivery, c *drive.Confirmation) { c.Arrived[1] = c.Arrived[0] }, "n.1.1"},
		"of nothing":         {func(_ *drive.Delivery, c *drive.Confirmation) { c.Arrived = nil }, ""},
		"not sent":           {func(d *drive.Delivery, _ *drive.Confirmation) { d.SentOn = nil }, ""},
		"undone":             {func(d *drive.Delivery, _ *drive.Confirmation) { d.SentOn, d.UndoneAt = nil, inDays(0) }, ""},
	} {
		d, said := sent(), says(6, 4)
		c.change(&d, &said)
		_, err := d.Confirm(said, today)
		if c.field == "" {
			require.Error(t, err, name)
			require.NotNil(t, apperr.As(err), name)
			continue
		}
		require.Contains(t, apperr.Fields(err), c.field, "%s: %v", name, err)
	}
}

// Whatever is said and settled, in any order: what was sent is confirmed, missing, back or
// open; entries move exactly what the lines say; and a settlement moves no more than it names.
func TestDeliveriesKeepTheirSums(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d, moved := sent(), map[drive.CaseState]int{drive.CaseDelivered: 10}
		born := 0
		for range rapid.IntRange(1, 12).Draw(t, "steps") {
			var h drive.Heard
			var err error
			if rapid.Bool().Draw(t, "says") || d.ConfirmedOn == nil {
				h, err = d.Confirm(says(rapid.IntRange(0, 9).Draw(t, "first"), rapid.IntRange(0, 9).Draw(t, "second")), today)
				if err != nil {
					t.Fatalf("Confirm: %v", err)
				}
			} else {
				s := drive.Settlement{Way: rapid.SampledFrom(drive.SettleWays()).Draw(t, "way"), N: rapid.IntRange(1, 4).Draw(t, "n"), Reason: "as far as we know"}
				s.Box, s.Size = 1, 1
				if rapid.Bool().Draw(t, "second box") {
					s.Box, s.Size = 2, 2
				}
				before := d.Open() + d.More()
				if h, err = d.Settle(s); err != nil {
					if apperr.As(err) == nil {
						t.Fatalf("Settle(%+v): %v", s, err)
					}
					continue
				}
				after := book(d, h, today)
				if gone := before - after.Open() - after.More(); gone > s.N || gone < 0 {
					t.Fatalf("Settle(%+v) settled %d", s, gone)
				}
			}
			d = book(d, h, today)
			for _, e := range h.Entries {
				if e.N < 1 {
					t.Fatalf("an entry of %d", e.N)
				}
				if e.From == drive.CaseBorn {
					born += e.N
				} else {
					moved[e.From] -= e.N
				}
				moved[e.To] += e.N
			}
			want := map[drive.CaseState]int{
				drive.CaseDelivered: d.Open(), drive.CaseConfirmed: d.Confirmed(), drive.CaseNotReceived: d.Missing(),
			}
			for state, n := range want {
				if moved[state] != n {
					t.Fatalf("%s: entries say %d, lines %d", state, moved[state], n)
				}
			}
			if back := moved[drive.CaseGood] + moved[drive.CaseSewn]; back != d.Returned() {
				t.Fatalf("entries say %d came back, lines %d", back, d.Returned())
			}
			if moved[drive.CasePacked] != 0 {
				t.Fatalf("%d stay packed of what came to light", moved[drive.CasePacked])
			}
			if d.Cases() != 10+born || d.Noted() != 10 {
				t.Fatalf("%d pillowcases and %d on the note, born %d", d.Cases(), d.Noted(), born)
			}
			if d.Open() < 0 || d.More() < 0 {
				t.Fatal("less than nothing is open")
			}
		}
	})
}

func ExampleDelivery_Differences() {
	d := sent()
	heard, err := d.Confirm(says(5, 4), today)
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, c := range book(d, heard, today).Differences() {
		fmt.Printf("box %d: %d sent, %d arrived, %d open\n", c.Box, c.Sent, c.Arrived, c.Short)
	}
	// Output: box 1: 6 sent, 5 arrived, 1 open
}
