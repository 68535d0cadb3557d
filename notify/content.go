package notify

import "leground/tracker"

// What a message has to say is frozen by who plans it; its types are the nouns of package tracker.
type (
	// Kind is what sort of reminder a message is, as stored. The empty Kind is none.
	Kind = tracker.NewsKind
	// Content is what a message has to say, in words already chosen for its yard.
	Content = tracker.News
	// Horse is one horse of a round with the legs to look at, in walking order.
	Horse = tracker.NewsHorse
	// Leg is one leg of a horse and what is to be done there.
	Leg = tracker.NewsLeg
	// Caution is an open caution in the words it was raised with.
	Caution = tracker.NewsCaution
	// Mix is a made-up dilution and the local time at which it must be thrown away.
	Mix = tracker.NewsMix
	// Week counts seven days of one yard.
	Week = tracker.NewsWeek
)

// The kinds.
const (
	RoundDue     = tracker.NewsRound
	Nudge        = tracker.NewsNudge
	SecondPerson = tracker.NewsSecondPerson
	CautionOpen  = tracker.NewsCautionOpen
	Notice       = tracker.NewsNotice
	Summary      = tracker.NewsSummary
	WeeklyLine   = tracker.NewsWeekly
	TestMessage  = tracker.NewsTest
)

// NotADiagnosis stands once in every message that shows a caution.
const NotADiagnosis = "This is not a diagnosis. Only your vet can say what it means."
