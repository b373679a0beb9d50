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

// HalfSignIn writes to somebody that their password was given, and the code of their second step
// was not; wrong is how many codes were refused. account and zone are those of SignIn.
func HalfSignIn(name, device string, wrong int, at time.Time, zone *time.Location, account string) (subject, text string) {
	local := at.In(zone)
	codes := "No code was typed."
	switch {
	case wrong == 1:
		codes = "One code was typed, and refused."
	case wrong > 1:
		codes = fmt.Sprintf("%d codes were typed, and refused.", wrong)
	}
	return "Your password was given, but not your code", fmt.Sprintf(`Hello %s,

somebody gave your right password on Boltward, and not the code
of your second step:
%s, %s (%s),
with %s.
%s Nobody came in by that.

If that was you, there is nothing to do.

If it was not, somebody knows your password. Open your account
and change it, and do so wherever else you use the same one:
%s

We write of this once a day at most for one password. Your account
shows what came after.
`, oneLine(name), local.Format("2 January 2006"), local.Format("15:04"), zone, device, codes, account)
}
