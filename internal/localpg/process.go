package localpg

// who a process number belongs to.
type who int

const (
	gone     who = iota + 1 // no such process, or a zombie that holds nothing
	ours                    // works in our database folder
	stranger                // something else that was given the number since
	unclear                 // a Postgres, but whose cannot be seen
)
