package drive

import (
	"fmt"
	"slices"
	"strings"
	"time"
)

// AskedIn is a line of what is asked for as a row of a spreadsheet brings it,
// with the recipient who asks.
type AskedIn struct {
	Recipient Recipient
	SizeNames []string // any of them fills the line
	Line      Asked    // Recipient and Sizes are still empty
	Columns   map[string]string
}

// AskedDecided is a row that is taken. Recipient is set where the drive has
// that recipient already or an earlier row brings it, by its name; the line's Sizes are set.
type AskedDecided struct {
	AskedIn
	Known int64 // number of the recipient; 0 for a new one
}

// AskedHere is what the drive holds already, as far as rows are judged by it.
type AskedHere struct {
	Recipients []Recipient
	Lines      []Asked
	Sizes      map[string]int64 // number by name in lower case; retired ones left out
}

// JudgeAsked decides the fate of every row. Recipients are the same by name; a
// line is the same when recipient, sizes, day and themes wanted are, so the same file twice
// changes nothing.
func JudgeAsked(today time.Time, rows []Incoming[AskedIn], here AskedHere) (fates []RowFate, take []AskedDecided) {
	known := map[string]Recipient{}
	for _, r := range here.Recipients {
		known[strings.ToLower(r.Name)] = r
	}
	lines := map[string]Asked{}
	for _, l := range here.Lines {
		lines[l.key(knownRecipient(l.Recipient))] = l
	}
	first := seen{}
	for _, row := range rows {
		in := row.Value
		in.Recipient, in.Line = in.Recipient.Tidy(), in.Line.Tidy()
		fate := judge(row)
		in.findSizes(&fate, here.Sizes)
		in.Line = in.Line.Tidy()
		refuseNamed(&fate, recipientColumns(in.Columns), in.Recipient.Check())
		name := strings.ToLower(in.Recipient.Name)
		old, isKnown := known[name]
		who := "name " + name
		if isKnown && old.Number > 0 {
			who = knownRecipient(old.Number)
		}
		if at, again := first.again(in.Line.key(who), row.Line); again && fate.Fate == FateTaken {
			fate.refuse(heading(in.Columns, "recipient"), "The same recipient, size, day and themes stand on line %d already. Put the numbers together.", at)
		}
		if line, ok := lines[in.Line.key(who)]; ok && fate.Fate == FateTaken {
			if line.Wanted != in.Line.Wanted {
				fate.refuse(heading(in.Columns, "wanted"), "Here this line asks for %d. Change it under Asked for.", line.Wanted)
			} else {
				fate.unchanged(nil, "")
			}
		}
		if fate.Fate == FateTaken {
			line := in.Line
			line.Recipient = 1 // decided below; any stands for one that is known
			refuseNamed(&fate, in.Columns, line.Check(today, nil))
		}
		if fate.Fate == FateTaken {
			take = append(take, AskedDecided{AskedIn: in, Known: old.Number})
			if !isKnown {
				known[name] = in.Recipient
				fate.Notes = append(slices.Clone(fate.Notes), in.Recipient.Name+" is not here yet and comes as a new recipient.")
			}
		}
		fates = append(fates, fate)
	}
	return fates, take
}

func (in *AskedIn) findSizes(fate *RowFate, sizes map[string]int64) {
	in.Line.Sizes = nil
	for _, name := range in.SizeNames {
		number, ok := sizes[strings.ToLower(name)]
		if !ok {
			fate.refuse(heading(in.Columns, "sizes"), "There is no size called %q here. Add it under Sizes first, or use the name it has there.", name)
			return
		}
		in.Line.Sizes = append(in.Line.Sizes, number)
	}
}

// knownRecipient is the key of one that the drive has, apart from new ones by name: a name may be a number.
func knownRecipient(number int64) string { return fmt.Sprint("number ", number) }

// key tells lines apart; who is the recipient's key.
func (a Asked) key(who string) string {
	day := "any day"
	if a.Due != nil {
		day = a.Due.Format(time.DateOnly)
	}
	themes := slices.Clone(a.ThemesWanted)
	slices.Sort(themes)
	return fmt.Sprint(who, "\n", a.Sizes, "\n", day, "\n", themes)
}

// recipientColumns gives the headings by the recipient's own fields.
func recipientColumns(columns map[string]string) map[string]string {
	own := map[string]string{}
	for field, heading := range columns {
		own[field] = heading
	}
	own["name"], own["note"] = columns["recipient"], ""
	if own["name"] == "" {
		own["name"] = "Recipient"
	}
	return own
}
