package casebook_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ruledout/internal/casebook"
)

// TestPublishedHash holds the reading of PHC strings against the test vector of the reference implementation of Argon2 (phc-winner-argon2,
// src/test.c: argon2id, version 0x13, t=2, m=2^16, p=1, "password", "somesalt").
func TestPublishedHash(t *testing.T) {
	const published = "$argon2id$v=19$m=65536,t=2,p=1$c29tZXNhbHQ$CTFhFdXPJO1aFaMaO6Mm5c8y7cJHAph8ArZWb2GRPPc"
	ok, present, err := casebook.Matches("password", published)
	require.NoError(t, err)
	assert.True(t, ok)
	assert.False(t, present, "not the present parameters")
	ok, _, err = casebook.Matches("passwore", published)
	require.NoError(t, err)
	assert.False(t, ok)
}

func TestHashesDiffer(t *testing.T) {
	a, b := casebook.HashPassword(words), casebook.HashPassword(words)
	assert.NotEqual(t, a, b, "each has its own salt")
	assert.True(t, strings.HasPrefix(a, "$argon2id$v=19$m=19456,t=2,p=1$"), a)
	for _, hash := range []string{a, b} {
		ok, present, err := casebook.Matches(words, hash)
		require.NoError(t, err)
		assert.True(t, ok && present)
	}
}

func TestDamagedHashes(t *testing.T) {
	for _, bad := range []string{"", "$", "plain", "$argon2i$v=19$m=65536,t=2,p=1$c29tZXNhbHQ$CTFhFdXPJO1aFaMaO6Mm5c8y7cJHAph8ArZWb2GRPPc",
		"$argon2id$v=19$m=4294967295,t=2,p=1$c29tZXNhbHQ$CTFhFdXPJO1aFaMaO6Mm5c8y7cJHAph8ArZWb2GRPPc",
		"$argon2id$v=19$m=64,t=0,p=1$c29tZXNhbHQ$CTFhFdXPJO1aFaMaO6Mm5c8y7cJHAph8ArZWb2GRPPc",
		"$argon2id$v=19$m=64,t=1,p=0$c29tZXNhbHQ$CTFhFdXPJO1aFaMaO6Mm5c8y7cJHAph8ArZWb2GRPPc",
		"$argon2id$v=16$m=64,t=1,p=1$c29tZXNhbHQ$CTFhFdXPJO1aFaMaO6Mm5c8y7cJHAph8ArZWb2GRPPc", "$argon2id$v=19$m=64,t=1,p=1$c29tZXNhbHQ$"} {
		ok, _, err := casebook.Matches("password", bad)
		assert.False(t, ok)
		assert.Error(t, err, bad)
	}
}
