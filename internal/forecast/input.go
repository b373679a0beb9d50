package forecast

// Spell is a stretch of days that something took: pillowcases at somebody's home, a stack that
// waited for the checking table. An open one has not ended on the day of the forecast.
type Spell struct {
	Who      int64 // who had them; 0 where it is nobody's
	From, To int   // days; To counts only where it ended
	N        int   // pillowcases
	Line     int64 // the line asked for that they are for; 0 for none
	Fate     Fate
	Back     int // day on which what is Late was brought
}

// Fate is how a spell ended.
type Fate int

// How a spell may end. What is booked as lost never ended by itself.
const (
	Open Fate = iota
	Ended
	Lost
	Late // booked as lost, and brought after all
)

// Event is pillowcases that something happened to on one day.
type Event struct {
	Day, N int
	Line   int64
}

// Checked is what the checking table has found so far.
type Checked struct{ Good, ToMend, NotUsable int }

// Line is one line asked for, as it stands. What volunteers hold of it are open spells.
type Line struct {
	ID      int64
	Group   int64 // the recipient
	Due     *int
	Need    int // pillowcases that are still to become good
	Good    int // that are good already, packed, or delivered
	ToCheck int // came back and wait to be checked
	ToMend  int // wait here to be mended
	Ready   int // cut, and can be handed out
	ToCut   int // in an accepted plan
	NoCloth int // of those nothing stands for, what no plan could make from the cloth there is
}

// Input is what is known of a drive on a day.
type Input struct {
	Today  int
	Lines  []Line
	Held   []Spell // every hand-out, ended or not
	Before []int64 // who took something before the first of them: they do not come new
	Checks []Spell // every wait to be checked, ended or not
	Mends  []Spell // every mending, ended or not
	Found  Checked
	Own    []Event // brought in for a line, sewn from people's own cloth
	Cut    []Event // cut
	Plans  []int   // days on which a plan was accepted
	Good   []Event // found good
	More   int     // people who would join today, for asking what would help
}

// WithPeople gives the input as it would be if so many more people began to sew today.
func (in Input) WithPeople(n int) Input {
	in.More += n
	return in
}

// WithCloth gives the input as it would be if there were cloth for so many more of some lines.
func (in Input) WithCloth(more map[int64]int) Input {
	lines := make([]Line, len(in.Lines))
	for i, l := range in.Lines {
		l.NoCloth = max(0, l.NoCloth-more[l.ID])
		lines[i] = l
	}
	in.Lines = lines
	return in
}

// WithDays gives the input as it would be if every line were due so many days later.
func (in Input) WithDays(n int) Input {
	lines := make([]Line, len(in.Lines))
	for i, l := range in.Lines {
		if l.Due != nil {
			later := *l.Due + n
			l.Due = &later
		}
		lines[i] = l
	}
	in.Lines = lines
	return in
}

// WithoutLacking gives the input as it would be if what there is no cloth for were not asked for.
func (in Input) WithoutLacking() Input {
	lines := make([]Line, len(in.Lines))
	for i, l := range in.Lines {
		l.Need = max(0, l.Need-l.NoCloth)
		l.NoCloth = 0
		lines[i] = l
	}
	in.Lines = lines
	return in
}
