package postgres

import (
	"context"
	"fmt"
	"maps"
	"math/rand/v2"
	"slices"

	"boltward/internal/apperr"
	"boltward/internal/drive"
)

// lateDeeds are what seldom comes about where every deed is as likely as another: what happens to
// kits that are out, and to pillowcases once they are back.
var lateDeeds = map[string]deed{
	"give to a line": func(ctx context.Context, h *hall, r *rand.Rand, act drive.Act) error {
		spares, err := h.Spares(ctx, "spring")
		if err != nil {
			return err
		}
		s, err := pick(r, spares)
		if err != nil {
			return err
		}
		_, err = h.GiveToLine(ctx, act, s.Stack, 1+r.IntN(s.N), h.lines[r.IntN(len(h.lines))].Number)
		return err
	},
	"undo giving": func(ctx context.Context, h *hall, r *rand.Rand, act drive.Act) error {
		steps, err := h.CasesLately(ctx, "spring", 30)
		if err != nil {
			return err
		}
		s, err := pick(r, slices.DeleteFunc(steps, func(s CaseStep) bool { return s.From != s.To || s.Undone }))
		if err != nil {
			return err
		}
		_, err = h.UndoCases(ctx, act, h.lines[r.IntN(len(h.lines))].Number, s.ID)
		return err
	},
	"lower a line": func(ctx context.Context, h *hall, r *rand.Rand, act drive.Act) error {
		a, err := h.Asked(ctx, "spring", h.lines[r.IntN(len(h.lines))].Number)
		if err != nil {
			return err
		}
		a.Wanted, a.Beyond = max(1, a.Wanted-r.IntN(15)), []drive.Beyond{drive.BeyondKeep, drive.BeyondRelease}[r.IntN(2)]
		a.Sizes = [][]int64{{1}, {2}, {1, 2}}[r.IntN(3)]
		_, err = h.UpdateAsked(ctx, act, a)
		return err
	},
	"raise a line": func(ctx context.Context, h *hall, r *rand.Rand, act drive.Act) error {
		a, err := h.Asked(ctx, "spring", h.lines[r.IntN(len(h.lines))].Number)
		if err != nil {
			return err
		}
		a.Wanted += r.IntN(12)
		_, err = h.UpdateAsked(ctx, act, a)
		return err
	},
	"forget somebody": func(ctx context.Context, h *hall, r *rand.Rand, act drive.Act) error {
		if r.IntN(3) > 0 {
			return errNothing
		}
		i := r.IntN(len(h.people))
		if _, err := h.ErasePerson(ctx, act, h.people[i]); err != nil {
			return err
		}
		saved, err := h.CreatePerson(ctx, h.act(h.key()), drive.Person{Name: "New " + act.Key, Kind: drive.PersonVolunteer, Heads: 1}, nil)
		h.people[i] = saved.Number
		return err
	},
	"rest": func(ctx context.Context, h *hall, r *rand.Rand, act drive.Act) error {
		p, err := h.Person(ctx, "spring", h.people[r.IntN(len(h.people))])
		if err != nil {
			return err
		}
		if p.Active == (r.IntN(5) > 0) {
			return errNothing
		}
		p.Active = !p.Active
		_, err = h.UpdatePerson(ctx, act, p, nil)
		return err
	},
	"say of a kit": func(ctx context.Context, h *hall, r *rand.Rand, act drive.Act) error {
		list, err := h.Kits(ctx, "spring", KitsQuery{Where: KitsOut, Today: h.day(r)})
		if err != nil {
			return err
		}
		k, err := pick(r, list.Kits)
		if err != nil {
			return err
		}
		report := drive.KitReport{KitRef: k.KitRef, Person: *k.Holder, Kind: drive.ReportFinished, Cases: 1 + r.IntN(k.Cases)}
		if r.IntN(2) == 0 {
			report.Kind, report.Cases = drive.ReportCannot, 0
		}
		_, err = h.ReportKit(ctx, act, report)
		return err
	},
	"undo split": func(ctx context.Context, h *hall, r *rand.Rand, act drive.Act) error {
		k, err := h.kit(ctx, r, KitsAnywhere)
		if err != nil {
			return err
		}
		_, err = h.UndoSplitKit(ctx, act, k)
		return err
	},
	"take in": func(ctx context.Context, h *hall, r *rand.Rand, act drive.Act) error {
		k, err := h.kit(ctx, r, []KitsWhere{KitsOut, KitsLost}[r.IntN(2)])
		if err != nil {
			return err
		}
		_, err = h.TakeIn(ctx, act, k, drive.KitCounted{Sewn: r.IntN(6), RestUnsewn: r.IntN(3) == 0, OwnFabric: r.IntN(2) == 0, StillLost: max(0, r.IntN(5)-2)}, h.day(r))
		return err
	},
	"lose": onKit(KitsOut, func(ctx context.Context, h *hall, r *rand.Rand, act drive.Act, k drive.KitRef) error {
		_, err := h.KitLost(ctx, act, k, "on the bus", h.day(r))
		return err
	}),
	"find": onKit(KitsLost, func(ctx context.Context, h *hall, r *rand.Rand, act drive.Act, k drive.KitRef) error {
		_, err := h.KitFound(ctx, act, k, r.IntN(5), max(0, r.IntN(5)-2), h.day(r))
		return err
	}),
}

// lateNames are deeds in the order of the way, each as often as it is to be done.
func lateNames() []string {
	names := slices.Sorted(maps.Keys(lateDeeds))
	for _, name := range []string{
		"own fabric", "plan", "accept", "cut", "ready", "not ready after all", "hand out", "give again", "take back", "undo taking back", "undo hand-out", "check", "mended here", "send to mend", "promise",
		"bring in", "pack", "deliver", "confirm", "settle", "undo a step", "unpack", "take apart", "split",
	} {
		names = append(names, name)
		switch name {
		case "check", "pack", "deliver", "confirm", "settle", "take back", "hand out", "send to mend", "split":
			names = append(names, name, name)
		}
	}
	return names
}

// doLate lets somebody do one thing by chance, late things more often.
func (h *hall) doLate(ctx context.Context, r *rand.Rand) (string, error) {
	names := lateNames()
	name := names[r.IntN(len(names))]
	do := lateDeeds[name]
	if do == nil {
		do = deeds[name]
	}
	err := do(ctx, h, r, h.act(h.key()))
	if err == nil {
		h.done[name]++
		return name, nil
	}
	if apperr.As(err) == nil {
		return name, fmt.Errorf("%s: %w", name, err)
	}
	return "", nil
}
