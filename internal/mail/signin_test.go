package mail_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	. "boltward/internal/mail"
)

// The whole of a mail about a sign-in; a name of several lines makes no line of its own.
func TestSignInMail(t *testing.T) {
	zone, err := time.LoadLocation("America/Chicago")
	require.NoError(t, err)
	subject, text := SignIn("Rosa\r\nBcc: all", "Firefox on Android", time.Date(2026, 3, 2, 5, 30, 0, 0, time.UTC), zone, "https://drive.example.org/account")
	require.Equal(t, "Somebody signed in as you", subject)
	require.Equal(t, `Hello Rosa Bcc: all,

somebody signed in as you on Boltward:
1 March 2026, 23:30 (America/Chicago),
with Firefox on Android.

We do not know this browser: it is new to your account, its cookies
were cleared, or the browsers of your account were forgotten.

If that was you, there is nothing to do.

If it was not, open your account, choose "This was not me",
and change your password:
https://drive.example.org/account

If you cannot get in any more, ask whoever looks after the server
for a new link.
`, text)
}

func TestHalfSignInMail(t *testing.T) {
	at := time.Date(2026, 3, 2, 5, 30, 0, 0, time.UTC)
	subject, text := HalfSignIn("Rosa\r\nBcc: all", "Firefox on Android", 4, at, time.UTC, "https://drive.example.org/account")
	require.Equal(t, "Your password was given, but not your code", subject)
	require.Equal(t, `Hello Rosa Bcc: all,

somebody gave your right password on Boltward, and not the code
of your second step:
2 March 2026, 05:30 (UTC),
with Firefox on Android.
4 codes were typed, and refused. Nobody came in by that.

If that was you, there is nothing to do.

If it was not, somebody knows your password. Open your account
and change it, and do so wherever else you use the same one:
https://drive.example.org/account

We write of this once a day at most for one password. Your account
shows what came after.
`, text)
	for wrong, says := range map[int]string{0: "No code was typed.", 1: "One code was typed, and refused."} {
		_, text := HalfSignIn("Rosa", "Firefox", wrong, at, time.UTC, "")
		require.Contains(t, text, says)
	}
}
