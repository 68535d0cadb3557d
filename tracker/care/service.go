package care

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"slices"
	"time"

	"github.com/google/uuid"

	"leground/tracker"
)

// Service holds the use cases over one store and one clock.
type Service struct {
	store    Store
	now      func() time.Time
	hash     *hasher
	channels []string // that this server has
}

// New makes the service. Now is the only clock it reads, once in each use case.
func New(store Store, now func() time.Time) *Service {
	return &Service{store: store, now: now, hash: newHasher(), channels: Channels()}
}

// Serving tells which channels the server has; nobody is planned a message over another. It is called once,
// before the service is used.
func (s *Service) Serving(channels ...string) *Service {
	s.channels = channels
	return s
}

// Now gives the service's clock, for pages that show what it is.
func (s *Service) Now() time.Time { return s.now() }

// Ping tells whether the database answers.
func (s *Service) Ping(ctx context.Context) error { return s.store.Ping(ctx) }

// Actor is who asks: a person in a yard, from a device.
type Actor struct {
	Yard    tracker.YardID
	Person  tracker.Person
	Role    tracker.Role
	Device  string
	Session string
}

// may refuses unless the actor has one of the roles.
func (a Actor) may(roles ...tracker.Role) error {
	if slices.Contains(roles, a.Role) {
		return nil
	}
	return tracker.Refuse(tracker.Forbidden, "Only the owner of the yard may do that. Ask them to do it, or to change your part.")
}

// recording runs a use case of somebody who may record: with one now, in one transaction that keeps all of it or
// nothing.
func (s *Service) recording(ctx context.Context, a Actor, do func(tx Tx, now time.Time) error) error {
	return s.writing(ctx, a, do, tracker.Owner, tracker.Carer)
}

// owning is recording for owners only.
func (s *Service) owning(ctx context.Context, a Actor, do func(tx Tx, now time.Time) error) error {
	return s.writing(ctx, a, do, tracker.Owner)
}

// reading looks something up in a yard, with one now and in one transaction that sees one state throughout. What it
// gives is made afresh each time that the database has it looked up again.
func reading[V any](ctx context.Context, s *Service, yard tracker.YardID, look func(tx Tx, now time.Time) (V, error)) (V, error) {
	now := s.now()
	var view V
	err := s.store.Read(ctx, yard, func(tx Tx) (err error) {
		view, err = look(tx, now)
		return err
	})
	return view, err
}

func (s *Service) writing(ctx context.Context, a Actor, do func(Tx, time.Time) error, roles ...tracker.Role) error {
	if err := a.may(roles...); err != nil {
		return err
	}
	now := s.now()
	return s.store.Write(ctx, a.Yard, func(tx Tx) error { return do(tx, now) })
}

// NewID makes an id: a UUID of version 7 in lower case.
func NewID() string { return uuid.Must(uuid.NewV7()).String() }

// NewRecord makes the id of a form that will record something.
func NewRecord() tracker.RecordID { return tracker.RecordID(NewID()) }

// newToken makes a secret of 256 random bits for a link or a session, and the hash that is kept of it.
func newToken() (token, hash string) {
	var secret [32]byte
	rand.Read(secret[:]) // never fails: it ends the program when the system has no randomness
	token = base64.RawURLEncoding.EncodeToString(secret[:])
	return token, HashToken(token)
}

// HashToken gives the SHA-256 of a link's or session's secret in hexadecimal. A secret of 256 random
// bits needs no salt and no slow hash.
func HashToken(token string) string {
	sum := sha256.Sum256([]byte(token))
	return hex.EncodeToString(sum[:])
}

// Moment is a yard at an instant: what it is, its zone, and the calendar day there.
type Moment struct {
	Yard  tracker.Yard
	Zone  *time.Location
	Now   time.Time
	Today tracker.Date
}

// momentOf reads a yard as it is at an instant.
func momentOf(tx Tx, now time.Time) (Moment, error) {
	yard, err := tx.Yard()
	if err != nil {
		return Moment{}, err
	}
	return momentIn(yard, now)
}

// momentIn is that moment in a yard that is known. It is never saved with a zone that does not load.
func momentIn(yard tracker.Yard, now time.Time) (Moment, error) {
	zone, err := time.LoadLocation(yard.Zone)
	if err != nil {
		return Moment{}, tracker.Refuse(tracker.Unavailable, "The yard's time zone "+yard.Zone+" is not known to this machine.")
	}
	return Moment{yard, zone, now, tracker.DateOf(now.In(zone))}, nil
}

// noteAndWake is note for a change of which people may have to hear.
func noteAndWake(tx Tx, a Actor, at time.Time, action, subject, detail string) error {
	if err := tx.WakeBy(at); err != nil {
		return err
	}
	return note(tx, a, at, action, subject, detail)
}

// note adds a line about a change.
func note(tx Tx, a Actor, at time.Time, action, subject, detail string) error {
	return tx.AddAudit(Audit{ID: NewID(), At: at, By: a.Person.ID, Device: a.Device, Action: action, Subject: subject, Detail: detail})
}
