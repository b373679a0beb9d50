package paper

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"os"
	"strings"
	"testing"
	"time"

	"boltward/internal/drive"
	"boltward/internal/length"
	"boltward/internal/papertest"
	"boltward/internal/sizing"

	"github.com/stretchr/testify/require"
)

// kitsToSew are kits of the kinds there are: by the tube method with an accent,
// hemmed, closed by a flap, front and back, of their own fabric, one that parted.
func kitsToSew(t *testing.T) []drive.KitToSew {
	t.Helper()
	due := time.Date(2026, time.December, 14, 0, 0, 0, 0, time.UTC)
	q := length.Inch / 4
	tube := sizing.Spec{
		Width: 82 * q, Length: 122 * q, Cuff: 17 * q, Accent: 3 * q, Join: q,
		Seam: sizing.Seam{Kind: sizing.French, First: q, Second: q}, Body: sizing.Folded, Unit: length.In,
	}
	two := tube
	two.Body, two.Accent = sizing.FrontAndBack, 0
	hem := sizing.Spec{Width: 80 * q, Length: 120 * q, Seam: sizing.Seam{Kind: sizing.Plain, First: 2 * q}, Body: sizing.Folded, Hem: sizing.Hem{Depth: 4 * q, Turn: q}, Unit: length.In}
	base := drive.KitToSew{
		KitRef: drive.KitRef{Number: 107, Part: 1}, Cases: 4, State: drive.KitOut, Due: &due, SizeName: "Standard", Spec: tube,
		ForWhom: "Alder Ward", Rules: []string{"no buttons, beads or glitter", "no fragrance: wash without softener"}, Whole: true,
		Cloth: []drive.KitPanels{
			{Role: "body", Lot: 42, Look: "feature, blue, foxes", OneWay: true, N: 2},
			{Role: "body", Lot: 57, Look: "feature, green, trains", N: 2},
			{Role: "cuff", Lot: 3, Look: "solid, navy", N: 4},
			{Role: "accent", Lot: 9, Look: "tonal, white", N: 4},
		},
	}
	second, third, fourth := base, base, base
	second.KitRef, second.Spec, second.Cloth, second.SizeName, second.Cases = drive.KitRef{Number: 108, Part: 1}, two, nil, "Two sides", 2
	third.KitRef, third.Spec, third.Cloth, third.SizeName, third.Cases = drive.KitRef{Number: 1234, Part: 12}, hem, nil, "Hemmed", 1
	third.Rules = []string{strings.Repeat("a rule that a ward wrote down at some length because it matters there; ", 30)}
	fourth.KitRef, fourth.OwnFabric, fourth.Cloth, fourth.Note, fourth.Fibres = drive.KitRef{Number: 9, Part: 1}, true, nil, "bright prints, nothing dark", []string{"cotton"}
	fourth.State, fourth.Rules = drive.KitReady, nil
	return []drive.KitToSew{base, second, third, fourth}
}

const kitBase = "https://drive.example.org"

func kitDrive() drive.Drive {
	d := spring()
	d.Ask = "Kit desk, Thursdays 10 to 12, 555 0142"
	return d
}

func kitCards(t *testing.T) []KitCard {
	t.Helper()
	var cards []KitCard
	for _, k := range kitsToSew(t) {
		c, err := NewKitCard(kitDrive(), kitBase, "en", k, "")
		require.NoError(t, err)
		cards = append(cards, c)
	}
	return cards
}

func TestGoldenKitCards(t *testing.T) {
	for name, s := range map[string]Sheet{"a4": A4, "letter": Letter} {
		var pdf, again bytes.Buffer
		require.NoError(t, KitCards(&pdf, "Cards", s, kitCards(t), made))
		require.NoError(t, KitCards(&again, "Cards", s, kitCards(t), made))
		require.Equal(t, pdf.Bytes(), again.Bytes(), "the same cards are the same bytes")
		golden(t, "kit-cards-"+name, pdf.Bytes())
	}
}

