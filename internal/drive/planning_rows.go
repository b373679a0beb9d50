package drive

import (
	"fmt"
	"strings"
	"time"
)

// PlanFromRows makes what a plan is made from out of two spreadsheets, by the
// rules of the drive: lots by their code, lines by recipient and sizes, sizes by
// name among those given. Lots without a size are left out, as on the shelf. The
// fates say what is wrong with which row; with one refused the input is of the
// others.
func PlanFromRows(d Drive, fabric []Incoming[LotIn], asked []Incoming[AskedIn], sizes []PlanSize) (in PlanInput, fabricFates, askedFates []RowFate) {
	in = PlanInput{Washing: d.Washing, KitCases: d.KitCases, KeepWidth: d.KeepWidth, KeepLength: d.KeepLength, Sizes: sizes}
	fabricFates, lots := JudgeFabric(d, lastReceived(fabric), fabric, nil, nil)
	for _, lot := range lots {
		if lot.Measured == nil {
			continue
		}
		m, err := Measure(d, Lot{}, *lot.Measured, 1)
		if err != nil {
			refuseFields(&fabricFates[lot.Row], fabric[lot.Row].Value, err)
			fabricFates[lot.Row].Fate = FateRefused
			continue
		}
		in.Cloths = append(in.Cloths, clothsOf(lot.Tagging, m)...)
	}
	numbers := map[string]int64{}
	for i, s := range sizes {
		numbers[strings.ToLower(s.ID)] = int64(i)
	}
	askedFates, lines := JudgeAsked(firstDue(asked), asked, AskedHere{Sizes: numbers})
	seen := map[string]int{}
	for _, line := range lines {
		in.Wants = append(in.Wants, line.want(sizes, seen))
	}
	return in, fabricFates, askedFates
}

// clothsOf gives the pieces of a lot, those of one size together.
func clothsOf(t Tagging, m MeasuredLot) []Cloth {
	strips, parted := map[int]bool{}, false
	for _, p := range m.Pieces {
		strips[p.Piece] = p.Kind == PieceBorder || p.Origin != nil && strips[*p.Origin]
		parted = parted || strips[p.Piece]
	}
	var list []Cloth
	for i, p := range m.Pieces {
		if m.Lengths[i] == 0 {
			continue
		}
		is := m.Lot.Make
		c := Cloth{
			ID: t.Tag + "/" + fmt.Sprint(p.Piece), Pieces: 1, Width: p.Width, Length: m.Lengths[i], Fibre: is.Fibre, Weight: is.Weight,
			Washed: is.Washed, Print: is.Print, Turn: is.Turn, Border: is.Border, Strip: strips[p.Piece], TrimOK: is.TrimOK,
			Colours: is.Colours, Themes: is.Themes, SetAside: t.SetAside,
		}
		if parted {
			c.Border = ""
		}
		if n := len(list); n > 0 && list[n-1].Width == c.Width && list[n-1].Length == c.Length && list[n-1].Strip == c.Strip {
			list[n-1].Pieces++
			continue
		}
		list = append(list, c)
	}
	return list
}

// want gives the line by who asks for which size; a second one of the same name
// says so.
func (a AskedDecided) want(sizes []PlanSize, seen map[string]int) Want {
	name := a.Recipient.Name + ", " + strings.Join(a.SizeNames, " or ")
	seen[name]++
	if n := seen[name]; n > 1 {
		name = fmt.Sprintf("%s (%d)", name, n)
	}
	w := Want{
		ID: name, Name: name, Wanted: a.Line.Wanted, Weight: a.Line.Weight, ThemesWanted: a.Line.ThemesWanted, ThemesAvoid: a.Line.ThemesAvoid,
		Fibres: a.Recipient.Fibres,
	}
	for _, i := range a.Line.Sizes {
		w.Sizes = append(w.Sizes, sizes[i].ID)
	}
	if a.Line.KitCases != nil {
		w.KitCases = *a.Line.KitCases
	}
	return w
}

// firstDue and lastReceived stand in for today, so that a file is planned the
// same whatever day it is: no day in it has passed or is yet to come.
func firstDue(rows []Incoming[AskedIn]) time.Time {
	var first time.Time
	for _, r := range rows {
		if due := r.Value.Line.Due; due != nil && (first.IsZero() || due.Before(first)) {
			first = *due
		}
	}
	return first
}

func lastReceived(rows []Incoming[LotIn]) time.Time {
	var last time.Time
	for _, r := range rows {
		if r.Value.ReceivedOn.After(last) {
			last = r.Value.ReceivedOn
		}
	}
	return last
}
