// Package outlook makes the outlook of a drive: it hands what is known of one to package forecast,
// plays everything that pages tell of it, and says whether that is so much that it had better be
// kept than done while somebody waits. It is pure: the same facts give the same outlook.
package outlook

import (
	"encoding/json"
	"fmt"
	"slices"

	"boltward/internal/drive"
	"boltward/internal/forecast"
)

// Form is that of what is kept; it changes with what the fields of Outlook mean.
const Form = 1

// mostAtOnce is how many events may be played while somebody waits: about a twentieth of a second.
const mostAtOnce = 250_000

// Outlook is when everything in a drive will be done.
type Outlook struct {
	Today int   // the day it was made, counted as Day does
	Plan  int64 // the newest plan, which says what there is no cloth for; 0 for none
	Now   forecast.Result
	Rest  forecast.Result // of what there is cloth for
	// What would help: nil and none before Help.
	People *forecast.Result // of Rest, with two people more who sew
	Cloth  []Cloth
	Good   []forecast.Event // what became good of a line on a day
	Lines  []Line           // what is asked for, but for what is closed
}

// Cloth is what some cloth more would bring.
type Cloth struct {
	Wish drive.Wish // its For and Length
	Then forecast.Result
}

// Line is how a line stood.
type Line struct {
	Number, Recipient int64
	Asked, Good       int
	Due               *int
}

// MorePeople is with how many people more People is played.
const MorePeople = 2

// Player plays the rest of one drive.
type Player struct {
	in     forecast.Input
	wishes []drive.Wish
	found  Outlook
	with   map[int]forecast.Result // by wish
}

// Play plays the rest of a drive as it stands.
func Play(facts drive.OutlookFacts) *Player {
	p := &Player{in: input(facts), wishes: facts.Wishes, with: map[int]forecast.Result{}}
	o := &p.found
	o.Today, o.Plan, o.Good = p.in.Today, facts.Plan, byDay(p.in.Good)
	for _, l := range facts.Lines {
		if !l.Closed {
			st := l.Standing()
			o.Lines = append(o.Lines, Line{Number: l.Number, Recipient: l.Recipient, Asked: l.Wanted, Good: min(l.Wanted, st.Delivered+st.Good), Due: day(l.Due)})
		}
	}
	o.Now = forecast.Of(p.in)
	o.Rest = o.Now
	if o.Now.All.NoCloth > 0 {
		o.Rest = forecast.Of(p.in.WithoutLacking())
	}
	return p
}

// Large says whether the drive as it stands, without what would help, takes too long to be
// played while somebody waits.
func (o Outlook) Large() bool {
	events := o.Now.Events
	if o.Now.All.NoCloth > 0 {
		events += o.Rest.Events
	}
	return events > mostAtOnce
}

// Help plays what would help one recipient, or, for 0, everybody: people, and the first wish that
// there is less without cloth with.
func (p *Player) Help(recipient int64) {
	if p.found.People == nil {
		more := forecast.Of(p.in.WithoutLacking().WithPeople(MorePeople))
		p.found.People = &more
	}
	lacks := lacking(p.in.Lines, recipient)
	for i, w := range p.wishes {
		in := p.in.WithCloth(clothFor(w, p.in.Lines))
		if lacking(in.Lines, recipient) >= lacks {
			continue
		}
		if _, played := p.with[i]; !played {
			p.with[i] = forecast.Of(in)
		}
		return
	}
}

// HelpAll plays what would help everybody, and each recipient.
func (p *Player) HelpAll() {
	p.Help(0)
	for _, l := range p.found.Lines {
		p.Help(l.Recipient)
	}
}

// Outlook gives what was played so far.
func (p *Player) Outlook() Outlook {
	o := p.found
	for i, w := range p.wishes {
		if then, played := p.with[i]; played {
			o.Cloth = append(o.Cloth, Cloth{drive.Wish{For: w.For, Length: w.Length}, then})
		}
	}
	return o
}

// Found gives what is to be kept of a drive with all that would help, and nil where that is so
// little work that pages do it themselves.
func Found(facts drive.OutlookFacts) ([]byte, error) {
	p := Play(facts)
	if !p.found.Large() {
		return nil, nil
	}
	p.HelpAll()
	return p.Outlook().Keep()
}

// Keep writes an outlook down, but for what is good week by week of what pages draw nothing of.
func (o Outlook) Keep() ([]byte, error) {
	o.Now, o.Rest = withoutBands(o.Now, true), withoutBands(o.Rest, true)
	if o.Now.All.NoCloth == 0 { // the same twice
		o.Rest = forecast.Result{}
	}
	if o.People != nil {
		people := withoutBands(*o.People, false)
		o.People = &people
	}
	o.Cloth = slices.Clone(o.Cloth)
	for i := range o.Cloth {
		o.Cloth[i].Then = withoutBands(o.Cloth[i].Then, false)
	}
	text, err := json.Marshal(o)
	if err != nil {
		return nil, fmt.Errorf("keep an outlook: %w", err)
	}
	return text, nil
}

// Read reads what Keep wrote.
func Read(text []byte) (o Outlook, err error) {
	if err := json.Unmarshal(text, &o); err != nil {
		return o, fmt.Errorf("read an outlook: %w", err)
	}
	if o.Now.All.NoCloth == 0 {
		o.Rest = o.Now
	}
	return o, nil
}

// withoutBands takes the bands of lines out, and unless they are drawn those of all and recipients.
func withoutBands(res forecast.Result, drawn bool) forecast.Result {
	without := func(of map[int64]forecast.Outlook) map[int64]forecast.Outlook {
		bare := make(map[int64]forecast.Outlook, len(of))
		for id, o := range of {
			o.Band = nil
			bare[id] = o
		}
		return bare
	}
	res.Lines = without(res.Lines)
	if !drawn {
		res.All.Band, res.Groups = nil, without(res.Groups)
	}
	return res
}

// byDay joins what became good of a line on a day.
func byDay(events []forecast.Event) []forecast.Event {
	type place struct {
		day  int
		line int64
	}
	at := map[place]int{}
	var joined []forecast.Event
	for _, e := range events {
		i, there := at[place{e.Day, e.Line}]
		if !there {
			at[place{e.Day, e.Line}] = len(joined)
			joined = append(joined, e)
			continue
		}
		joined[i].N += e.N
	}
	return joined
}

// lacking is how many pillowcases there is no cloth for, of one recipient or, for 0, of everybody.
func lacking(lines []forecast.Line, recipient int64) (n int) {
	for _, l := range lines {
		if recipient == 0 || l.Group == recipient {
			n += min(l.NoCloth, max(0, l.Need))
		}
	}
	return n
}

// clothFor is how many more each line gets of cloth that is asked for.
func clothFor(w drive.Wish, lines []forecast.Line) map[int64]int {
	more := map[int64]int{}
	for _, l := range lines {
		for _, m := range w.Lines {
			if m.ID == drive.NumberID(l.ID) {
				more[l.ID] = m.To - m.From
			}
		}
	}
	return more
}
