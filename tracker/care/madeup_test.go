package care_test

import (
	"context"
	"errors"
	"testing"
	"time"

	"leground/tracker"
	"leground/tracker/care"
	"leground/tracker/store"
)

func emptyService(t *testing.T) *care.Service {
	t.Helper()
	now := time.Date(2026, 5, 14, 9, 0, 0, 0, time.UTC)
	db, err := store.Open(t.Context(), t.TempDir(), now)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := db.Close(); err != nil {
			t.Error(err)
		}
	})
	return care.New(db, func() time.Time { return now })
}

func setUp() care.SetUp {
	return care.SetUp{
		YardName: "Marlpit Yard", Zone: "Europe/London", PersonName: "Ada", Email: "ada@marlpit.example", Password: "four words to keep",
		Order: tracker.Legs(), LegWords: tracker.LeftRight, Mark: tracker.Point,
	}
}

// Nobody gets into a real yard without a password, and no made-up record stands beside a real one.
func TestMadeUpStaysApart(t *testing.T) {
	service := emptyService(t)
	token, err := service.FirstLink(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	session, err := service.OpenYard(t.Context(), token, "test", setUp())
	if err != nil {
		t.Fatal(err)
	}
	actor, err := service.Actor(t.Context(), session)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := service.SignInLinkFor(t.Context(), actor); tracker.KindOf(err) != tracker.Forbidden {
		t.Errorf("a sign-in link for a real yard: %v", err)
	}
	if _, err := service.OpenMadeUpYard(t.Context(), setUp()); tracker.KindOf(err) != tracker.Conflict {
		t.Errorf("a made-up yard beside a real one: %v", err)
	}
}

// The password that a caller gives for a made-up owner is not theirs.
func TestNobodySignsInAsMadeUp(t *testing.T) {
	service := emptyService(t)
	in := setUp()
	if _, err := service.OpenMadeUpYard(t.Context(), in); err != nil {
		t.Fatal(err)
	}
	if _, err := service.SignIn(t.Context(), in.Email, in.Password, "test"); tracker.KindOf(err) != tracker.Invalid {
		t.Errorf("signed in with the password that was given: %v", err)
	}
}

func TestTogether(t *testing.T) {
	service := emptyService(t)
	ada, err := service.OpenMadeUpYard(t.Context(), setUp())
	if err != nil {
		t.Fatal(err)
	}
	horse := func() tracker.Horse { return tracker.Horse{ID: tracker.HorseID(care.NewID()), Name: "Bramble"} }
	stop := errors.New("stop")
	tests := []struct {
		what string
		do   func(context.Context, *care.Service) error
		want func(error) bool
		kept int
	}{
		{"two use cases", func(ctx context.Context, s *care.Service) error {
			return errors.Join(s.AddHorse(ctx, ada, horse()), s.AddHorse(ctx, ada, horse()))
		}, func(err error) bool { return err == nil }, 2},
		{"sees what it wrote, and undoes it when it fails", func(ctx context.Context, s *care.Service) error {
			if err := s.AddHorse(ctx, ada, horse()); err != nil {
				return err
			}
			if horses, err := s.Horses(ctx, ada); err != nil || len(horses) != 3 {
				t.Errorf("inside there are %d horses, want 3: %v", len(horses), err)
			}
			return stop
		}, func(err error) bool { return errors.Is(err, stop) }, 2},
		{"another yard", func(ctx context.Context, s *care.Service) error {
			stranger := ada
			stranger.Yard = tracker.YardID(care.NewID())
			return s.AddHorse(ctx, stranger, horse())
		}, func(err error) bool { return tracker.KindOf(err) == tracker.Forbidden }, 2},
		{"what belongs to no yard", func(ctx context.Context, s *care.Service) error {
			_, err := s.FirstLink(ctx)
			return err
		}, func(err error) bool { return tracker.KindOf(err) == tracker.Forbidden }, 2},
	}
	for _, tc := range tests {
		err := service.Together(t.Context(), ada.Yard, func(s *care.Service) error { return tc.do(t.Context(), s) })
		if !tc.want(err) {
			t.Errorf("%s: %v", tc.what, err)
		}
		if horses, err := service.Horses(t.Context(), ada); err != nil || len(horses) != tc.kept {
			t.Errorf("%s: %d horses are kept, want %d: %v", tc.what, len(horses), tc.kept, err)
		}
	}
}
