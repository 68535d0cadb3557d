package healing

import "slices"

// Label is the word that a site is judged by. The zero Label is none.
type Label int

// The labels of a wound, and after them those of a patch; TooEarly belongs to both.
const (
	TooEarly Label = iota + 1
	EarlyWidening
	Closing
	Slow
	NotClosing
	Widening
	Unclear
	ClosedOver
	Clearing
	NoChange
	Worse
	Clear
)

var labelWords = [...]string{"", "too early to say", "early widening", "closing", "slow", "not closing", "widening", "unclear",
	"closed over", "clearing", "no change", "worse", "clear"}

// String gives the label in the words of the screen, "" for no label.
func (l Label) String() string {
	if l < 0 || int(l) >= len(labelWords) {
		return ""
	}
	return labelWords[l]
}

// ParseLabel reads what String wrote; words that are no label any more are none.
func ParseLabel(words string) Label {
	return Label(max(0, slices.Index(labelWords[:], words)))
}

// Reason names why a label was given. The zero Reason is none.
type Reason int

// The reasons. Judgement.Why and PatchJudgement.Why put them into a sentence with their numbers.
const (
	NothingMeasured   Reason = iota + 1 // no size within the longest stretch
	FewDays                             // fewer measured days than a rate needs
	ShortSpan                           // measured days too close together
	SincePeak                           // too few days since a fresh wound turned
	NotTurned                           // the same, and the wound is as large as it ever was
	FreshWound                          // a fresh wound that neither grows nor is shown to close yet
	FreshGrowth                         // a fresh wound that grows within what is published
	BeyondFreshGrowth                   // a fresh wound that grew beyond what is published, past measuring error
	WideBelowZero                       // the wider interval lies below zero
	LongBelowZero                       // the wider interval over up to six weeks does
	WideAboveZero                       // the wider interval lies above zero, rate at the closing limit or above
	LongAboveZero                       // over up to six weeks
	AboveZeroSlow                       // above zero, rate under the closing limit
	LowRate                             // enough days, and the rate is under the not-closing limit
	LowCeiling                          // enough days, and the interval ends under the closing limit
	UnclearTooLong                      // unclear, and the site's first reading is four weeks old
	NotShown                            // the interval holds both closing and standing still
	Held                                // the last look alone says otherwise; three in a row change the label
	NoAgreement                         // the last three looks neither keep the label nor agree on another
	ZeroTwice                           // no open skin on two measured days, skin seen
	FewLooks                            // a patch looked at on too few days
	NothingInCommon                     // no sign was judged at both ends
	ScoreFell                           // active score fell by the step or more
	ScoreRose                           // active score rose by the step or more
	SignRose                            // a sign newly reached its highest step
	ScoreSteady                         // neither
	ScoreZero                           // active score 0 on two days
)
