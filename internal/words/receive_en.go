package words

import (
	"cmp"
	"fmt"
	"strings"
)

func receiveEnglish(f ReceiveFacts) Receive {
	r := Receive{
		Lang:    "en",
		Title:   "Pillowcases for " + f.Name,
		Private: "This page belongs to " + f.Name + ": whoever has its address can answer for you. If it gets lost, ask the drive for a new one.",
		Words:   receiveWordsEnglish(),
	}
	waiting := 0
	for _, d := range f.Deliveries {
		if !d.Said {
			waiting++
		}
		r.Deliveries = append(r.Deliveries, receiveDeliveryEnglish(d))
	}
	for _, line := range f.Lines {
		r.Lines = append(r.Lines, receiveLineEnglish(line, f.Closed != ""))
	}
	switch {
	case waiting > 0:
		r.Lead = fmt.Sprintf("%s of %s on the way to you. Please say below what arrived.", countEnglish(waiting, "delivery", "deliveries"), f.Drive+isAre(waiting))
	case len(f.Lines) == 0 && f.Closed != "":
		r.Lead = f.Drive + " has noted nothing that you asked for."
	case len(f.Lines) == 0:
		r.Lead = f.Drive + " has noted nothing that you asked for yet."
	default:
		r.Lead = "This is what " + f.Drive + " has noted for you, and how far it has come."
	}
	if f.Closed != "" {
		r.Lead += " The drive has been over since " + f.Closed
		if len(f.Lines) > 0 {
			r.Lead += ": what is begun still comes to you, and nothing new is begun"
		}
		r.Lead += "."
	}
	if f.Ask != "" {
		r.Ask = "Whom to ask: " + f.Ask
	}
	return r
}

func isAre(n int) string {
	if n == 1 {
		return " is"
	}
	return " are"
}

func receiveLineEnglish(l ReceiveLine, closed bool) ReceiveShown {
	shown := ReceiveShown{Title: fmt.Sprintf("%d %s", l.Asked, strings.Join(l.Sizes, " or "))}
	if len(l.Themes) > 0 {
		shown.Title += ": " + strings.Join(l.Themes, ", ")
	}
	if len(l.Avoid) > 0 {
		shown.Title += "; no " + strings.Join(l.Avoid, " or ")
	}
	if l.Due != "" {
		shown.Title += ", by " + l.Due
	}
	var parts []string
	rest := "still to come"
	if closed {
		rest = "not sent yet"
	}
	for _, p := range []struct {
		n     int
		words string
	}{{l.With, "arrived"}, {l.Doubt, "where our counts differ"}, {l.OnWay, "on the way"}, {l.Ready, "ready to be sent"}, {max(0, l.Asked-l.With-l.Doubt-l.OnWay-l.Ready), rest}} {
		if p.n > 0 {
			parts = append(parts, fmt.Sprintf("%d %s", p.n, p.words))
		}
	}
	shown.Says = []string{upperFirst(strings.Join(parts, ", ")) + "."}
	if l.Late && l.With < l.Asked {
		shown.Says = append(shown.Says, "That day has passed; we are sorry.")
	}
	if l.Likely != "" {
		shown.Says = append(shown.Says, fmt.Sprintf("The rest is likely ready by %s: between %s and %s.", l.Likely, l.LikelyFrom, l.LikelyTo))
	}
	return shown
}

func upperFirst(words string) string {
	if words == "" {
		return "Nothing yet"
	}
	return strings.ToUpper(words[:1]) + words[1:]
}

func receiveDeliveryEnglish(d ReceiveDelivery) ReceiveShown {
	shown := ReceiveShown{Number: d.Number, Title: fmt.Sprintf("Delivery %d", d.Number), Open: !d.Said, Act: "Say what arrived"}
	left := fmt.Sprintf("%s in %s left on %s", countEnglish(d.Cases, "pillowcase", "pillowcases"), countEnglish(d.Boxes, "box", "boxes"), d.Sent)
	if d.CarriedBy != "" {
		left += " with " + d.CarriedBy
	}
	shown.Says = []string{left + "."}
	if !d.Said {
		return shown
	}
	shown.Act = "See or correct what was said"
	said, thanks := fmt.Sprintf("You have %d of them", d.Arrived), ""
	if d.Arrived == d.Cases {
		said, thanks = "You have all of them", " Thank you for saying so."
	}
	if d.Above > 0 {
		said += fmt.Sprintf(", and %d above the note", d.Above)
		if d.Arrived < d.Cases {
			said += fmt.Sprintf(", %d in all", d.Arrived+d.Above)
		}
	}
	said += "." + thanks
	shown.Says = append(shown.Says, said)
	if d.Short > 0 || d.More > 0 {
		shown.Says = append(shown.Says, "Our count and yours differ; somebody is looking into it.")
	}
	return shown
}

