package words

import (
	"fmt"
	"strings"
)

// english is English as quilters on both sides of the ocean read it.
func english() Language {
	return Language{
		Tag: "en", Around: aroundEnglish(), Date: dateEnglish, card: cardEnglish, label: labelEnglish, time: timeEnglish, letter: letterEnglish,
		visit: visitEnglish, fault: faultEnglish, link: linkEnglish, remind: remindEnglish, stop: stopEnglish, lessons: lessonsEnglish, box: boxEnglish,
		receive: receiveEnglish, slip: slipEnglish, boxOf: boxOfEnglish, receiveLink: receiveLinkEnglish, note: noteEnglish,
	}
}

func cardEnglish(f CardFacts) Card {
	c := Card{
		Lang:       "en",
		Title:      "Kit " + f.Kit,
		From:       f.Drive,
		What:       countEnglish(f.Cases, "pillowcase", "pillowcases") + ", " + f.Size,
		In:         "In the bag",
		Contents:   contentsEnglish(f),
		Finished:   fmt.Sprintf("Finished: %s wide and %s long, laid flat.", f.Width, f.Length),
		StepsTitle: "How to sew one",
		Steps:      stepsEnglish(f),
		CareTitle:  "Take care",
		Care:       careEnglish(),
		BackTitle:  "When you have finished",
		Back: []string{
			"Count your pins: as many as you started with. A pin or a piece of a needle left in a pillowcase can hurt a child.",
			"Cut off loose threads, fold, and put the pillowcases back into the bag with this slip.",
			"Some sewn, some not? Bring what is sewn; the rest may stay with you.",
			"You need longer, or cannot finish? Say so: nobody minds, and somebody else will gladly sew it.",
		},
		Slip: Slip{
			Title: "Slip for kit " + f.Kit + ": tear off and bring it back",
			Lines: []string{fmt.Sprintf("Sewn, of %d", f.Cases), "Not sewn, brought back", "Name", "Date"},
		},
	}
	if f.Minutes > 0 {
		c.Finished += fmt.Sprintf(" To sew: %s.", timeEnglish(f.Minutes))
	}
	c.MattersTitle, c.Matters = "What matters", mattersEnglish(f)
	if len(f.Lessons) > 0 {
		c.LessonsTitle, c.Lessons = "From the checking table", lessonsEnglish(f.Lessons)
	}
	for _, p := range f.Panels {
		c.Panels = append(c.Panels, fmt.Sprintf("%s, %s around × %s along", p.Role, p.Around, p.Along))
	}
	c.Sizes = "Its panels, to one scale"
	c.Figures = "In the drawings the body is dotted, the cuff lined and the accent cross-lined; plain is a wrong side. They are not to scale."
	if f.Ask != "" {
		c.AskTitle, c.Ask = "Whom to ask", f.Ask
	}
	if f.OwnPage {
		c.OwnTitle = "Your own page"
		c.Own = "Scan this with a phone: say how many are finished, ask for more time, or say that you cannot finish. This page is yours alone. If you pass the kit on, keep this card; the next person gets their own."
	}
	if f.Due != "" {
		c.Due = "Please bring it back by " + f.Due + "."
	}
	if len(f.Rules) > 0 {
		c.AsksTitle = "What " + f.For + " asks for"
		c.Asks = f.Rules
	}
	if f.OwnFabric {
		c.In = "To cut from your own fabric"
	}
	return c
}

func timeEnglish(minutes int) string {
	if minutes <= 55 {
		return fmt.Sprintf("about %d minutes", max(5, (minutes+4)/5*5))
	}
	quarters := (minutes + 14) / 15
	hours, rest := quarters/4, [...]string{"", " 1/4", " 1/2", " 3/4"}[quarters%4]
	if quarters == 4 {
		return "about 1 hour"
	}
	return fmt.Sprintf("about %d%s hours", hours, rest)
}

// labelEnglish is the label's share of the card, in as few words as hold it.
func labelEnglish(f CardFacts) Label {
	l := Label{What: countEnglish(f.Cases, "pillowcase", "pillowcases") + ", " + f.Size}
	if f.For != "" {
		l.For = "For " + f.For
	}
	if f.OwnFabric {
		l.What += ", own fabric"
		l.Contents = append(l.Contents, "card")
		return l
	}
	names := map[string][2]string{"body": {"body", "bodies"}, "cuff": {"cuff", "cuffs"}, "accent": {"accent", "accents"}}
	for _, p := range f.Panels {
		l.Contents = append(l.Contents, countEnglish(p.Pieces*f.Cases, names[p.Role][0], names[p.Role][1]))
	}
	l.Contents = append(l.Contents, "card")
	return l
}

