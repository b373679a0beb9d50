package account_test

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"boltward/internal/account"
	"boltward/internal/apperr"
)

// The codes of RFC 6238, appendix B, for SHA-1; their last six of eight digits.
func TestCodeStep(t *testing.T) {
	secret := []byte("12345678901234567890")
	for at, code := range map[int64]string{
		59: "287082", 1111111109: "081804", 1111111111: "050471", 1234567890: "005924", 2000000000: "279037", 20000000000: "353130",
	} {
		now := time.Unix(at, 0)
		step, ok, err := account.CodeStep(secret, code, now, 0)
		require.NoError(t, err)
		require.True(t, ok, "CodeStep(%s) at %d", code, at)
		require.Equal(t, at/30, step)
		if at < 90 {
			continue // no minute before it is after 1970
		}
		for late, want := range map[time.Duration]bool{30 * time.Second: true, -30 * time.Second: true, time.Minute: false, -time.Minute: false} {
			_, ok, err = account.CodeStep(secret, code, now.Add(late), 0)
			require.NoError(t, err)
			require.Equal(t, want, ok, "a clock %s off", late)
		}
		_, ok, err = account.CodeStep(secret, code, now, step)
		require.NoError(t, err)
		require.False(t, ok, "taken once")
	}
	for _, typed := range []string{"", "28708", "2870823", "a287082", "２８７０８２", "287082\x00"} {
		_, ok, err := account.CodeStep(secret, typed, time.Unix(59, 0), 0)
		require.NoError(t, err)
		require.False(t, ok, "%q", typed)
	}
	_, ok, err := account.CodeStep(secret, " 287 082 ", time.Unix(59, 0), 0)
	require.NoError(t, err)
	require.True(t, ok, "as people type it")
	require.Equal(t, "GEZD GNBV GY3T QOJQ GEZD GNBV GY3T QOJQ", account.SecretText(secret))
	require.Equal(t, "otpauth://totp/Boltward:rosa@example.org?secret=GEZDGNBVGY3TQOJQGEZDGNBVGY3TQOJQ&issuer=Boltward", account.SecretAddress(secret, "rosa@example.org"))
}

func TestSeal(t *testing.T) {
	key := testKey(t, "5e")
	sealed, err := key.Seal(7, []byte("a secret of twenty b"))
	require.NoError(t, err)
	require.NotContains(t, string(sealed), "secret")
	again, err := key.Seal(7, []byte("a secret of twenty b"))
	require.NoError(t, err)
	require.NotEqual(t, sealed, again)
	open, err := key.Unseal(7, sealed)
	require.NoError(t, err)
	require.Equal(t, "a secret of twenty b", string(open))
	_, err = key.Unseal(8, sealed)
	require.Error(t, err, "as another's")
	_, err = testKey(t, "ab").Unseal(7, sealed)
	require.Error(t, err, "by another key")
	for i := range sealed {
		changed := append([]byte{}, sealed...)
		changed[i] ^= 1
		_, err = key.Unseal(7, changed)
		require.Error(t, err, "byte %d changed", i)
	}
	_, err = key.Unseal(7, sealed[:5])
	require.Error(t, err)
}

func TestRecoveryCodes(t *testing.T) {
	key := testKey(t, "5e")
	codes := key.RecoveryCodes(7, "a wish")
	require.Len(t, codes, account.RecoveryCodes)
	require.Equal(t, codes, key.RecoveryCodes(7, "a wish"), "a form sent twice shows the same")
	seen := map[string]bool{}
	for _, other := range [][]string{codes, key.RecoveryCodes(8, "a wish"), key.RecoveryCodes(7, "another"), testKey(t, "ab").RecoveryCodes(7, "a wish")} {
		for _, code := range other {
			require.Regexp(t, `^[a-km-np-z2-9]{4}( [a-km-np-z2-9]{4}){3}$`, code)
			require.False(t, seen[code])
			seen[code] = true
		}
	}
	bare := strings.ReplaceAll(codes[0], " ", "")
	require.Equal(t, key.RecoveryHash(7, codes[0]), key.RecoveryHash(7, strings.ToUpper(bare[:8]+"-"+bare[8:])))
	require.NotEqual(t, key.RecoveryHash(7, codes[0]), key.RecoveryHash(8, codes[0]))
}

func TestPassParts(t *testing.T) {
	key := testKey(t, "5e")
	digits := key.Spoken("abcdefghijkmnpqr")
	require.Regexp(t, `^\d{9}$`, digits)
	require.Equal(t, key.SpokenHash(digits), key.SpokenHash(" "+account.SpokenText(digits)))
	for _, typed := range []string{"", "12345678", digits + "1", "a" + digits} {
		require.Nil(t, key.SpokenHash(typed), "%q", typed)
	}
	for typed, want := range map[string]string{" r.b. ": "RB", "ö k": "ÖK", "a1": "A1", "": "", "ROSAL": "", "r/b": "", "\xff": ""} {
		got, err := account.CleanInitials(typed)
		require.Equal(t, want, got, "CleanInitials(%q)", typed)
		require.Equal(t, want == "", apperr.Fields(err)["initials"] != "")
	}
	for typed, want := range map[string]string{" cutting  table ": "cutting table", "": "", strings.Repeat("a", 41): "", "a\x07b": ""} {
		got, err := account.CleanPlace(typed)
		require.Equal(t, want, got, "CleanPlace(%q)", typed)
		require.Equal(t, want == "", apperr.Fields(err)["place"] != "")
	}
	for _, role := range account.Roles() {
		_, err := account.ParsePassRole(string(role))
		require.Equal(t, role == account.Organiser || !role.SignsIn(), err != nil, "%s", role)
	}
}