func receiveWordsEnglish() ReceiveWords {
	return ReceiveWords{
		Coming:       "What you asked for",
		Deliveries:   "What was sent",
		None:         "Nothing has been sent yet.",
		Back:         "All that is coming",
		WhatArrived:  "What arrived?",
		All:          "Everything arrived, as the note says",
		OrBox:        "Or say it box by box",
		AsNote:       "arrived, as the note says",
		Other:        "another count",
		OtherCount:   "How many arrived",
		Nothing:      "did not arrive",
		Name:         "Your name",
		NameHint:     "So that we know whom to ask. You may leave it empty.",
		Note:         "Anything to say with it",
		NoteHint:     "Such as: one box was wet. Only the drive reads it. Please name no patients.",
		Send:         "Send what arrived",
		Wrong:        "Not noted yet:",
		Choose:       "Choose what arrived of this box.",
		Unreadable:   "Type a whole number such as 3.",
		Negative:     "Type how many arrived. If none did, choose that it did not arrive.",
		TooLong:      "That is too long: keep it shorter.",
		Often:        "What arrived of this delivery was said many times within an hour. Please wait an hour, or tell us by phone.",
		Changed:      "Nothing was noted: this delivery was changed by us meanwhile, or the form was sent before with something else in it. Look at what stands here, and send it once more.",
		Thanks:       "Thank you. It is noted.",
		Looking:      "Nothing more is needed from you; somebody may ring you.",
		Correct:      "It is otherwise after all",
		LinkGone:     "This link does not work any more",
		LinkGoneLong: "It was replaced by a newer one, or has run out. Ask the drive for a new one.",
		NotYours:     "There is no such delivery to you. It may have been changed; look at the list of what was sent.",
		Policy:       "Your own laundry and infection-control policy comes first: please launder as it says before use.",
		Baby:         "No pillow for a baby under one year: please check on the ward.",
	}
}

func slipEnglish(noted, said int) string {
	return fmt.Sprintf("The note says %d, so %d looks like a slip. Please count once more; if it is so, tell us by phone.", noted, said)
}

func boxOfEnglish(box int64, size string, noted int) string {
	return fmt.Sprintf("Box %d: %d %s", box, noted, size)
}

func receiveLinkEnglish(name, drive, address string) Message {
	return Message{
		Subject: "Pillowcases for " + name + " from " + drive,
		Text: fmt.Sprintf("Hello,\n\nthis is the page of %s with %s: what is on its way to you, and where you say with one tap what arrived. It needs no password.\n\n%s\n\n"+
			"Please pass it on only to those who take boxes in.\n\nThank you.", name, drive, address),
	}
}

func noteEnglish(f NoteFacts) Note {
	n := Note{
		Lang:    "en",
		Title:   fmt.Sprintf("Delivery note %d", f.Number),
		Columns: NoteColumns{"Box", "Size", "Theme", "Pillowcases", "Packed, counted", "Arrived"},
		Other:   "other",
		Care: []string{
			"Your own laundry and infection-control policy comes first: please launder as it says before use.",
			"No pillow for a baby under one year: please check on the ward.",
		},
		Sign:   "Received, counted by box:",
		Signed: []string{"Signature", "Name", "Date"},
		Code:   fmt.Sprintf("Delivery %d", f.Number),
		Own:    "To say what arrived, scan this with a phone. No password is needed.",
	}
	to := "To " + f.To
	if f.Contact != "" {
		to += ", " + f.Contact
	}
	n.Lines = []string{"From " + f.Drive, to}
	switch {
	case f.Sent != "" && f.CarriedBy != "":
		n.Lines = append(n.Lines, "Sent on "+f.Sent+", carried by "+f.CarriedBy)
	case f.Sent != "":
		n.Lines = append(n.Lines, "Sent on "+f.Sent)
	case f.CarriedBy != "":
		n.Lines = append(n.Lines, "Sent on ______________, carried by "+f.CarriedBy)
	default:
		n.Lines = append(n.Lines, "Sent on ______________, carried by ____________________")
	}
	if f.Note != "" {
		n.Lines = append(n.Lines, f.Note)
	}
	n.Totals = []string{fmt.Sprintf("%s in %s", countEnglish(f.Cases, "pillowcase", "pillowcases"), countEnglish(f.Boxes, "box", "boxes"))}
	if len(f.Sizes) > 1 {
		n.Totals = append(n.Totals, "By size: "+noteCounts(f.Sizes, n.Other))
	}
	if len(f.Themes) > 0 {
		n.Totals = append(n.Totals, "By theme: "+noteCounts(f.Themes, n.Other))
	}
	if len(f.Rules) > 0 {
		n.RulesTitle, n.Rules = "Made and packed to your rules", f.Rules
	}
	for _, o := range f.Overrides {
		said := o.Rule + ": " + o.Reason
		if o.Box > 0 {
			said = fmt.Sprintf("Box %d, %s", o.Box, said)
		}
		n.Kept, n.Overrides = "Where a rule was not kept, and why", append(n.Overrides, said)
	}
	return n
}

// noteCounts lists counts as a note adds them up: 24 standard; 12 queen.
func noteCounts(counts []NoteCount, other string) string {
	list := make([]string, len(counts))
	for i, c := range counts {
		list[i] = fmt.Sprintf("%d %s", c.N, cmp.Or(c.What, other))
	}
	return strings.Join(list, "; ")
}