// boxEnglish is what a box holds, to tick off when it is opened. The name comes last: of a long one
// the end goes where a label is small.
func boxEnglish(f BoxFacts) Label {
	l := Label{What: "Box of " + countEnglish(f.Cases, "pillowcase", "pillowcases") + " for " + f.For}
	for _, line := range f.Lines {
		said := fmt.Sprintf("%d %s", line.N, line.Size)
		if line.Theme != "" {
			said += ", " + line.Theme
		}
		l.Contents = append(l.Contents, said)
	}
	return l
}

// mattersEnglish is what goes wrong most often, for this kit. Common practice, no source.
func mattersEnglish(f CardFacts) []string {
	var list []string
	if f.OneWay {
		list = append(list, "This side up: the print has a top. An arrow on the back of each panel points to it; the arrows of one pillowcase all point the same way.")
	}
	if f.Opening == ByCuff {
		list = append(list, "Do not try to match the prints at the side seam: only the seams of the cuff meet.")
	}
	if f.French {
		list = append(list, fmt.Sprintf("Trim the first seam to %s: longer threads would show through the second one.", f.Trim))
	}
	return append(list, togetherEnglish(f)...)
}

// togetherEnglish says what belongs together, where a pillowcase has several panels.
func togetherEnglish(f CardFacts) []string {
	pieces, roles := 0, []string{}
	for _, p := range f.Panels {
		pieces += p.Pieces
		roles = append(roles, p.Role)
	}
	last := len(roles) - 1
	switch {
	case pieces < 2:
		return nil
	case f.OwnFabric:
		return []string{"Cut all panels of one pillowcase, and keep them together."}
	case last == 0:
		return []string{"Front and back of one pillowcase lie together in the bag: keep them together."}
	}
	return []string{upperFirst(strings.Join(roles[:last], ", ")) + " and " + roles[last] + " of one pillowcase lie together in the bag: keep them together."}
}

func contentsEnglish(f CardFacts) []string {
	names := map[string][2]string{
		"body": {"body panel", "body panels"}, "cuff": {"cuff", "cuffs"}, "accent": {"accent strip", "accent strips"},
	}
	var list []string
	if f.OwnFabric {
		cloth := "Cotton"
		if len(f.Fibres) > 0 {
			cloth = "Only " + strings.Join(f.Fibres, " or ")
		}
		if f.Washed {
			list = append(list, cloth+", washed once and pressed before you cut it")
		} else {
			list = append(list, cloth+", cut unwashed: the sizes below leave room for shrinking")
		}
	}
	for _, p := range f.Panels {
		name, known := names[p.Role]
		if !known {
			name = [2]string{p.Role, p.Role}
		}
		line := fmt.Sprintf("%s, %s around × %s along", countEnglish(p.Pieces*f.Cases, name[0], name[1]), p.Around, p.Along)
		if f.Cases > 1 && p.Pieces > 1 {
			line += fmt.Sprintf(" (%d for each)", p.Pieces)
		}
		if len(p.Of) > 0 {
			line += ": " + fabricsEnglish(p.Of)
		}
		list = append(list, line)
	}
	if f.Note != "" {
		list = append(list, f.Note)
	}
	return list
}

func fabricsEnglish(of []FabricFacts) string {
	said := make([]string, len(of))
	for i, f := range of {
		said[i] = fmt.Sprintf("lot %d", f.Lot)
		if f.Look != "" {
			said[i] = fmt.Sprintf("%s (lot %d)", f.Look, f.Lot)
		}
		if f.N > 0 {
			said[i] = fmt.Sprintf("%d %s", f.N, said[i])
		}
	}
	return strings.Join(said, "; ")
}

func stepsEnglish(f CardFacts) []Step {
	switch f.Opening {
	case ByFlap:
		return append(flapEnglish(f), lastEnglish())
	case ByHem:
		return append(append(sidesEnglish(f), hemEnglish(f, "Hem the open end", "Fold the open end to the inside, press, and stitch close to the inner fold, all the way round.")), lastEnglish())
	}
	return append(append(tubeEnglish(f), sidesEnglish(f)...), lastEnglish())
}

