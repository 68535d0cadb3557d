package cautions

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"leground/tracker"
)

// The reasons that Hold gives.
const (
	NewCaution    = "No caution of this rule about this subject was shown lately."
	LevelRose     = "The level rose."
	RingNowAgain  = "Ring now is never held back: a new look says it again."
	SameLook      = "The same look has raised it already."
	StillOpen     = "The same caution is still open."
	PromisedRing  = "Somebody said that they will ring; it opens again then."
	ShownLately   = "It was shown and acted on less than a day ago."
	SaidOnce      = "This is said once, at the first look."
	NothingNewYet = "It was acted on, and it is too soon to ask again."
	GotWorse      = "It was acted on, and a number is worse than it was then."
)

// Hold decides whether a rule that fired becomes a new caution, and says why. existing are the horse's
// cautions, open or closed, of the last month at least.
//
// A caution that is open already is not raised twice, nor is anything the same look has raised; a higher
// level always is. Once somebody acted, the same rule is held about the same subject for a day, or for
// the rule's own time where its reason lasts by nature. A number that got worse ends that time: what was
// acted on was less. Ring now is never held: a new look raises it again even while somebody's promise to
// ring is running.
func Hold(existing []tracker.Caution, fired Fired, now time.Time) (raise bool, reason string) {
	rule, _ := RuleByID(fired.Rule)
	var last tracker.Caution
	found, lower := false, false
	for _, c := range existing {
		switch {
		case !fired.about(c):
			continue
		case c.Level > fired.Level:
			lower = true // it holds nothing back
			continue
		case fired.shownBy(c) && !rule.worse(fired, c):
			return false, SameLook
		case c.OpenAt(now):
			return false, StillOpen
		case !found || lastTouched(c).After(lastTouched(last)):
			last, found = c, true
		}
	}
	quiet := now.Sub(lastTouched(last))
	switch {
	case !found && lower:
		return true, LevelRose
	case !found:
		return true, NewCaution
	case rule.Once:
		return false, SaidOnce
	case fired.Level == tracker.RingNow && fired.Check != "":
		return true, RingNowAgain
	case !last.Closed():
		return false, PromisedRing
	case rule.worse(fired, last):
		return true, GotWorse
	case quiet < nextDay:
		return false, ShownLately
	case quiet < rule.Again:
		return false, NothingNewYet
	}
	return true, NewCaution
}

// about tells whether a caution is of the same rule about the same subject.
func (f Fired) about(c tracker.Caution) bool {
	return c.Rule == f.Rule && c.Horse == f.Horse && c.Leg == f.Leg && c.Site == f.Site
}

// shownBy tells whether a caution shows the look that met a rule.
func (f Fired) shownBy(c tracker.Caution) bool {
	return f.Check != "" && slices.ContainsFunc(c.Shown(), func(s tracker.Sighting) bool { return s.Check == f.Check })
}

// Met gives the first caution that waits for the vet already and that a rule that fired meets with other
// numbers than it showed last. They stand beside the first ones: nobody is called a second time, and nobody
// reads out an old number.
func Met(existing []tracker.Caution, fired Fired) (i int, found bool) {
	i = slices.IndexFunc(existing, func(c tracker.Caution) bool {
		shown := c.Shown()
		return fired.about(c) && !c.Closed() && c.Level <= fired.Level && fired.moved(shown[len(shown)-1].Numbers)
	})
	return i, i >= 0
}

// moved tells whether a rule fired with other numbers than it did. Days that pass move nothing.
func (f Fired) moved(from map[string]string) bool {
	for name, value := range f.Numbers {
		if name != "days" && from[name] != value {
			return true
		}
	}
	return false
}

// lastTouched is when somebody last acted on a caution, or when it was raised.
func lastTouched(c tracker.Caution) time.Time {
	at := c.Raised
	for _, act := range c.Acts {
		if act.At.After(at) {
			at = act.At
		}
	}
	return at
}

// mostSlabs is how many slabs the Board shows; ring now always shows.
const mostSlabs = 2

