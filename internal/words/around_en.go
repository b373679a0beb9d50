package words

import (
	"fmt"
	"time"
)

func dateEnglish(day time.Time) string { return day.Format("2 Jan 2006") }

func aroundEnglish() Around {
	return Around{
		Skip:        "To the page itself",
		ToStart:     "To the start",
		Number:      "Number of this request:",
		NotFound:    "Not found",
		NotNow:      "That cannot be done now",
		NotYours:    "That is not yours to do",
		PutRight:    "Something has to be put right",
		TooLarge:    "That is too large",
		Failed:      "That did not work",
		Foreign:     "That came from another site",
		ForeignLong: "Nothing was done: forms are taken only from Boltward's own pages. Open the page here and send it again.",
		Sorry:       "Something went wrong here, and it is not your doing. Try once more; if it happens again, tell whoever looks after the program this number.",
		TooMuch:     func(mb int64) string { return fmt.Sprintf("Nothing was saved: at most %d MB can be sent here.", mb) },
		NoPage:      "There is no such page here, or it is not open to you.",
		NoThing:     "There is no such thing here.",
		NoKit:       "There is no such kit here.",
		NoKey:       "This form came without the key that keeps it from being booked twice. Open the page again and send it from there.",
	}
}
