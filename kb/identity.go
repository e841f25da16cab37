package kb

import (
	"crypto/sha256"
	"encoding/base32"
	"fmt"
	"strings"
)

var idAlphabet = base32.NewEncoding("0123456789abcdefghjkmnpqrstvwxyz").WithPadding(base32.NoPadding)

// shortHash gives 60 bits of the hash of parts as 12 characters that are hard to misread.
func shortHash(parts ...string) string {
	h := sha256.New()
	for _, p := range parts {
		fmt.Fprintf(h, "%d:%s", len(p), p)
	}
	return idAlphabet.EncodeToString(h.Sum(nil))[:12]
}

// ReadCaseID gives the id of a case read from a write-up: the reporter's ordinal-th machine or repair (from 1) in it.
func ReadCaseID(w WriteupKey, reporter string, ordinal int) CaseID {
	return CaseID("c" + shortHash(string(w), strings.ToLower(strings.TrimSpace(reporter)), fmt.Sprint(ordinal)))
}

// WithID gives the case with an id: its own, or one derived from its content.
func (c Case) WithID() (Case, error) {
	if c.ID != "" {
		return c, nil
	}
	body, err := EncodeCase(c)
	if err != nil {
		return c, err
	}
	c.ID = CaseID("c" + shortHash(string(body)))
	return c, nil
}