// tubeEnglish is the tube method: body rolled up inside the cuff, so that one
// seam joins all and hides every raw edge. Common practice, no source.
func tubeEnglish(f CardFacts) []Step {
	var steps []Step
	if f.PiecedTop {
		steps = append(steps, Step{"Piece the band", "Where the cuff or accent is in two pieces, sew them right sides together at one short end with a " + f.Join + " seam and press it open.", ""})
	}
	if f.Accent {
		steps = append(steps, Step{"Press the accent", "Fold it lengthwise, wrong sides together, and press: a long strip with both raw edges on one side.", FigureAccent})
	}
	lay := Step{"Lay the cuff", "Right side up, a long edge at the top.", FigureCuff}
	if f.Accent {
		lay.How += " On it the accent, its raw edges along that top edge."
	}
	steps = append(steps, lay)
	return append(steps,
		Step{"Lay the body on it", "Right side down, the edge for the open end along the top. If the print has an up and a down, see that the right end lies there. Pin the top edge through all layers.", FigureBody},
		Step{"Roll the body up", "From the bottom, until the roll lies on the middle of the cuff and " + f.KeepFree + " of cuff is free below it.", FigureRoll},
		Step{"Close the tube", "Bring the bottom edge of the cuff up over the roll to the top edge. The roll is now inside. Pin all raw edges together.", FigureTube},
		Step{"Sew the tube", "Along the top edge, " + f.Join + " from the raw edges, through all layers. Keep the roll clear of the needle.", FigureSew},
		Step{"Pull it through", "Take hold of the roll at one end of the tube and pull it out. Press the cuff away from the body" + accentEnglish(f, ", the accent flat on the body", "") + ".", FigurePull},
		Step{"Trim the sides", "If the edges do not meet, cut body" + accentEnglish(f, ", cuff and accent", " and cuff") + " to the narrowest of them, straight.", FigureTrim},
	)
}

func accentEnglish(f CardFacts, with, without string) string {
	if f.Accent {
		return with
	}
	return without
}

func sidesEnglish(f CardFacts) []Step {
	fold, seams := "Fold the case in half across its width", "the side and the closed end"
	if !f.Folded {
		fold, seams = "Lay front and back together", "both sides and the closed end"
		if f.Opening == ByCuff {
			fold = "Make the other half the same way and lay the two together"
		}
	}
	match := "."
	if f.Opening == ByCuff {
		match = ", the seams of the cuff meeting. The prints need not match at the side."
	}
	return closeEnglish(f, fold, match, seams)
}

// closeEnglish sews what is folded: once, or as a French seam.
func closeEnglish(f CardFacts, fold, match, seams string) []Step {
	once, first := FigureOnce, FigureFirst
	if f.Opening == ByFlap {
		once, first = FigureFlap, FigureFlap
	}
	if !f.French {
		return []Step{
			{"Sew " + seams, fold + ", right sides together" + match + " Sew " + f.First + " from the edge, back and forth where you start and stop.", once},
			{"Finish the edges", "Zigzag or overlock the raw edges, and turn the case right side out.", FigureEdges},
		}
	}
	return []Step{
		{"First seam", fold + ", wrong sides together, so that the right side is outside" + match + " Sew " + seams + ", " + f.First + " from the edge.", first},
		{"Trim and turn", "Trim that seam to " + f.Trim + ", cut the corners off close to the stitches, turn the case inside out and press along the seam.", FigureTurn},
		{"Second seam", "Sew the same seams again, " + f.Second + " from the edge, back and forth where you start and stop. Turn it right side out: no raw edge and no thread shows.", FigureSecond},
	}
}

func hemEnglish(f CardFacts, do, how string) Step {
	if f.HemTurn != "" {
		return Step{do, fmt.Sprintf("Fold %s under and press, then %s more. %s", f.HemTurn, f.HemDepth, how), FigureHem}
	}
	return Step{do, fmt.Sprintf("Fold %s under and press. %s", f.HemDepth, how), FigureHem}
}

// flapEnglish is the case of one piece that a flap closes on the inside. The
// order of folds puts the flap's right side against the front. Common practice,
// no source.
func flapEnglish(f CardFacts) []Step {
	steps := []Step{hemEnglish(f, "Hem both short ends", "Stitch close to the inner fold.")}
	if f.French {
		fold := "Lay the piece right side down. Fold one hemmed end in by " + f.Flap + ": that is the flap. Fold the other end over to the fold of the flap"
		return append(steps, closeEnglish(f, fold, ".", "both sides")...)
	}
	fold := "Lay the piece right side up. Fold one hemmed end over, so that all but " + f.Flap + " of the rest is covered; fold that flap back over it"
	return append(steps, closeEnglish(f, fold, ".", "both sides")...)
}

func lastEnglish() Step {
	return Step{"Look it over", "Press it, pull at the seams, cut the threads, and feel along every seam for pins.", FigureLook}
}

// careEnglish is general safety at the sewing table; rules of a school or a
// workroom and the maker's instructions come first.
func careEnglish() []string {
	return []string{
		"Iron: the plate and the steam burn. Stand it up or switch it off whenever you let go of it, keep its cord out of the way, and keep children at a distance.",
		"Rotary cutter: the blade is as sharp as a scalpel. Close it every time you put it down, cut away from yourself along a ruler, and leave it to adults or under an adult's eyes.",
		"Pins: count them before you start, take each out before it reaches the needle, never hold one in your mouth. If a needle breaks, find every piece of it, or keep that pillowcase back and say so.",
		"Switch the machine off before you thread it or change the needle. What its maker says, and the rules of a school or workroom, come before this card.",
	}
}

func countEnglish(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}
