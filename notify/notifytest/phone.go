package notifytest

import (
	"bytes"
	"crypto/aes"
	"crypto/cipher"
	"crypto/ecdh"
	"crypto/hkdf"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"encoding/binary"
	"errors"
	"fmt"
)

// Phone is the receiving end of Web Push, written from RFC 8291 and RFC 8188 with the standard library.
type Phone struct {
	key    *ecdh.PrivateKey
	secret []byte // shared with the sender when subscribing
}

// NewPhone makes a phone from its private key and secret in base64url; both empty: new ones.
func NewPhone(key, secret string) (*Phone, error) {
	if key == "" {
		made, err := ecdh.P256().GenerateKey(rand.Reader)
		if err != nil {
			return nil, err
		}
		p := &Phone{key: made, secret: make([]byte, 16)}
		_, err = rand.Read(p.secret)
		return p, err
	}
	rawKey, err1 := base64.RawURLEncoding.DecodeString(key)
	rawSecret, err2 := base64.RawURLEncoding.DecodeString(secret)
	if err := errors.Join(err1, err2); err != nil {
		return nil, err
	}
	read, err := ecdh.P256().NewPrivateKey(rawKey)
	return &Phone{key: read, secret: rawSecret}, err
}

// Subscription gives what the phone's browser would: where to post and with which keys.
func (p *Phone) Subscription(endpoint string) string {
	e := base64.RawURLEncoding.EncodeToString
	return fmt.Sprintf(`{"endpoint":%q,"expirationTime":null,"keys":{"p256dh":%q,"auth":%q}}`, endpoint, e(p.key.PublicKey().Bytes()), e(p.secret))
}

// Open decrypts the body of a push that fits one record.
func (p *Phone) Open(body []byte) ([]byte, error) {
	if len(body) < 21 || len(body) < 21+int(body[20]) {
		return nil, errors.New("the header is cut short")
	}
	salt, size, sender := body[:16], binary.BigEndian.Uint32(body[16:20]), body[21:21+int(body[20])]
	if sealed := len(body) - 21 - len(sender); sealed > int(size) {
		return nil, fmt.Errorf("a record of %d bytes, announced as at most %d", sealed, size)
	}
	public, err := ecdh.P256().NewPublicKey(sender)
	if err != nil {
		return nil, err
	}
	shared, err := p.key.ECDH(public)
	if err != nil {
		return nil, err
	}
	info := "WebPush: info\x00" + string(p.key.PublicKey().Bytes()) + string(sender)
	input, err1 := hkdf.Key(sha256.New, shared, p.secret, info, 32)
	key, err2 := hkdf.Key(sha256.New, input, salt, "Content-Encoding: aes128gcm\x00", 16)
	nonce, err3 := hkdf.Key(sha256.New, input, salt, "Content-Encoding: nonce\x00", 12)
	block, err4 := aes.NewCipher(key)
	if err := errors.Join(err1, err2, err3, err4); err != nil {
		return nil, err
	}
	gcm, err := cipher.NewGCM(block)
	if err != nil {
		return nil, err
	}
	plain, err := gcm.Open(nil, nonce, body[21+len(sender):], nil)
	if err != nil {
		return nil, err
	}
	plain = bytes.TrimRight(plain, "\x00")
	if len(plain) == 0 || plain[len(plain)-1] != 2 {
		return nil, errors.New("the last record does not end in a 2")
	}
	return plain[:len(plain)-1], nil
}
