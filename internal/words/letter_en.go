package words

// letterEnglish words thanks for a gift of goods. What each law asks of such a
// letter: US, a description, whether goods or services were given in return, in
// writing from $250 a gift, never a value (26 USC 170(f)(8); 26 CFR 1.170A-16);
// Canada, a value, which only an appraisal gives, so its line is blank (CRA
// CSP-F07); UK, no Gift Aid on goods (HMRC detailed guidance 3.2.1).
func letterEnglish(f LetterFacts) Letter {
	l := Letter{
		Lang:     "en",
		Subject:  "Thank you for your fabric",
		Greeting: "Dear " + f.Name + ",",
		Body:     []string{"Thank you for the fabric that you gave to " + f.Drive + " on " + f.On + ". This is what we took in:"},
		Gave:     f.Gave,
		Closing:  "With warm thanks,",
		SignedBy: f.SignedBy,
	}
	if l.SignedBy == "" {
		l.SignedBy = f.Drive
	}
	l.After = []string{"We sew it into pillowcases for people who are glad of a colourful one." + reachedEnglish(f)}
	switch f.Law {
	case US:
		l.Law = usEnglish(f)
	case Canada:
		l.Law = canadaEnglish(f)
	case UK:
		l.Law = []string{
			"This letter describes your gift and states no value. Gift Aid does not apply to gifts of goods (HMRC detailed guidance 3.2.1).",
			deferEnglish,
		}
	default:
		l.Law = []string{"This letter describes your gift and states no value.", deferEnglish}
	}
	return l
}

// deferEnglish is said in every letter.
const deferEnglish = "Whether a gift counts for tax depends on the law where you live and on your own case; please ask an adviser there."

func reachedEnglish(f LetterFacts) string {
	switch {
	case f.Delivered > 0:
		return " So far your fabric is in " + countEnglish(f.InPlan, "of them", "of them") + ", and " + countEnglish(f.Delivered, "has", "have") + " been delivered."
	case f.InPlan > 0:
		return " So far your fabric is in " + countEnglish(f.InPlan, "of them", "of them") + "."
	}
	return ""
}

func usEnglish(f LetterFacts) []string {
	back := "No goods or services were given in return for this gift."
	if f.InReturn != "" {
		back = "In return for this gift you were given: " + f.InReturn + ". Its value, estimated in good faith: ______________"
	}
	number := ""
	if f.Registered != "" {
		number = " Our EIN is " + f.Registered + "."
	}
	return []string{
		back + number,
		"This letter describes your gift and states no value; finding it is up to you. US law asks for a written acknowledgment of any gift of $250 or more (26 USC 170(f)(8); 26 CFR 1.170A-16).",
		deferEnglish,
	}
}

func canadaEnglish(f LetterFacts) []string {
	number := "______________"
	if f.Registered != "" {
		number = f.Registered
	}
	lines := []string{
		"Fair market value on the day it was given, found by an appraisal, not by us: ______________",
		"Appraised by, with their address: ____________________________",
		"Registered charity number: " + number + "   Receipt number: ______________",
		"An official receipt needs the value (CRA CSP-F07). As long as these lines are blank, this letter is a thank-you and no receipt.",
		deferEnglish,
	}
	if f.InReturn != "" {
		lines = append([]string{"In return for this gift you were given: " + f.InReturn + "."}, lines...)
	}
	return lines
}
