package account

import "time"

// Tries at signing in are counted over TryWindow. Somebody who has signed in
// from the same address within KnownFor is known there: an attacker elsewhere
// cannot lock them out, nor can the mistakes of a hall behind one address.
const (
	TryWindow = 15 * time.Minute
	KnownFor  = 30 * 24 * time.Hour
)

// The most bad tries within TryWindow: at one account from one address, at one
// account from everywhere, and from one address at every account. The last is
// wide enough for thirty helpers who each mistype three times.
const (
	maxPair   = 5
	maxWho    = 20
	maxSource = 100
)

// maxDigits is the most bad tries at the digits of passes, from everywhere, within
// SpokenLife: with a thousand million numbers, a thousand tries find one of twenty open
// passes once in fifty thousand times.
const maxDigits = 1000

// Tries is what was counted before one more try.
type Tries struct {
	Pair   int  // bad at this account from this address, since it last went well
	Who    int  // bad at this account from any address
	Source int  // bad from this address at any account
	Digits int  // bad at the digits of passes from any address within SpokenLife; 0 at anything else
	Known  bool // this account has signed in from this address within KnownFor
}

// Allowed says whether one more try may be made now.
func (t Tries) Allowed() bool {
	if t.Pair >= maxPair || t.Digits >= maxDigits {
		return false
	}
	return t.Known || (t.Who < maxWho && t.Source < maxSource)
}
