package words

import "fmt"

func visitEnglish(f VisitFacts) Visit {
	v := Visit{
		Lang:    "en",
		Title:   "Your kits",
		Private: "This page is yours alone: nobody else gets its address, and whoever has it can speak for you. If it gets lost, ask the drive for a new one.",
		Back:    "All your kits",
		Wrong:   "Not noted yet:",
		Words:   visitWordsEnglish(),
	}
	if f.Ask != "" {
		v.Ask = "Whom to ask: " + f.Ask
	}
	cases := 0
	for _, k := range f.Kits {
		cases += k.Cases
		v.Kits = append(v.Kits, visitKitEnglish(k))
	}
	switch {
	case len(f.Kits) == 0:
		v.Lead = fmt.Sprintf("Hello %s. You have no kit of %s at the moment. Thank you for every stitch.", f.Name, f.Drive)
	default:
		v.Lead = fmt.Sprintf("Hello %s. You have %s with %s. Thank you for sewing.",
			f.Name, countEnglish(len(f.Kits), "kit", "kits"), countEnglish(cases, "pillowcase", "pillowcases"))
	}
	return v
}

func visitKitEnglish(k VisitKitFacts) VisitKit {
	v := VisitKit{Kit: k.Kit, Title: "Kit " + k.Kit, What: countEnglish(k.Cases, "pillowcase", "pillowcases") + ", " + k.Size}
	if k.OwnFabric {
		v.What += ", from your own fabric"
	}
	switch {
	case k.Due == "":
		v.Due = "No day is agreed."
	case k.Late && (k.Cannot || k.Until != "" || k.Finished == k.Cases): // they have said how it goes
		v.Due = "It was to be back by " + k.Due + "."
	case k.Late:
		v.Due = "It was to be back by " + k.Due + ". When do you think you will have it?"
	default:
		v.Due = "Please bring it back by " + k.Due + "."
	}
	if k.Finished > 0 {
		v.Said.Finished = fmt.Sprintf("You said: %d of %d finished.", k.Finished, k.Cases)
		if k.Finished == k.Cases {
			v.Said.Finished = "You said: all finished. Somebody will tell you where to bring it, or bring it as agreed."
		}
	}
	if k.Until != "" {
		v.Said.Longer = "You asked for time until " + k.Until + "."
		if k.Needed != "" {
			v.Said.Longer += " The kit is needed by " + k.Needed + ": bring what is finished by then, if you can."
		}
	}
	if k.Cannot {
		v.Said.Cannot = "You said that you cannot finish it. Somebody will get in touch; it need not be sewn any further."
	}
	return v
}

func visitWordsEnglish() VisitWords {
	return VisitWords{
		Open:          "How to sew it, and say how it goes",
		HowItGoes:     "How does it go?",
		Finished:      "Finished so far",
		FinishedHint:  "All that are sewn, those you told of before too.",
		FinishedAct:   "I have finished these",
		Longer:        "I need longer",
		Until:         "Until",
		LongerAct:     "Ask for that day",
		Cannot:        "I cannot finish",
		CannotLead:    "Nobody minds. Somebody else will gladly sew the rest.",
		CannotAct:     "I cannot finish it",
		Note:          "Anything to say with it",
		NoteHint:      "Only the drive reads it.",
		BackFinished:  "Undo what I said is finished",
		BackLonger:    "Undo that I need longer",
		BackCannot:    "Undo that I cannot finish",
		Gone:          "This kit is not with you any more, so nothing was noted. If that is a mistake, ask the drive.",
		SentBefore:    "This form was sent before with something else in it. Look at what stands, and send it once more.",
		LinkGone:      "This link does not work any more",
		LinkGoneLong:  "It was replaced by a newer one, or has run out. Ask the drive for a new one.",
		Unreadable:    "Type a whole number such as 3.",
		UnreadableDay: "Type a day such as 14 Dec 2026.",
	}
}

func faultEnglish(wrong string, cases int) string {
	switch wrong {
	case "none":
		return "Type how many are finished, 1 or more."
	case "more":
		return fmt.Sprintf("The kit holds %d. Did you sew more from your own fabric? Bring them along, they are welcome.", cases)
	case "no day":
		return "Choose a day."
	case "past":
		return "Choose a day that is still to come."
	case "sooner":
		return "You have it until then as it is. Choose a day after the one agreed."
	case "far":
		return "Choose a day within a year."
	case "too long":
		return "That is too long: keep it to 500 characters."
	}
	return visitWordsEnglish().Gone
}

func linkEnglish(name, drive, address string) Message {
	return Message{
		Subject: "Your sewing for " + drive,
		Text: fmt.Sprintf("Hello %s,\n\nthis is your own page of %s: which kits you have, how they are sewn, and where you say that some are finished, "+
			"that you need longer, or that you cannot finish.\n\n%s\n\nPlease keep it to yourself.\n\nThank you for sewing.", name, drive, address),
	}
}
