package casebook

import (
	"context"
	"crypto/rand"
	"crypto/subtle"
	"encoding/base64"
	"fmt"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"golang.org/x/crypto/argon2"
	"golang.org/x/text/unicode/norm"

	"ruledout/kb"
)

// Bounds on the length of a password, in characters.
const (
	MinPassword = 10
	MaxPassword = 200
)

// hashing holds the parameters of argon2id (RFC 9106): memory in KiB, passes, lanes, and the lengths of salt and key in bytes.
type hashing struct {
	memory, passes uint32
	lanes          uint8
}

const (
	saltLength = 16
	keyLength  = 32
)

// presentHashing is what new passwords are hashed with: 19 MiB and two passes, about 24 ms a sign-in on the machine this was chosen on.
func presentHashing() hashing { return hashing{memory: 19 * 1024, passes: 2, lanes: 1} }

// hashesAtOnce caps the memory that sign-ins take together, and hashWait how long one waits for its turn.
const (
	hashesAtOnce = 2
	hashWait     = 10 * time.Second
)

// readable tells whether parameters read from a stored hash are ones that this program could have written, so that a
// damaged one cannot ask for all memory.
func (h hashing) readable() bool {
	return h.memory >= 8 && h.memory <= 64*1024 && h.passes >= 1 && h.passes <= 10 && h.lanes >= 1 && h.lanes <= 4
}

// hashPassword gives the hash of a password as a PHC string.
func hashPassword(password string, h hashing) string {
	salt := make([]byte, saltLength)
	_, _ = rand.Read(salt) // it never fails, see crypto/rand
	return h.encode(salt, h.key(password, salt, keyLength))
}

func (h hashing) key(password string, salt []byte, length uint32) []byte {
	return argon2.IDKey([]byte(normalPassword(password)), salt, h.passes, h.memory, h.lanes, length)
}

// normalPassword gives a password the same bytes however a keyboard composed its characters (Unicode NFKC).
func normalPassword(password string) string { return norm.NFKC.String(password) }

func (h hashing) encode(salt, key []byte) string {
	b64 := base64.RawStdEncoding.EncodeToString
	return fmt.Sprintf("$argon2id$v=%d$m=%d,t=%d,p=%d$%s$%s", argon2.Version, h.memory, h.passes, h.lanes, b64(salt), b64(key))
}

// parseHash reads a PHC string.
func parseHash(phc string) (h hashing, salt, key []byte, err error) {
	parts := strings.Split(phc, "$")
	var version int
	if len(parts) != 6 || parts[0] != "" || parts[1] != "argon2id" {
		return h, nil, nil, kb.Errorf(kb.Internal, "a stored password is no argon2id hash")
	}
	_, err = fmt.Sscanf(parts[2]+" "+parts[3], "v=%d m=%d,t=%d,p=%d", &version, &h.memory, &h.passes, &h.lanes)
	if err == nil {
		salt, err = base64.RawStdEncoding.DecodeString(parts[4])
	}
	if err == nil {
		key, err = base64.RawStdEncoding.DecodeString(parts[5])
	}
	if err != nil || version != argon2.Version || !h.readable() || len(key) < 16 || len(key) > 64 {
		return h, nil, nil, kb.Errorf(kb.Internal, "a stored password hash cannot be read")
	}
	return h, salt, key, nil
}

// matches tells in constant time whether a password is the one that a PHC string was made from, and whether it was made with the
// present parameters.
func matches(password, phc string) (ok, present bool, err error) {
	h, salt, want, err := parseHash(phc)
	if err != nil {
		return false, false, err
	}
	got := h.key(password, salt, uint32(len(want)))
	return subtle.ConstantTimeCompare(got, want) == 1, h == presentHashing() && len(want) == keyLength, nil
}

// hashTurn waits for a turn to hash; release gives it back.
func (p *people) hashTurn(ctx context.Context) (release func(), err error) {
	limited, cancel := context.WithTimeout(ctx, hashWait)
	defer cancel()
	select {
	case p.turns <- struct{}{}:
		return func() { <-p.turns }, nil
	case <-limited.Done():
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
		return nil, kb.Errorf(kb.Unavailable, "many people are signing in at this moment; try again shortly")
	}
}

// hash hashes a new password when its turn has come.
func (p *people) hash(ctx context.Context, password string) (string, error) {
	release, err := p.hashTurn(ctx)
	if err != nil {
		return "", err
	}
	defer release()
	return hashPassword(password, presentHashing()), nil
}

// checkPassword tells what is wrong with a new password for an account, nil if nothing.
func checkPassword(password, name string) error {
	wrong := func(format string, args ...any) error {
		return &kb.Error{Kind: kb.Invalid, Field: "password", Msg: fmt.Sprintf(format, args...)}
	}
	folded := strings.ToLower(normalPassword(password))
	n := utf8.RuneCountInString(password)
	switch {
	case !utf8.ValidString(password):
		return wrong("has bytes that are no characters")
	case n < MinPassword:
		return wrong("is too short: take at least %d characters; a few words do well", MinPassword)
	case n > MaxPassword:
		return wrong("is too long: at most %d characters", MaxPassword)
	case strings.Trim(strings.ReplaceAll(folded, strings.ToLower(name), ""), "0123456789.-_ !") == "":
		return wrong("is hardly more than the name or digits; take something else")
	case monotone(folded):
		return wrong("repeats or counts up one pattern; take something else")
	case common(folded):
		return wrong("is one of the most common passwords; take something else")
	}
	return nil
}

// monotone tells whether a text repeats a piece of at most four characters, or runs along the alphabet or the digits.
func monotone(s string) bool {
	r := []rune(s)
	for size := 1; size <= 4; size++ {
		same := true
		for i := size; i < len(r) && same; i++ {
			same = r[i] == r[i-size]
		}
		if same {
			return true
		}
	}
	up, down := true, true
	for i := 1; i < len(r); i++ {
		up, down = up && r[i] == r[i-1]+1, down && r[i] == r[i-1]-1
	}
	return up || down
}

// commonPasswords are words that lists of leaked passwords lead with, and their like in this trade (from memory). Any of them with
// digits and signs around it is refused; most are shorter than a password may be, but "password123" is not.
const commonPasswords = ` password passwort passw0rd p@ssw0rd p@ssword letmein welcome iloveyou qwertyuiop qwerty qwertz asdfghjkl asdfgh zxcvbnm
1q2w3e4r5t 1q2w3e4r 1qaz2wsx zaq12wsx q1w2e3r4 q1w2e3r4t5 abc abcdef abcdefg admin administrator administrador root superman batman football
baseball basketball dragon monkey sunshine princess master michael jennifer trustno changeme secret default login guest test testing hello
whatever starwars computer internet samsung google mustang harley access shadow freedom killer charlie jordan hunter ranger daniel
motdepasse contrasena wachtwoord hallo schatz ficken azerty azertyuiop workshop werkstatt mechanic garage ruledout casebook `

// common tells whether a folded password is a common one, with or without digits and signs around it, once or twice.
func common(folded string) bool {
	core := strings.Trim(folded, "0123456789!?.,-_+*#$%&@ ")
	if half := len(core) / 2; len(core)%2 == 0 && core[:half] == core[half:] {
		core = core[:half]
	}
	words := strings.Fields(commonPasswords)
	return core == "" || slices.Contains(words, core) || slices.Contains(words, folded)
}
