package jobs

import (
	"testing"

	"github.com/riverqueue/river/rivertype"
	"github.com/stretchr/testify/require"

	"boltward/internal/mail"
)

// A mail that was not sent waits for the next attempt; the last one failed.
func TestWhatAMailComesTo(t *testing.T) {
	states := mailStates[string]{"sent", "queued", "failed", "perhaps"}
	for _, c := range []struct {
		outcome     mail.Outcome
		early, last string
	}{
		{mail.Sent, "sent", "sent"},
		{mail.NotSent, "queued", "failed"},
		{mail.Refused, "failed", "failed"},
		{mail.Perhaps, "perhaps", "perhaps"},
	} {
		require.Equal(t, c.early, states.after(c.outcome, &rivertype.JobRow{Attempt: 5, MaxAttempts: 6}))
		require.Equal(t, c.last, states.after(c.outcome, &rivertype.JobRow{Attempt: 6, MaxAttempts: 6}))
	}
}
