package drive

import "time"

// OutlookFacts is what the outlook of a drive is made from.
type OutlookFacts struct {
	Today  time.Time
	Flow   Flow
	Lines  []AskedLine    // all that is asked for
	Plan   int64          // the newest plan, which says what there is no cloth for; 0 for none
	Lacks  map[string]int // pillowcases that plan found no cloth for, by quota
	Wishes []Wish         // cloth that would help, the most helpful first
}

// KeptForecast is an outlook as it is kept: worked out by a job, since it takes too long for a page.
type KeptForecast struct {
	MadeAt  time.Time // as the drive stood then
	Today   time.Time // the drive's day then
	Seconds float64   // that it took
	Trail   int64     // the newest entry of the trail that it knew of; 0 for none
	Form    int       // of Found
	Found   []byte    // JSON; nil where pages work it out themselves
}
