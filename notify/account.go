package notify

import (
	"math"
	"time"

	"golang.org/x/time/rate"
)

// Pace is how fast an account may be asked to send.
type Pace struct {
	PerMinute int
	Burst     int
}

// DefaultPace stays under the 30 messages a minute that one common hosted mailbox allows.
func DefaultPace() Pace { return Pace{PerMinute: 25, Burst: 10} }

// TimeFor tells how long n messages take at this pace.
func (p Pace) TimeFor(n int) time.Duration {
	if n <= p.Burst {
		return 0
	}
	return time.Duration(float64(n-p.Burst) / float64(p.PerMinute) * float64(time.Minute)).Round(time.Second)
}

// How long an account rests after a failure before one row is tried as a probe.
const (
	troubleWait = 30 * time.Second // doubled at each further trouble
	troubleMost = 5 * time.Minute
	setUpWait   = 30 * time.Minute
	faultWait   = time.Hour // when a quota names no time
	restMost    = 24 * time.Hour
)

// Learning of the pace: a third less when a server asks for fewer, though at most once a minute, and one
// more a minute after so many accepted in a row.
const (
	slowestPace  = 2 // a minute
	learnedAfter = 5
)

// Health is what is known of an account, for the settings page and the Board.
type Health struct {
	Account   Account
	Class     Class     // of the last failure that concerned the account; 0: it works
	Reason    string    // that failure in words
	Since     time.Time // first failure since it last worked
	Until     time.Time // it rests until then, then one row is tried
	PerMinute float64   // the learned pace
}

// account is the state of one account in this process. It is guarded by the engine's mutex.
type account struct {
	pace   Pace
	limit  *rate.Limiter
	busy   bool // a lane is at work
	wait   time.Duration
	streak int // accepted in a row
	slowed time.Time
	health Health
}

func newAccount(a Account, p Pace) *account {
	return &account{
		pace:   p,
		limit:  rate.NewLimiter(rate.Limit(float64(p.PerMinute)/60), p.Burst),
		health: Health{Account: a, PerMinute: float64(p.PerMinute)},
	}
}

// room tells how many rows may be claimed now: none while the account rests, one as a probe when the rest
// is over, else what the pace allows.
func (a *account) room(now time.Time) int {
	if now.Before(a.health.Until) {
		return 0
	}
	tokens := int(math.Floor(a.limit.TokensAt(now) + 1e-9))
	if a.health.Class != 0 {
		return min(1, tokens)
	}
	return tokens
}

// spend takes one message from the pace.
func (a *account) spend(now time.Time) { a.limit.AllowN(now, 1) }

// learn takes in what a try said about the account and tells whether more rows may follow. f is nil when
// the message was accepted. A failure that concerns one row only shows that the account works.
func (a *account) learn(now time.Time, f *Failure) (goOn bool) {
	if f != nil && f.SlowDown {
		a.streak = 0
		if now.Sub(a.slowed) >= time.Minute {
			a.slowed = now
			a.setPace(now, max(slowestPace, a.health.PerMinute*2/3))
		}
	}
	rest := a.restFor(f)
	if rest == 0 {
		a.wait, a.health.Class, a.health.Reason, a.health.Since = 0, 0, "", time.Time{}
		if f == nil {
			a.accepted(now)
		}
		if f != nil && f.SlowDown && f.RetryAfter > 0 {
			a.health.Until = now.Add(min(f.RetryAfter, restMost))
			return false
		}
		return true
	}
	a.streak = 0
	if a.health.Class == 0 {
		a.health.Since = now
	}
	a.health.Class, a.health.Reason, a.health.Until = f.Class, f.Error(), now.Add(rest)
	return false
}

// restFor tells how long the account rests after a failure, 0 when it concerns one row only.
func (a *account) restFor(f *Failure) time.Duration {
	if f == nil {
		return 0
	}
	asked := min(f.RetryAfter, restMost)
	switch f.Class {
	case ServerTrouble, Unknown:
		a.wait = min(max(2*a.wait, troubleWait), troubleMost)
		return max(a.wait, asked)
	case SetUpFault:
		return max(setUpWait, asked)
	case AccountFault:
		if asked > 0 {
			return asked
		}
		return faultWait
	}
	return 0
}

// accepted lets the learned pace grow back, step by step, to the one that was set.
func (a *account) accepted(now time.Time) {
	if a.streak++; a.streak < learnedAfter || a.health.PerMinute >= float64(a.pace.PerMinute) {
		return
	}
	a.streak = 0
	a.setPace(now, min(float64(a.pace.PerMinute), a.health.PerMinute+1))
}

func (a *account) setPace(now time.Time, perMinute float64) {
	a.health.PerMinute = perMinute
	a.limit.SetLimitAt(now, rate.Limit(perMinute/60))
}
