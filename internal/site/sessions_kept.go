package site

import (
	"bytes"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"time"

	"github.com/alexedwards/scs/v2"
)

// sessionKept is a session as its row holds it. Every request of whoever is signed in reads
// one, and gob, which learns the types anew each time, takes thirty times as long.
type sessionKept struct {
	Deadline time.Time `json:"deadline"`
	SignIn   int64     `json:"sign-in,omitempty"`
	Half     *half     `json:"half,omitempty"`
	Flash    *flash    `json:"flash,omitempty"`
	Tries    string    `json:"tries,omitempty"`
	Over     string    `json:"over,omitempty"`
	Until    time.Time `json:"until,omitzero"`
}

// sessionNames are the values that a session may hold.
func sessionNames() []string {
	return []string{sessionSignIn, sessionHalf, sessionFlash, sessionTries, sessionOver, sessionUntil}
}

// sessionCodec writes and reads sessions.
type sessionCodec struct{}

// Encode fails for a value that no session holds.
func (sessionCodec) Encode(deadline time.Time, values map[string]any) ([]byte, error) {
	kept := sessionKept{Deadline: deadline}
	for name, value := range values {
		known := false
		switch name {
		case sessionSignIn:
			kept.SignIn, known = value.(int64)
		case sessionHalf:
			var h half
			h, known = value.(half)
			kept.Half = &h
		case sessionFlash:
			var f flash
			f, known = value.(flash)
			kept.Flash = &f
		case sessionTries:
			kept.Tries, known = value.(string)
		case sessionOver:
			kept.Over, known = value.(string)
		case sessionUntil:
			kept.Until, known = value.(time.Time)
		}
		if !known {
			return nil, fmt.Errorf("a session holds no %s that is a %T", name, value)
		}
	}
	return json.Marshal(kept)
}

// Decode reads what Encode wrote, and sessions of before, which were gob: somebody may have
// signed in a week ago. What older ones hold under names of their own is let go: Encode would
// refuse it, and a browser with such a session could not even sign in anew. Whoever it named reads why.
func (sessionCodec) Decode(data []byte) (time.Time, map[string]any, error) {
	if !bytes.HasPrefix(data, []byte(`{"`)) {
		deadline, values, err := scs.GobCodec{}.Decode(data)
		held := len(values)
		maps.DeleteFunc(values, func(name string, _ any) bool { return !slices.Contains(sessionNames(), name) })
		if len(values) < held && values[sessionSignIn] == nil {
			values[sessionOver] = overEnded
		}
		return deadline, values, err
	}
	var kept sessionKept
	if err := json.Unmarshal(data, &kept); err != nil {
		return time.Time{}, nil, err
	}
	values := map[string]any{}
	if kept.SignIn != 0 {
		values[sessionSignIn] = kept.SignIn
	}
	if kept.Half != nil {
		values[sessionHalf] = *kept.Half
	}
	if kept.Flash != nil {
		values[sessionFlash] = *kept.Flash
	}
	if kept.Tries != "" {
		values[sessionTries] = kept.Tries
	}
	if kept.Over != "" {
		values[sessionOver] = kept.Over
	}
	if !kept.Until.IsZero() {
		values[sessionUntil] = kept.Until
	}
	return kept.Deadline, values, nil
}
