package words

import (
	"fmt"
	"strings"
)

func remindEnglish(f ReminderFacts) Message {
	cases := 0
	var kits []string
	for _, k := range f.Kits {
		cases += k.Cases
		line := fmt.Sprintf("Kit %s: %s, %s", k.Kit, countEnglish(k.Cases, "pillowcase", "pillowcases"), k.Size)
		if k.Due != "" {
			line += ", by " + k.Due
		}
		kits = append(kits, line)
	}
	what := countEnglish(len(f.Kits), "kit", "kits")
	m := Message{}
	var open, ask string
	switch f.Why {
	case BecauseLate:
		m.Subject = fmt.Sprintf("How is it going with your %s?", oneOrMany(len(f.Kits), "kit", "kits"))
		open = fmt.Sprintf("the day for %s has passed, and we only want to know how it is going.", what)
		ask = "Is it finished, do you need longer, or shall somebody else sew it? Each of these is fine; please just say which."
	case BecauseSoon:
		m.Subject = fmt.Sprintf("Your %s: the day comes near", oneOrMany(len(f.Kits), "kit", "kits"))
		open = fmt.Sprintf("a small note about %s with %s.", what, countEnglish(cases, "pillowcase", "pillowcases"))
		ask = "If you need longer, or would rather pass it on, say so: nobody minds."
	default:
		m.Subject = fmt.Sprintf("Your %s: is all well?", oneOrMany(len(f.Kits), "kit", "kits"))
		open = fmt.Sprintf("we have not heard from you for a while and wonder how it is going with %s.", what)
		ask = "Some finished, not begun, no time: whatever it is, tell us, and we will find a way."
	}
	var b strings.Builder
	fmt.Fprintf(&b, "Hello %s,\n\n%s\n\n%s\n\n%s\n", f.Name, open, strings.Join(kits, "\n"), ask)
	if f.Address != "" {
		fmt.Fprintf(&b, "\nOn your own page you can say so without signing in:\n%s\n", f.Address)
	}
	from := f.From
	if from == "" {
		from = f.Drive
	}
	fmt.Fprintf(&b, "\nThank you for sewing.\n%s\n", from)
	if f.Stop != "" {
		fmt.Fprintf(&b, "\nNo reminders any more: %s\n", f.Stop)
	}
	m.Text = b.String()
	return m
}

func stopEnglish() StopPage {
	return StopPage{
		Lang:    "en",
		Title:   "Reminders",
		On:      "Now and then, at most once a week, the drive sends you a note about the kits you have.",
		Off:     "You get no reminders. Please look now and then when your kits are to be back.",
		TurnOff: "Send me no reminders",
		TurnOn:  "Send me reminders again",
		Back:    "Your kits",
	}
}

func oneOrMany(n int, one, many string) string {
	if n == 1 {
		return one
	}
	return many
}