// Slabs chooses what the Board shows of cautions of any number of horses. slabs are at most one a horse
// and two in all, except that every open caution to ring now has its own. lines are all others that are
// not closed, those that somebody promised to ring about too. Both are most urgent first, then oldest.
func Slabs(cautions []tracker.Caution, now time.Time) (slabs, lines []tracker.Caution) {
	sorted := slices.Clone(cautions)
	slices.SortFunc(sorted, func(a, b tracker.Caution) int {
		return cmp.Or(cmp.Compare(a.Level, b.Level), a.Raised.Compare(b.Raised), cmp.Compare(a.ID, b.ID))
	})
	hasSlab := map[tracker.HorseID]bool{}
	for _, c := range sorted {
		switch {
		case c.Closed():
		case !c.OpenAt(now):
			lines = append(lines, c)
		case c.Level == tracker.RingNow, !hasSlab[c.Horse] && len(slabs) < mostSlabs:
			slabs = append(slabs, c)
			hasSlab[c.Horse] = true
		default:
			lines = append(lines, c)
		}
	}
	return slabs, lines
}

// daysToVisit is how long a caution may wait for a visit.
const daysToVisit = 7

// Escalate gives the level that a caution has at an instant, and says why. One that waits for the next
// visit becomes ring today on day 7 unless a visit is still to come by then. nextVisit is the next dated
// visit, today or later; 0: none. now and the time it was raised are read in now's location.
func Escalate(c tracker.Caution, now time.Time, nextVisit tracker.Date) (tracker.Level, string) {
	today, raised := tracker.DateOf(now), tracker.DateOf(c.Raised.In(now.Location()))
	lastDay := raised + daysToVisit
	switch {
	case c.Closed():
		return c.Level, "It is closed."
	case c.Level != tracker.NextVisit:
		return c.Level, "Only a caution for the next visit becomes more urgent by waiting."
	case today < lastDay:
		return c.Level, fmt.Sprintf("It waits for a visit until %s.", tracker.DayName(lastDay))
	case nextVisit >= today && nextVisit <= lastDay:
		return c.Level, fmt.Sprintf("The vet comes on %s.", tracker.DayName(nextVisit))
	}
	return tracker.RingToday, fmt.Sprintf("No visit came within %d days of %s.", daysToVisit, tracker.DayName(raised))
}

// ActOffer is one way to act on a caution, with the words of its button.
type ActOffer struct {
	Kind  tracker.CautionActKind
	Words string
}

// Offers lists what may be done about a caution. There is no bare way to close one, and only ringing
// closes ring now.
func Offers(level tracker.Level) []ActOffer {
	offers := []ActOffer{{tracker.Rang, "I rang the vet"}, {tracker.WillRingAt, "I will ring at"}}
	if level != tracker.RingNow {
		offers = append(offers, ActOffer{tracker.VetKnows, "The vet knows already"})
	}
	return offers
}

// PromiseHours is how far ahead a promise to ring may reach (common practice, no source): ring now waits no longer than a
// vet may take to come to a telephone, anything else until the vet opens in the morning. So a time of day that
// is past is no promise for tomorrow, and one after midnight still is one.
func PromiseHours(level tracker.Level) int {
	if level == tracker.RingNow {
		return 4
	}
	return 16
}

// CheckAct refuses an act that the caution does not take.
func CheckAct(c tracker.Caution, act tracker.CautionAct) error {
	hours := PromiseHours(c.Level)
	offered := slices.ContainsFunc(Offers(c.Level), func(o ActOffer) bool { return o.Kind == act.Kind })
	switch {
	case !offered && c.Level == tracker.RingNow:
		return tracker.Refuse(tracker.Invalid, "Only ringing the vet closes this. Ring, then press \"I rang the vet\".")
	case !offered:
		return tracker.Refuse(tracker.Invalid, "Say whether you rang, when you will ring, or that the vet knows.")
	case act.Kind == tracker.WillRingAt && (!act.Until.After(act.At) || act.Until.Sub(act.At) > time.Duration(hours)*time.Hour):
		var p tracker.Problems
		p.Add("until", fmt.Sprintf("The time to ring must be within the next %d hours; one that is past today counts for tomorrow. Ring, or give an earlier time.", hours))
		return p.Err()
	}
	return nil
}

// TellOwner tells whether the owner hears at once, outside every budget: when ring now is raised, whoever
// raised it, and when anybody but the owner acts on it. kind is 0 for the raising itself.
func TellOwner(level tracker.Level, kind tracker.CautionActKind, by tracker.Role) (tell bool, reason string) {
	switch {
	case level != tracker.RingNow:
		return false, "Only ring now goes to the owner at once."
	case kind == 0:
		return true, "Owners hear of ring now at once."
	case by == tracker.Owner:
		return false, "The owner did it."
	}
	return true, "Owners hear at once what others do about ring now."
}
