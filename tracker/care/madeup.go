package care

import (
	"context"

	"leground/tracker"
)

// OpenMadeUpYard makes the demonstration yard and its owner, without a set-up link and only where there
// is no yard at all: made-up records never stand beside real ones. The owner's password is random and
// known to nobody; [Service.SignInLinkFor] is the way in.
func (s *Service) OpenMadeUpYard(ctx context.Context, in SetUp) (Actor, error) {
	in.Password = NewSecret()
	if err := in.Problems().Err(); err != nil {
		return Actor{}, err
	}
	passwordHash := s.hash.make(in.Password)
	now := s.now()
	yard := in.yard(now)
	yard.MadeUp = true
	owner := tracker.Person{ID: tracker.PersonID(NewID()), Name: in.PersonName, Email: signInName(in.Email)}
	err := s.store.Across(ctx, func(g Gate) error {
		any, err := g.AnyYard()
		if err != nil {
			return err
		}
		if any {
			return tracker.Refuse(tracker.Conflict, "There is a yard here already. The made-up yard needs a folder or database of its own.")
		}
		return addFirst(g, yard, owner, passwordHash, now)
	})
	return Actor{Yard: yard.ID, Person: owner, Role: tracker.Owner, Device: "made up"}, err
}

// NewSecret makes a password of 256 random bits, for made-up people whom nobody signs in as.
func NewSecret() string {
	secret, _ := newToken()
	return secret
}

// SignInLinkFor makes a link that signs the actor in for a week, in a made-up yard only: whoever holds it
// needs no password.
func (s *Service) SignInLinkFor(ctx context.Context, a Actor) (token string, err error) {
	token, hash := newToken()
	now := s.now()
	err = s.store.Write(ctx, a.Yard, func(tx Tx) error {
		yard, err := tx.Yard()
		if err != nil {
			return err
		}
		if !yard.MadeUp {
			return tracker.Refuse(tracker.Forbidden, "Only people of a made-up yard are signed in by a link. Use the address and the password.")
		}
		return tx.AddLink(Link{
			ID: NewID(), TokenHash: hash, Kind: SignInLink, Yard: a.Yard, Person: a.Person.ID, Role: a.Role,
			MadeBy: a.Person.ID, MadeAt: now, ExpiresAt: now.Add(linkLife),
		})
	})
	return token, err
}

// Together runs use cases of one yard in one transaction: they are kept together or not at all. A real
// look has a transaction of its own; a made-up past of a thousand looks need not be on the disk one by one.
// do gets a service that it may use for that yard only, and runs again when the database asks for it. Once
// a use case has failed, do must fail too: what it had written is undone only with everything else.
func (s *Service) Together(ctx context.Context, yard tracker.YardID, do func(*Service) error) error {
	return s.store.Write(ctx, yard, func(tx Tx) error {
		within := *s
		within.store = inside{s.store, tx, yard}
		return do(&within)
	})
}

// inside is a store within a transaction that is open already.
type inside struct {
	Store
	tx   Tx
	yard tracker.YardID
}

func (i inside) Read(ctx context.Context, yard tracker.YardID, do func(Tx) error) error {
	return i.Write(ctx, yard, do)
}

func (i inside) Write(_ context.Context, yard tracker.YardID, do func(Tx) error) error {
	if yard != i.yard {
		return tracker.Refuse(tracker.Forbidden, "This transaction belongs to another yard.")
	}
	return do(i.tx)
}

// Across would wait for this very transaction to end.
func (i inside) Across(context.Context, func(Gate) error) error {
	return tracker.Refuse(tracker.Forbidden, "What belongs to no yard cannot be done inside a yard's transaction.")
}