// A usual kit takes both sides of one sheet; nothing lies behind the slip, and
// nothing leaves the paper.
func TestCardsKeepToTheirSides(t *testing.T) {
	for _, s := range []Sheet{A4, Letter} {
		for i, c := range kitCards(t) {
			var pdf bytes.Buffer
			require.NoError(t, KitCards(&pdf, "Card", s, []KitCard{c}, made))
			sheets := readSheets(t, pdf.Bytes())
			if i != 2 { // the ward with the long rule
				require.Equal(t, 2, len(sheets), "kit %s on %v", c.Number, s)
			}
			slip := mm(s.Height) - slipHigh
			require.Contains(t, sheets[0].words(), c.Slip.Title)
			for n, sheet := range sheets {
				for _, said := range sheet.texts {
					require.Less(t, said.y, mm(s.Height)-5, "%q", said.words)
					require.GreaterOrEqual(t, said.x, cardEdge-0.01, "%q", said.words)
					if n == 1 {
						require.Less(t, said.y, slip, "behind the slip of kit %s: %q", c.Number, said.words)
					}
				}
			}
		}
	}
}

// Every word of the card is on the paper.
func TestCardsSayAllThereIs(t *testing.T) {
	for _, c := range kitCards(t) {
		var pdf bytes.Buffer
		require.NoError(t, KitCards(&pdf, "Card", A4, []KitCard{c}, made))
		var all strings.Builder
		for _, sheet := range readSheets(t, pdf.Bytes()) {
			all.WriteString(sheet.words())
		}
		said := strings.Join(strings.Fields(all.String()), " ")
		texts := append([]string{c.Title, c.What, c.Ask, c.Sizes, c.Figures, c.From}, c.Contents...)
		texts = append(append(append(append(texts, c.Care...), c.Back...), c.Matters...), c.Asks...)
		for _, step := range c.Steps {
			texts = append(texts, step.Do, step.How)
		}
		for _, text := range texts {
			for _, word := range strings.Fields(text) {
				require.Contains(t, said, word, "%q", text)
			}
		}
	}
}

// Panels on the card are to one scale, read from the PDF's own coordinates; one
// that is wrong by 1/8 in stands out.
func TestPanelsOfACardAreToScale(t *testing.T) {
	c := kitCards(t)[0]
	var pdf bytes.Buffer
	require.NoError(t, KitCards(&pdf, "Card", A4, []KitCard{c}, made))
	scale, eighth := 0.0, mm(length.Inch)/8
	for _, p := range c.Drawn {
		found := false
		for _, b := range readSheets(t, pdf.Bytes())[0].boxes {
			if scale == 0 && math.Abs(b.w/b.h-mm(p.Around)/mm(p.Along)) < 0.001 && b.w > 40 {
				scale = b.w / mm(p.Around)
			}
			found = found || scale > 0 && math.Abs(b.w/scale-mm(p.Around)) < eighth/2 && math.Abs(b.h/scale-mm(p.Along)) < eighth/2
		}
		require.True(t, found, "%s of %s", p.Role, p.Words)
	}
	require.Greater(t, scale, 0.04, "large enough to see")
}

func TestEveryStepIsDrawn(t *testing.T) {
	for _, c := range kitCards(t) {
		for _, step := range c.Steps {
			f := DrawStep(step.Figure, MakeOf(c.Facts))
			require.NotEmpty(t, f, "kit %s: %s", c.Number, step.Do)
			for _, s := range f {
				for _, p := range s.Points {
					require.True(t, p.X >= -0.01 && p.X <= FigureWidth+0.01 && p.Y >= -0.01 && p.Y <= FigureHeight+0.6, "%s: %v is off the drawing", step.Figure, p)
				}
			}
		}
	}
	require.Nil(t, DrawStep("nothing", Make{}))
}

