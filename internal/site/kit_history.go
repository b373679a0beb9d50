package site

import (
	"fmt"

	"boltward/internal/drive"
	"boltward/internal/postgres"
)

// kitCount is how many pillowcases of a kit have come how far.
type kitCount struct {
	N    int
	Said string
}

// kitEvent is one line of a kit's history.
type kitEvent struct {
	postgres.KitEvent
	Said string
	Why  string // as somebody wrote it
}

// kitCounts says how far the pillowcases of a kit have come.
func kitCounts(k drive.Kit) []kitCount {
	var counts []kitCount
	for _, state := range []struct {
		state drive.CaseState
		said  string
	}{
		{drive.CasePlanned, "planned"},
		{drive.CaseCut, "cut, not sewn"},
		{drive.CaseOut, "being sewn"},
		{drive.CaseSewn, "sewn, to be checked"},
		{drive.CaseGood, "good"},
		{drive.CaseToMend, "to mend"},
		{drive.CaseNotUsable, "not usable"},
		{drive.CasePacked, "packed"},
		{drive.CaseDelivered, "delivered"},
		{drive.CaseConfirmed, "confirmed"},
		{drive.CaseNotReceived, "not received"},
		{drive.CaseLost, "lost"},
		{drive.CaseWithdrawn, "given up"},
	} {
		if n := k.Count(state.state); n > 0 {
			counts = append(counts, kitCount{n, state.said})
		}
	}
	return counts
}

// Of is the part that it happened to.
func (e kitEvent) Of(kit drive.KitRef) drive.KitRef {
	return drive.KitRef{Number: kit.Number, Part: e.Part}
}

// kitEvents says of a history of every part of a kit, newest first, what happened and why.
func kitEvents(events []postgres.KitEvent) []kitEvent {
	list := make([]kitEvent, len(events))
	held := map[int]int{} // by each part before the event
	for i := len(events) - 1; i >= 0; i-- {
		e := events[i]
		list[i] = kitEvent{KitEvent: e, Said: eventSaid(e, held[e.Part])}
		to := drive.KitState(e.To)
		if e.OfCases || to == drive.KitLost && e.From != e.To || to == drive.KitTakenApart && e.Reason != drive.ReasonAgain { // of what is still lost the clause says all
			list[i].Why = e.Reason
		}
		if !e.OfCases && !e.IsSaid {
			held[e.Part] = e.Cases
		}
	}
	return list
}

// eventSaid says what happened, as a clause; held is how many pillowcases the
// kit held before. Other reasons of the ledger are said in the clause itself.
func eventSaid(e postgres.KitEvent, held int) string {
	if e.IsSaid {
		return fmt.Sprintf("%s said: %d finished", e.Name, e.Cases)
	}
	if e.OfCases {
		return countCases(e.Cases) + " " + e.To
	}
	from, to := drive.KitState(e.From), drive.KitState(e.To)
	switch {
	case e.Reason == drive.ReasonAgain:
		return e.Reason
	case e.Reason == "split" && from == drive.KitBorn:
		return "parted off, " + countCases(e.Cases) + withWhom(e)
	case e.Reason == "split":
		return fmt.Sprintf("%d parted off, %d %s%s", held-e.Cases, e.Cases, oneOr(e.Cases, "stays", "stay"), withWhom(e))
	case e.Reason == drive.ReasonFound && to == drive.KitLost:
		return fmt.Sprintf("%d turned up, %d still lost", held-e.Cases, e.Cases)
	case e.Reason == drive.ReasonFound && to == drive.KitFound && from == drive.KitBorn:
		return "turned up, " + countCases(e.Cases) + " not sewn"
	case e.Reason == drive.ReasonFound && to == drive.KitBack:
		return "turned up, " + countCases(e.Cases)
	case e.Reason == "undone" && e.Cases > held && held > 0 && to != drive.KitLost:
		return fmt.Sprintf("undone: %d together again%s", e.Cases, withWhom(e))
	case e.Reason == "undone":
		return "undone: " + string(to) + " again" + withWhom(e)
	case to == drive.KitOut && from == drive.KitOut && e.Reason == "needs longer":
		return "another day for " + e.Name
	case to == drive.KitOut && e.Reason == "given again":
		return "given again to " + e.Name
	case to == drive.KitOut && e.Reason == "to mend":
		return "out to be mended" + withWhom(e)
	case to == drive.KitOut && from == drive.KitOut:
		return fmt.Sprintf("%d came back sewn, %d stayed with %s", held-e.Cases, e.Cases, e.Name)
	case to == drive.KitOut:
		return "handed out to " + e.Name
	case to == drive.KitBack && from == drive.KitBack:
		return "in part out to be mended"
	case to == drive.KitBack:
		return "came back, " + countCases(e.Cases)
	case to == drive.KitReady && from == drive.KitOut:
		return "came back unsewn"
	case to == drive.KitReady && from == drive.KitBorn:
		return "made, for their own fabric"
	case e.Reason == "put together from loose panels":
		return e.Reason
	case to == drive.KitPlanned && from == drive.KitBorn:
		return "planned"
	}
	return string(to)
}

func withWhom(e postgres.KitEvent) string {
	if e.Name == "" {
		return ""
	}
	return " with " + e.Name
}
