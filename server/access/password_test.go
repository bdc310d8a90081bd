package access

import (
	"encoding/hex"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/crypto/argon2"
)

// Values of the test programme of the Argon2 reference implementation (Password
// Hashing Competition, src/test.c: argon2id, version 0x13, 64 MiB and 256 KiB).
func TestHash_ReferenceValues(t *testing.T) {
	for _, c := range []struct{ text, password, hash string }{
		{"$argon2id$v=19$m=65536,t=2,p=1$c29tZXNhbHQ$CTFhFdXPJO1aFaMaO6Mm5c8y7cJHAph8ArZWb2GRPPc", "password",
			"09316115d5cf24ed5a15a31a3ba326e5cf32edc24702987c02b6566f61913cf7"},
		{"$argon2id$v=19$m=256,t=2,p=1$c29tZXNhbHQ$nf65EOgLrQMR/uIPnA4rEsF5h7TKyQwu9U1bMCHGi/4", "password",
			"9dfeb910e80bad0311fee20f9c0e2b12c17987b4cac90c2ef54d5b3021c68bfe"},
	} {
		p, err := parseHash(c.text)
		require.NoError(t, err)
		assert.Equal(t, c.hash, hex.EncodeToString(p.hash))
		assert.Equal(t, c.text, p.String())
		ok, err := newHasher().matches(t.Context(), c.password, c.text)
		require.NoError(t, err)
		assert.True(t, ok, c.text)
		ok, err = newHasher().matches(t.Context(), c.password+" ", c.text)
		require.NoError(t, err)
		assert.False(t, ok)
	}
}

// OWASP Password Storage Cheat Sheet (2023): argon2id, at least 19 MiB, two
// passes, one lane. RFC 9106, section 3.1: a salt of 16 bytes.
func TestHash_Cost(t *testing.T) {
	text, err := newHasher().make(t.Context(), "vier Reben am Hang")
	require.NoError(t, err)
	assert.Regexp(t, `^\$argon2id\$v=19\$m=19456,t=2,p=1\$`, text)
	p, err := parseHash(text)
	require.NoError(t, err)
	assert.Len(t, p.salt, 16)
	assert.Len(t, p.hash, 32)
	assert.Equal(t, argon2.IDKey([]byte("vier Reben am Hang"), p.salt, 2, 19456, 1, 32), p.hash)
	again, err := newHasher().make(t.Context(), "vier Reben am Hang")
	require.NoError(t, err)
	assert.NotEqual(t, text, again, "a salt of its own each time")
}

func TestParseHash_Refuses(t *testing.T) {
	good := "$argon2id$v=19$m=256,t=2,p=1$c29tZXNhbHQ$nf65EOgLrQMR/uIPnA4rEsF5h7TKyQwu9U1bMCHGi/4"
	_, err := parseHash(good)
	require.NoError(t, err)
	for name, text := range map[string]string{
		"nothing":             "",
		"other kind":          strings.Replace(good, "argon2id", "argon2i", 1),
		"other version":       strings.Replace(good, "v=19", "v=16", 1),
		"too much memory":     strings.Replace(good, "m=256", "m=4294967295", 1),
		"no memory":           strings.Replace(good, "m=256", "m=0", 1),
		"memory below lanes":  strings.Replace(good, "m=256", "m=7", 1),
		"too many passes":     strings.Replace(good, "t=2", "t=17", 1),
		"no lanes":            strings.Replace(good, "p=1", "p=0", 1),
		"sign":                strings.Replace(good, "t=2", "t=+2", 1),
		"leading zero":        strings.Replace(good, "t=2", "t=02", 1),
		"order":               strings.Replace(good, "m=256,t=2", "t=2,m=256", 1),
		"one more field":      good + "$x",
		"padding":             good + "=",
		"short salt":          strings.Replace(good, "c29tZXNhbHQ", "c29t", 1),
		"short hash":          good[:60],
		"line break in it":    strings.Replace(good, "c29t", "c29t\n", 1),
		"longer than allowed": good + strings.Repeat("A", 400),
	} {
		t.Run(name, func(t *testing.T) {
			_, err := parseHash(text)
			assert.ErrorIs(t, err, errHash)
			ok, err := newHasher().matches(t.Context(), "password", text)
			assert.NoError(t, err)
			assert.False(t, ok)
		})
	}
}

func FuzzParseHash(f *testing.F) {
	f.Add("$argon2id$v=19$m=256,t=2,p=1$c29tZXNhbHQ$nf65EOgLrQMR/uIPnA4rEsF5h7TKyQwu9U1bMCHGi/4")
	f.Add("$argon2id$v=19$m=19456,t=2,p=1$$")
	f.Add("$$$$$")
	f.Fuzz(func(t *testing.T, text string) {
		p, err := parseHash(text)
		if err != nil {
			return
		}
		if p.String() != text {
			t.Fatalf("%q was read as %q", text, p)
		}
		if p.memory > mostMemory || p.passes > mostPasses || p.lanes > mostLanes || len(p.salt) > 64 || len(p.hash) > 64 {
			t.Fatalf("%q costs too much", text)
		}
	})
}

// Who does not exist takes as long as who does: the hash is worked out either way.
func TestHash_UnknownTakesAsLong(t *testing.T) {
	h := newHasher()
	text, err := h.make(t.Context(), "vier Reben am Hang")
	require.NoError(t, err)
	best := func(text string) time.Duration {
		least := time.Hour
		for range 5 {
			began := time.Now()
			_, err := h.matches(t.Context(), "something else", text)
			require.NoError(t, err)
			least = min(least, time.Since(began))
		}
		return least
	}
	assert.Greater(t, best(""), best(text)/3)
}

func TestGoodPassword(t *testing.T) {
	for _, c := range []struct {
		password, name string
		good           bool
	}{
		{"vier Reben am Hang", "Ada", true},
		{"short", "Ada", false},
		{"elevenchars", "Ada", false},
		{"twelve chars", "Ada", true},
		{"aaaaaaaaaaaaaaaaaaaa", "Ada", false},
		{"abababababababab", "Ada", false},
		{"agronomist123", "Agronomist", false},
		{"zwölf Zeichen é", "Ada", true},
		{"with\ta tab in it", "Ada", false},
		{"with a \x00 in it", "Ada", false},
		{strings.Repeat("long ones ", 26), "Ada", false},
	} {
		_, err := goodPassword(c.password, c.name)
		if c.good {
			assert.NoError(t, err, "%q", c.password)
			continue
		}
		var no *InputError
		require.ErrorAs(t, err, &no, "%q", c.password)
		assert.Equal(t, "password", no.Field)
		assert.NotContains(t, no.Text, c.password)
	}
	// RFC 8265, section 4.2: composed and decomposed letters are one password.
	one, err := spell("Kr\u00e4uterschere im Hang")
	require.NoError(t, err)
	two, err := spell("Kra\u0308uterschere im Hang")
	require.NoError(t, err)
	assert.Equal(t, one, two)
}