func TestKitCodesAreReadBack(t *testing.T) {
	papertest.Needs(t, "zbarimg")
	for _, c := range kitCards(t)[1:3] {
		var pdf bytes.Buffer
		require.NoError(t, KitCards(&pdf, "Card", Letter, []KitCard{c}, made))
		half, third := Letter.Width/2, Letter.Height/3
		require.Equal(t, c.Address, readCode(t, pdf.Bytes(), half, 0, half, third), "on the card")
		require.Equal(t, c.Address, readCode(t, pdf.Bytes(), half, 2*third, half, third), "on its slip")
	}
	// The code of somebody's own page stands on the card while they have the kit, and never after.
	k := kitsToSew(t)[0]
	const own = "https://drive.example.org/v/AbCdEfGhIjKlMnOpQrStUvWxYz012345.AbCdEfGhIjKlMnOpQrStUvWxYz0123456789_-abcdE"
	c, err := NewKitCard(kitDrive(), kitBase, "en", k, own)
	require.NoError(t, err)
	var pdf bytes.Buffer
	require.NoError(t, KitCards(&pdf, "Card", Letter, []KitCard{c}, made))
	require.Equal(t, own, readCode(t, pdf.Bytes(), 0, Letter.Height/4, Letter.Width, Letter.Height/2))
	if kept := os.Getenv("BOLTWARD_PICTURES"); kept != "" {
		papertest.Drawn(t, pdf.Bytes(), kept, "kit-card-own", 110)
	}
	k.State, k.Due = drive.KitReady, nil
	c, err = NewKitCard(kitDrive(), kitBase, "en", k, own)
	require.NoError(t, err)
	require.Empty(t, c.OwnAddress)
	require.Empty(t, c.OwnTitle)
	for _, p := range someLabelPapers() {
		labels := kitLabels(t)[:min(4, p.PerSheet())]
		var pdf bytes.Buffer
		require.NoError(t, KitLabels(&pdf, "Labels", p, 1, labels, made))
		for i, l := range labels {
			x, y := p.At(i)
			require.Equal(t, l.Address, readCode(t, pdf.Bytes(), x, y, p.LabelWidth, p.LabelHeight), "%s, label %d", p.Name, i+1)
		}
		for _, b := range readSheets(t, pdf.Bytes())[0].boxes {
			placeOf(t, p, b)
		}
	}
}

// A box is labelled as kits are: its code is read as a printer prints it, on every paper.
func TestBoxCodesAreReadBack(t *testing.T) {
	papertest.Needs(t, "zbarimg")
	rows := []drive.NoteRow{{Box: 12, Size: "standard", Theme: "space", N: 6}, {Box: 12, Size: "standard", N: 4}, {Box: 12, Size: "travel", Theme: "farm, trains", N: 2}}
	label := NewBoxLabel(kitDrive(), kitBase, "en", 12, "Children's ward 4 at the hospital by the lake", rows)
	require.Equal(t, Address(kitBase, kitDrive().ID, drive.CodeBox, "12"), label.Address)
	for _, p := range someLabelPapers() {
		var pdf bytes.Buffer
		require.NoError(t, KitLabels(&pdf, "Labels", p, 1, []KitLabel{label}, made))
		x, y := p.At(0)
		require.Equal(t, label.Address, readCode(t, pdf.Bytes(), x, y, p.LabelWidth, p.LabelHeight), p.Name)
		require.Contains(t, readSheets(t, pdf.Bytes())[0].words(), "12")
	}
}

// However long the name is, a label says how many pillowcases lie in its box, and of the first of what.
func TestABoxForALongNameSaysWhatLiesInIt(t *testing.T) {
	rows := []drive.NoteRow{{Box: 12, Size: "standard", N: 10}}
	name := "Children's day surgery ward of the university hospital by the lake, building 4, second floor, on the right"
	label := NewBoxLabel(kitDrive(), kitBase, "en", 12, name, rows)
	for _, p := range drive.ReadyLabelPapers(length.In) {
		var pdf bytes.Buffer
		require.NoError(t, KitLabels(&pdf, "Labels", p, 1, []KitLabel{label}, made))
		words := strings.ReplaceAll(readSheets(t, pdf.Bytes())[0].words(), "\n", " ")
		for _, said := range []string{"Box of 10 pillowcases", "Children's day", "10 standard"} {
			require.Contains(t, words, said, p.Name)
		}
		require.True(t, strings.Contains(words, "on the right") || strings.Contains(words, "…"), "%s: what is left out shows: %s", p.Name, words)
	}
}

func kitLabels(t *testing.T) []KitLabel {
	t.Helper()
	var labels []KitLabel
	for _, k := range kitsToSew(t) {
		l, err := NewKitLabel(kitDrive(), kitBase, "en", k)
		require.NoError(t, err)
		labels = append(labels, l)
	}
	return labels
}

func TestGoldenKitLabels(t *testing.T) {
	for _, p := range drive.ReadyLabelPapers(length.In) {
		var pdf bytes.Buffer
		require.NoError(t, KitLabels(&pdf, "Labels", p, 2, kitLabels(t), made))
		golden(t, "kit-labels"+fmt.Sprint(p.Number), pdf.Bytes())
	}
	_, err := NewKitLabel(kitDrive(), kitBase, "en", drive.KitToSew{})
	require.Error(t, err, "a spec that cannot be sewn")
	require.ErrorContains(t, KitLabels(io.Discard, "", someLabelPapers()[0], 99, nil, made), "labels 1 to")
}
