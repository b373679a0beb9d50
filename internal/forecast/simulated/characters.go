package simulated

// Character is what a drive is like.
type Character struct {
	Name       string
	People     [2]int // how many sew, from and to
	Asked      [2]int // pillowcases asked for in all
	Joining    int    // weeks over which people join
	Stopping   float64
	Gone       float64 // share of those who stop that keep what they have for ever
	DeskEvery  int     // days between desk days
	Comes      float64 // share of desk days that somebody with finished kits comes
	Holidays   int     // days of each school holiday, every ten weeks
	Group      int     // kits that one school takes at once
	ToMend     float64
	NotUsable  float64
	CutEvery   int
	CutAtOnce  int
	SwingWeeks int     // weeks in which everybody is quicker, then as many in which all are slower
	Kit        int     // pillowcases in a kit
	PlanEvery  int     // days
	BookLost   int     // days before anybody books a kit as lost
	Evenings   float64 // times the usual share of days with an evening for it
}

// plain is a drive without anything particular, which others differ from.
func plain() Character {
	return Character{
		People: [2]int{12, 25}, Asked: [2]int{80, 240}, Joining: 3, Stopping: 0.004, Gone: 0.3, DeskEvery: 3, Comes: 0.8,
		ToMend: 0.06, NotUsable: 0.01, CutEvery: 7, CutAtOnce: 60, Kit: 4, PlanEvery: 21, BookLost: 60, Evenings: 1,
	}
}

func as(name string, change func(*Character)) Character {
	c := plain()
	c.Name = name
	change(&c)
	return c
}

// Characters gives the kinds of drives that what is usual was set on, by other seeds than it is judged by.
func Characters() []Character {
	return []Character{
		as("steady", func(*Character) {}),
		as("clumpy", func(c *Character) { c.DeskEvery, c.Comes = 14, 0.6 }),
		as("slow start", func(c *Character) { c.Joining = 14 }),
		as("school holidays", func(c *Character) { c.Holidays = 14 }),
		as("one big group", func(c *Character) { c.Group = 12; c.People = [2]int{6, 10} }),
		as("many to mend", func(c *Character) { c.ToMend, c.NotUsable = 0.3, 0.05 }),
		as("people who stop", func(c *Character) { c.Stopping, c.Joining = 0.05, 8 }),
		as("slow cutting", func(c *Character) { c.CutEvery, c.CutAtOnce = 14, 24 }),
		as("few people", func(c *Character) { c.People, c.Asked = [2]int{4, 7}, [2]int{40, 90} }),
		as("busy and idle weeks", func(c *Character) { c.SwingWeeks = 3 }),
	}
}

// Strangers gives kinds of drives that nothing was ever set on, and that differ in what all others have in common: how well a
// forecast does where drives are otherwise than thought. Nothing may be tuned by them.
func Strangers() []Character {
	kit := func(c *Character) { c.Kit = 6 }
	plans := func(c *Character) { c.PlanEvery = 35 }
	lost := func(c *Character) { c.BookLost = 35 }
	slow := func(c *Character) { c.Evenings = 0.6 }
	return []Character{
		as("kits of six", kit),
		as("seldom a plan", plans),
		as("soon booked lost", lost),
		as("fewer evenings", slow),
		as("all four", func(c *Character) { kit(c); plans(c); lost(c); slow(c) }),
	}
}
