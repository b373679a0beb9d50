package site

import (
	"maps"
	"time"

	"boltward/internal/outlook"
)

// played is the rest of a large drive as a page played it itself, since no worker had come to it yet.
type played struct {
	player *outlook.Player
	today  time.Time
	at     time.Time
	until  time.Time // other pages show it, as they show what a worker keeps
}

// A page shows what another has played for as long as a worker would let the drive rest.
const (
	playedRest  = 10 * time.Second
	playedShare = 100 // times what it took
	mostPlayed  = 8   // drives
)

// drivesPlayed remembers what pages have played, by drive. Whoever has the turn of telling uses it.
type drivesPlayed map[string]played

// of gives the rest of a drive on a day, from memory where it was large and is not long ago, and
// whether it is from there.
func (m drivesPlayed) of(id string, today time.Time, now func() time.Time, play func() (*outlook.Player, error)) (p played, had bool, err error) {
	at := now()
	if p, had = m[id]; had && p.today.Equal(today) && at.Before(p.until) {
		return p, true, nil
	}
	maps.DeleteFunc(m, func(_ string, p played) bool { return p.today.Before(today) || !at.Before(p.until) })
	delete(m, id)
	begun := time.Now()
	player, err := play()
	if err != nil {
		return played{}, false, err
	}
	took := time.Since(begun)
	p = played{player: player, today: today, at: at, until: now().Add(min(max(playedRest, playedShare*took), keptFor))}
	if player.Outlook().Large() {
		if len(m) >= mostPlayed {
			clear(m)
		}
		m[id] = p
	}
	return p, false, nil
}
