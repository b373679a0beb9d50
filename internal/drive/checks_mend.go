package drive

import "time"

// ToMend is what was wrong with some of what was checked at one time.
type ToMend struct {
	N       int       `db:"n"`
	Reasons []string  `db:"reasons"`
	Note    string    `db:"note"`
	Day     time.Time `db:"day"`
}

// StillToMend keeps of what was found, the newest first, what n pillowcases had: those before
// them were mended since.
func StillToMend(found []ToMend, n int) []ToMend {
	var still []ToMend
	for _, f := range found {
		if n <= 0 {
			break
		}
		f.N = min(f.N, n)
		n -= f.N
		still = append(still, f)
	}
	return still
}
