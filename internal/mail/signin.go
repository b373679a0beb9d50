package mail

import (
	"fmt"
	"time"
)

// SignIn writes to somebody that they signed in at a browser which is not known.
// account is the address of their page; zone is where its times are told.
func SignIn(name, device string, at time.Time, zone *time.Location, account string) (subject, text string) {
	local := at.In(zone)
	return "Somebody signed in as you", fmt.Sprintf(`Hello %s,

somebody signed in as you on Boltward:
%s, %s (%s),
with %s.

We do not know this browser: it is new to your account, its cookies
were cleared, or the browsers of your account were forgotten.

If that was you, there is nothing to do.

If it was not, open your account, choose "This was not me",
and change your password:
%s

If you cannot get in any more, ask whoever looks after the server
for a new link.
`, oneLine(name), local.Format("2 January 2006"), local.Format("15:04"), zone, device, account)
}
