// Package webhook posts reminders to an address of the person's own choice, signed as Standard Webhooks
// 1.0.0 describes (standardwebhooks.com): headers webhook-id, webhook-timestamp and webhook-signature,
// HMAC-SHA256 under a secret that only both ends know.
//
// The id of a message is the same over all tries, so that a receiver can drop a second copy. Whatever is
// not 2xx is a failure, a redirect too; 410 ends the endpoint. The address comes from a person, so every
// request goes through notify.Guard.
package webhook
