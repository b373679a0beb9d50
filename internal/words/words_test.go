package words

import (
	"fmt"
	"reflect"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// cardFacts gives every kind of case that a card can speak about.
func cardFacts() map[string]CardFacts {
	base := CardFacts{
		Kit: "107", Cases: 6, Size: "Standard", Width: "20 1/2 in", Length: "30 1/2 in", Join: "1/4 in", First: "1/4 in", Second: "1/4 in",
		Trim: "1/8 in", French: true, Folded: true, Opening: ByCuff, Accent: true, KeepFree: "3 in", Drive: "Spring", Due: "14 Dec 2026", For: "Ward 4",
		Rules:  []string{"no buttons"},
		Panels: []PanelFacts{{Role: "body", Pieces: 1, Around: "42 in", Along: "27 in"}, {Role: "cuff", Pieces: 1, Around: "42 in", Along: "9 in"}, {Role: "accent", Pieces: 1, Around: "42 in", Along: "2 in"}},
	}
	plain, two, hem, flap, own, flapPlain := base, base, base, base, base, base
	plain.French, plain.Accent, plain.Second, plain.Trim = false, false, "", ""
	two.Folded, two.PiecedTop = false, true
	hem.Opening, hem.Accent, hem.HemDepth, hem.HemTurn = ByHem, false, "1 in", "1/4 in"
	flap.Opening, flap.Accent, flap.HemDepth, flap.Flap = ByFlap, false, "1 in", "8 in"
	flapPlain = flap
	flapPlain.French = false
	own.OwnFabric, own.Cases, own.Due, own.Rules, own.Note = true, 1, "", nil, "red prints"
	own.Washed, own.Fibres = true, []string{"cotton", "linen"}
	return map[string]CardFacts{"tube": base, "plain": plain, "two": two, "hem": hem, "flap": flap, "flap plain": flapPlain, "own": own}
}

func text(c Card) string { return fmt.Sprintf("%+v", c) }

func TestEveryCardInEveryLanguage(t *testing.T) {
	for _, l := range Languages() {
		for name, f := range cardFacts() {
			c := l.Card(f)
			require.Equal(t, l.Tag, c.Lang)
			require.GreaterOrEqual(t, len(c.Steps), 4, "%s: steps", name)
			require.GreaterOrEqual(t, len(c.Care), 3, "%s: cautions", name)
			require.NotContains(t, text(c), "  ", "%s: a length that does not apply leaves a gap", name)
			require.NotContains(t, text(c), " .", "%s", name)
			require.NotContains(t, text(c), "%!", "%s", name)
			v := reflect.ValueOf(c)
			for _, field := range []string{"Title", "What", "In", "Finished", "StepsTitle", "CareTitle", "BackTitle"} {
				require.NotEmpty(t, v.FieldByName(field).String(), "%s: %s", name, field)
			}
		}
	}
}

func TestEnglishCardSaysWhatApplies(t *testing.T) {
	facts := cardFacts()
	for name, c := range map[string]struct{ says, saysNot []string }{
		"tube":       {[]string{"Fold it lengthwise", "Trim that seam to 1/8 in", "6 body panels, 42 in around × 27 in along", "by 14 Dec 2026", "What Ward 4 asks for", "Roll the body up"}, []string{"overlock", "other half", "Hem"}},
		"plain":      {[]string{"Zigzag", "right sides together"}, []string{"Trim that seam", "Press the accent"}},
		"two":        {[]string{"Make the other half the same way", "both sides and the closed end", "Piece the band"}, []string{"Fold the case in half"}},
		"hem":        {[]string{"Fold 1/4 in under and press, then 1 in more"}, []string{"Roll", "cuff meeting"}},
		"flap":       {[]string{"right side down. Fold one hemmed end in by 8 in", "Fold 1 in under and press. Stitch"}, []string{"Roll", "closed end"}},
		"flap plain": {[]string{"right side up", "all but 8 in of the rest"}, []string{"Trim that seam"}},
		"own":        {[]string{"To cut from your own fabric", "1 pillowcase,", "red prints", "Only cotton or linen, washed once"}, []string{"bring it back by", "asks for", "6 body"}},
	} {
		card := text(In("en").Card(facts[name]))
		for _, says := range c.says {
			require.Contains(t, card, says, name)
		}
		for _, not := range c.saysNot {
			require.NotContains(t, strings.ReplaceAll(card, "iron", ""), not, name)
		}
	}
}

// What belongs together is named as the kit has it: nothing of somebody's own cloth lies in a bag, and a case
// of one piece has nothing to keep together.
func TestCardSaysWhatBelongsTogether(t *testing.T) {
	base := cardFacts()["tube"]
	plain, halves, flap, own := base, base, base, base
	plain.Accent, plain.Panels = false, base.Panels[:2]
	halves.Opening, halves.Accent, halves.Panels = ByHem, false, []PanelFacts{{Role: "body", Pieces: 2, Around: "21 in", Along: "31 in"}}
	flap.Opening, flap.French, flap.Accent, flap.Panels = ByFlap, false, false, base.Panels[:1]
	own.OwnFabric = true
	for name, c := range map[string]struct {
		facts CardFacts
		want  []string
	}{
		"three":  {base, []string{"Body, cuff and accent of one pillowcase lie together in the bag: keep them together."}},
		"two":    {plain, []string{"Body and cuff of one pillowcase lie together in the bag: keep them together."}},
		"halves": {halves, []string{"Front and back of one pillowcase lie together in the bag: keep them together."}},
		"flap":   {flap, nil},
		"own":    {own, []string{"Cut all panels of one pillowcase, and keep them together."}},
	} {
		var told []string
		for _, line := range In("en").Card(c.facts).Matters {
			if strings.Contains(line, "together") {
				told = append(told, line)
			}
		}
		require.Equal(t, c.want, told, name)
	}
}

func TestCautionsAreOnEveryCard(t *testing.T) {
	for name, f := range cardFacts() {
		card := text(In("en").Card(f))
		for _, danger := range []string{"Iron", "Rotary cutter", "Pins", "Count your pins"} {
			require.Contains(t, card, danger, name)
		}
	}
}

func TestUnknownLanguageIsEnglish(t *testing.T) {
	require.Equal(t, "en", In("tlh").Tag)
}

func ExampleLanguage_Card() {
	c := In("en").Card(CardFacts{Kit: "107", Cases: 1, Size: "Standard", Opening: ByHem, Folded: true, HemDepth: "1 in", First: "1/2 in"})
	fmt.Println(c.Title + ": " + c.What)
	fmt.Println(c.Steps[0].Do)
	// Output:
	// Kit 107: 1 pillowcase, Standard
	// Sew the side and the closed end
}

func TestTime(t *testing.T) {
	en := In("en")
	for minutes, want := range map[int]string{
		0: "about 5 minutes", 28: "about 30 minutes", 51: "about 55 minutes", 56: "about 1 hour", 60: "about 1 hour",
		61: "about 1 1/4 hours", 90: "about 1 1/2 hours", 170: "about 3 hours", 226: "about 4 hours",
	} {
		require.Equal(t, want, en.Time(minutes), "Time(%d)", minutes)
	}
	card := en.Card(CardFacts{Cases: 4, Minutes: 118, Width: "20 in", Length: "30 in"})
	require.Equal(t, "Finished: 20 in wide and 30 in long, laid flat. To sew: about 2 hours.", card.Finished)
}

// Who counted as many as were sent, in other boxes than the note has them, reads that count too.
func TestWhatCameAboveTheNoteIsAddedUp(t *testing.T) {
	sent := ReceiveDelivery{Number: 1, Cases: 12, Boxes: 2, Said: true}
	says := func(arrived, above int) string {
		sent.Arrived, sent.Above = arrived, above
		return receiveDeliveryEnglish(sent).Says[1]
	}
	require.Equal(t, "You have 11 of them, and 1 above the note, 12 in all.", says(11, 1))
	require.Equal(t, "You have all of them, and 1 above the note. Thank you for saying so.", says(12, 1))
	require.Equal(t, "You have 11 of them.", says(11, 0))
}
