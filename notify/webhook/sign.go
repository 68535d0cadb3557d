package webhook

import (
	"crypto/hmac"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"errors"
	"fmt"
	"strings"
	"time"
)

// secretPrefix marks a symmetric secret.
const secretPrefix = "whsec_"

// NewSecret makes a secret of 32 random bytes.
func NewSecret() string {
	key := make([]byte, 32)
	rand.Read(key) // never fails: crypto/rand
	return secretPrefix + base64.StdEncoding.EncodeToString(key)
}

// Sign gives the signature of one try, with its version: "v1,...".
func Sign(secret, id string, at time.Time, body []byte) (string, error) {
	return mac(secret, fmt.Appendf(nil, "%s.%d.%s", id, at.Unix(), body))
}

// mac signs content under a secret, which may stand with or without its prefix.
func mac(secret string, content []byte) (string, error) {
	key, err := base64.StdEncoding.DecodeString(strings.TrimPrefix(secret, secretPrefix))
	if err != nil || len(key) == 0 {
		return "", errors.New("the secret is damaged: it must be whsec_ and base64")
	}
	h := hmac.New(sha256.New, key)
	h.Write(content)
	return "v1," + base64.StdEncoding.EncodeToString(h.Sum(nil)), nil
}
