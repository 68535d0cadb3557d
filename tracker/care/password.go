package care

import (
	"crypto/rand"
	"crypto/subtle"
	"encoding/base64"
	"fmt"
	"strings"
	"unicode/utf8"

	"golang.org/x/crypto/argon2"

	"leground/tracker"
)

// The cost of a password: argon2id with the minimum that OWASP's password storage page gives (19 MiB,
// two passes, one lane; from memory).
const (
	hashPasses    = 2
	hashMemoryKiB = 19 * 1024
	hashBytes     = 32
)

// hasher hashes passwords, two at a time at most, so that sign-ins cannot use up the machine's memory.
type hasher struct{ places chan struct{} }

func newHasher() *hasher { return &hasher{places: make(chan struct{}, 2)} }

// make gives the hash that is kept, in the notation that argon2 programs share.
func (h *hasher) make(password string) string {
	var salt [16]byte
	rand.Read(salt[:])
	return fmt.Sprintf("$argon2id$v=%d$m=%d,t=%d,p=1$%s$%s", argon2.Version, hashMemoryKiB, hashPasses,
		base64.RawStdEncoding.EncodeToString(salt[:]),
		base64.RawStdEncoding.EncodeToString(h.key(password, salt[:], hashPasses, hashMemoryKiB)))
}

// matches tells whether a password gives a kept hash. An empty or unreadable hash costs as much time
// as a real one and never matches.
func (h *hasher) matches(password, kept string) bool {
	var version, memory, passes int
	salt, want := make([]byte, 16), []byte(nil)
	parts := strings.Split(kept, "$")
	if len(parts) == 6 {
		fmt.Sscanf(parts[2], "v=%d", &version)
		fmt.Sscanf(parts[3], "m=%d,t=%d,p=1", &memory, &passes)
		salt, _ = base64.RawStdEncoding.DecodeString(parts[4])
		want, _ = base64.RawStdEncoding.DecodeString(parts[5])
	}
	if version != argon2.Version || memory <= 0 || passes <= 0 || len(want) != hashBytes {
		h.key(password, make([]byte, 16), hashPasses, hashMemoryKiB)
		return false
	}
	return subtle.ConstantTimeCompare(h.key(password, salt, passes, memory), want) == 1
}

func (h *hasher) key(password string, salt []byte, passes, memoryKiB int) []byte {
	h.places <- struct{}{}
	defer func() { <-h.places }()
	return argon2.IDKey([]byte(password), salt, uint32(passes), uint32(memoryKiB), 1, hashBytes)
}

// checkPassword notes what is wrong with a new password.
func checkPassword(p *tracker.Problems, field, password string) {
	if n := utf8.RuneCountInString(password); n < 12 || n > 128 {
		p.Add(field, "The password must have 12 to 128 letters, like four words you can remember.")
	}
}
