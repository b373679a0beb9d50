package words

// Around is what stands around a page, and what it says instead where something
// cannot be shown or taken.
type Around struct {
	Skip        string // the link over what every page begins with
	ToStart     string
	Number      string // before the number that a failed request is looked up by
	NotFound    string // headings of what went wrong, from here
	NotNow      string
	NotYours    string
	PutRight    string
	TooLarge    string
	Failed      string
	Foreign     string // the heading over a form that another site sent
	ForeignLong string
	Sorry       string // it is nobody's doing who reads it
	TooMuch     func(megabytes int64) string
	NoPage      string
	NoThing     string // a number in the address that is none
	NoKit       string
	NoKey       string // a form without the key that keeps it from being booked twice
}
