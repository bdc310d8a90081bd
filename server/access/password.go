package access

import (
	"context"
	"crypto/rand"
	"crypto/subtle"
	"encoding/base64"
	"errors"
	"fmt"
	"runtime"
	"strconv"
	"strings"
	"unicode/utf8"

	"golang.org/x/crypto/argon2"
	"golang.org/x/sync/semaphore"
	"golang.org/x/text/secure/precis"
)

// cost is how dear a hash is.
type cost struct {
	memory uint32 // KiB
	passes uint32
	lanes  uint8
}

// presentCost follows the OWASP Password Storage Cheat Sheet (2023): argon2id with 19 MiB, two
// passes, one lane.
func presentCost() cost { return cost{memory: 19 * 1024, passes: 2, lanes: 1} }

const (
	saltBytes = 16
	hashBytes = 32
)

// passwordHash is a hash as RFC 9106 makes it, with all that is needed to make it
// again.
type passwordHash struct {
	cost
	salt, hash []byte
}

// String is the PHC string form: $argon2id$v=19$m=…,t=…,p=…$salt$hash.
func (p passwordHash) String() string {
	b64 := base64.RawStdEncoding
	return fmt.Sprintf("$argon2id$v=%d$m=%d,t=%d,p=%d$%s$%s", argon2.Version, p.memory, p.passes, p.lanes,
		b64.EncodeToString(p.salt), b64.EncodeToString(p.hash))
}

var errHash = errors.New("this is no password hash of the form $argon2id$v=19$m=…,t=…,p=…$…$…")

// Limits of what is accepted as a hash: a paper must not make the server work
// without end.
const (
	mostMemory = 256 * 1024 // KiB
	mostPasses = 16
	mostLanes  = 16
)

// parseHash reads the PHC string form.
func parseHash(text string) (passwordHash, error) {
	var p passwordHash
	parts := strings.Split(text, "$")
	if len(text) > 300 || strings.ContainsAny(text, "\r\n") || len(parts) != 6 || parts[0] != "" || parts[1] != "argon2id" || parts[2] != "v=19" {
		return p, errHash
	}
	nums := strings.Split(parts[3], ",")
	if len(nums) != 3 {
		return p, errHash
	}
	m, okM := number(nums[0], "m=", mostMemory)
	t, okT := number(nums[1], "t=", mostPasses)
	l, okL := number(nums[2], "p=", mostLanes)
	if !okM || !okT || !okL || m < 8*l {
		return p, errHash
	}
	b64 := base64.RawStdEncoding.Strict()
	salt, err1 := b64.DecodeString(parts[4])
	hash, err2 := b64.DecodeString(parts[5])
	if err1 != nil || err2 != nil || len(salt) < 8 || len(salt) > 64 || len(hash) < 16 || len(hash) > 64 {
		return p, errHash
	}
	return passwordHash{cost{uint32(m), uint32(t), uint8(l)}, salt, hash}, nil
}

// number reads a whole number from 1, written without signs or leading zeros.
func number(text, name string, most uint64) (uint64, bool) {
	digits, ok := strings.CutPrefix(text, name)
	if !ok {
		return 0, false
	}
	n, err := strconv.ParseUint(digits, 10, 32)
	return n, err == nil && n >= 1 && n <= most && strconv.FormatUint(n, 10) == digits
}

// hasher makes and compares hashes, a few at a time so that memory is bounded.
type hasher struct {
	turns *semaphore.Weighted
	dummy passwordHash // compared with where there is no such user, so that it takes as long
}

func newHasher() *hasher {
	salt := make([]byte, saltBytes)
	_, _ = rand.Read(salt) // never fails
	return &hasher{turns: semaphore.NewWeighted(int64(max(2, runtime.GOMAXPROCS(0)))),
		dummy: passwordHash{presentCost(), salt, make([]byte, hashBytes)}}
}

func (h *hasher) make(ctx context.Context, password string) (string, error) {
	if err := h.turns.Acquire(ctx, 1); err != nil {
		return "", err
	}
	defer h.turns.Release(1)
	salt := make([]byte, saltBytes)
	_, _ = rand.Read(salt) // never fails
	c := presentCost()
	return passwordHash{c, salt, argon2.IDKey([]byte(password), salt, c.passes, c.memory, c.lanes, hashBytes)}.String(), nil
}

// matches compares in a time that tells nothing. An empty or unreadable hash
// takes as long as any and never matches.
func (h *hasher) matches(ctx context.Context, password, text string) (bool, error) {
	want, err := parseHash(text)
	known := err == nil
	if !known {
		want = h.dummy
	}
	if err := h.turns.Acquire(ctx, 1); err != nil {
		return false, err
	}
	defer h.turns.Release(1)
	got := argon2.IDKey([]byte(password), want.salt, want.passes, want.memory, want.lanes, uint32(len(want.hash)))
	return subtle.ConstantTimeCompare(got, want.hash) == 1 && known, nil
}

// Limits of a password. Length is what counts (NIST SP 800-63B): no rules about
// kinds of letters.
const (
	leastPassword = 12  // characters
	mostPassword  = 256 // bytes
)

// spell brings a password into the one form in which it is hashed, so that it is
// the same from every keyboard (RFC 8265, OpaqueString).
func spell(password string) (string, error) {
	if len(password) > mostPassword {
		return "", wrong("password", "a password has at most %d bytes", mostPassword)
	}
	p, err := precis.OpaqueString.String(password)
	if err != nil {
		return "", wrong("password", "this password has characters that cannot be typed everywhere, such as tabs")
	}
	return p, nil
}

// goodPassword says why a new password is too weak.
func goodPassword(password, name string) (string, error) {
	if utf8.RuneCountInString(password) < leastPassword {
		return "", wrong("password", "a password has at least %d characters; several words are good", leastPassword)
	}
	p, err := spell(password)
	if err != nil {
		return "", err
	}
	kinds := map[rune]bool{}
	for _, r := range p {
		kinds[r] = true
	}
	rest := strings.ReplaceAll(strings.ToLower(p), strings.ToLower(name), "")
	if len(kinds) < 5 || utf8.RuneCountInString(rest) < leastPassword/2 {
		return "", wrong("password", "this password is too easy to guess: use more different letters, and more than the name")
	}
	return p, nil
}
