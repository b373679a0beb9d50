package jobs

import (
	"errors"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestALastingTroubleIsToldOnce(t *testing.T) {
	var l lasting
	full, away := errors.New("the disk is full"), errors.New("the disk is away")
	var told []bool
	for _, err := range []error{nil, full, full, away, away, nil, nil, away} {
		told = append(told, l.isNew(err))
	}
	require.Equal(t, []bool{false, true, false, true, false, false, false, true}, told)
}
