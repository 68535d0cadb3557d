package healing

import (
	"fmt"
	"math"
	"time"

	"leground/tracker"
)

// fewDays is how many days what is known of a site may be said without the day that it was seen on.
const fewDays = 3

// AsOf gives "as of Wed 25 Mar" for what was last seen on a day more than a few days before another, else "".
func AsOf(known, today tracker.Date) string {
	if known == 0 || today-known <= fewDays {
		return ""
	}
	return "as of " + tracker.DayName(known)
}

// Why puts the reason for the label into a sentence or two with its numbers, and says up to which day it is
// known when the last measured one is some days past.
func (j Judgement) Why(mark tracker.DecimalMark) string {
	why := j.reason(mark)
	if old := AsOf(j.LastDay, j.AsOf); old != "" {
		why = tracker.Capital(old) + ", its last measured day. " + why
	}
	return why
}

func (j Judgement) reason(mark tracker.DecimalMark) string {
	switch j.Reason {
	case NothingMeasured:
		if j.ClosedOnce && j.AsOf-j.LastDay < longDays {
			return "No open skin on its last measured day. Closed over needs two such days, with the skin seen and no scab or bandage on it."
		}
		return "It was not measured in the last six weeks."
	case FewDays:
		return fmt.Sprintf("Measured on %s. %s", days(j.DaysUsed), j.needs())
	case ShortSpan:
		return fmt.Sprintf("Its %d measured days span %s. %s", j.DaysUsed, days(j.SpanDays), j.needs())
	case SincePeak:
		return fmt.Sprintf("A fresh wound is judged from where it turned, day 21 at the latest: measured on %s since. %s", days(j.DaysUsed), j.needs())
	case NotTurned:
		return fmt.Sprintf("A fresh wound that has not turned yet: by its last three measured days it is as large as ever, %s times its first area. %s",
			tracker.FormatFloat(j.AreaCM2/j.FirstAreaCM2, 1, mark), j.needs())
	case FreshWound:
		return "A fresh leg wound. These often grow for two to three weeks; it is not shown to be closing yet."
	case FreshGrowth:
		return "Larger than at first. Common in fresh leg wounds; not a reason to wait."
	case BeyondFreshGrowth:
		return "A fresh wound that grew to more than 2.2 times its first area, which is more than published wounds did and more than measuring error explains."
	case WideBelowZero, LongBelowZero, WideAboveZero, LongAboveZero, AboveZeroSlow:
		return j.moved(mark)
	case LowRate:
		return fmt.Sprintf("After %s its edge moves %s: it is not shown to be closing.", days(j.SinceFirst), perDay(j.Rate, mark))
	case LowCeiling:
		return fmt.Sprintf("After %s its edge moves %s, and at the very most %s.", days(j.SinceFirst), perDay(j.Rate, mark), perDay(j.High, mark))
	case UnclearTooLong:
		return fmt.Sprintf("%s since the first reading and still not shown to be closing.", days(j.SinceFirst))
	case NotShown:
		return fmt.Sprintf("Its edge moves %s, give or take what measuring hides: it may be %s.", perDay(j.Rate, mark), j.may())
	case Held:
		return fmt.Sprintf("The last look alone says %s. Three looks in a row change the label.", j.Alone)
	case NoAgreement:
		return "The last three looks do not agree with each other."
	case ZeroTwice:
		return "No open skin on two measured days, with the skin seen."
	}
	return ""
}

// needs says what a rate needs, by the settings in force.
func (j Judgement) needs() string {
	return fmt.Sprintf("A rate needs at least %s that span %s.", tracker.Count(j.NeedDays, "measured day"), days(j.NeedSpan))
}

// may names what an edge that is not shown to move may be doing. The interval that its label rests on holds
// zero, so it may stand still or widen; closing is named only where the exact interval holds it too.
func (j Judgement) may() string {
	switch {
	case j.High <= 0:
		return "widening or standing still"
	case j.Rate < 0:
		return "widening, standing still or closing"
	}
	return "closing, standing still or widening"
}

// moved says which way the edge moves and on what the label rests.
func (j Judgement) moved(mark tracker.DecimalMark) string {
	low, high := j.LabelLow, j.LabelHigh
	way := "in"
	if j.Rate < 0 {
		low, high, way = -high, -low, "out"
	}
	text := fmt.Sprintf("Its edge moves %s by %s over %s.", way, rate(math.Abs(j.Rate), mark), days(j.SpanDays))
	if j.LabelSpanDays > j.SpanDays {
		text += fmt.Sprintf(" Over %s, and", days(j.LabelSpanDays))
	} else {
		text += " Even"
	}
	return text + fmt.Sprintf(" allowing for errors that run together and for looking often, it is %s to %s.",
		tracker.FormatFloat(low, 2, mark), rate(high, mark))
}

// SmallestSentence says what these measurements could show: an edge that moves at that rate has an even
// chance of being shown to move. It is empty where there is no rate.
func (j Judgement) SmallestSentence(mark tracker.DecimalMark) string {
	if math.IsNaN(j.Smallest) {
		return ""
	}
	return fmt.Sprintf("The smallest rate these measurements could show is %s.", rate(j.Smallest, mark))
}

// Prompt gives the words of the prompt to measure again, "" when it is not shown.
func (j Judgement) Prompt() string {
	if j.Remeasure {
		return "Possible widening, measure again today."
	}
	return ""
}

func rate(mmPerDay float64, mark tracker.DecimalMark) string {
	return tracker.FormatFloat(mmPerDay, 2, mark) + "\u00a0mm a day"
}

func perDay(closing float64, mark tracker.DecimalMark) string {
	if closing < 0 {
		return "out by " + rate(-closing, mark)
	}
	return "in by " + rate(closing, mark)
}

func days(n int) string {
	if n == 1 {
		return "1\u00a0day"
	}
	return fmt.Sprintf("%d\u00a0days", n)
}

// Record gives what is kept of the judgement of a site.
func (j Judgement) Record(site tracker.SiteID, mark tracker.DecimalMark, madeAt time.Time) tracker.Judgement {
	return tracker.Judgement{Site: site, Day: j.AsOf, Label: j.Label.String(), Reason: j.Why(mark), MadeAt: madeAt,
		HasRate: !math.IsNaN(j.High), Rate: known(j.Rate), Low: known(j.Low), High: known(j.High),
		LabelLow: known(j.LabelLow), LabelHigh: known(j.LabelHigh), Smallest: known(j.Smallest),
		DaysUsed: j.DaysUsed, SpanDays: j.SpanDays, Remeasure: j.Remeasure, AreaCM2: known(j.AreaCM2),
		FirstCM2: known(j.FirstAreaCM2), FirstDay: j.FirstDay, GiveOrTake: known(j.GiveOrTakeCM2), SlowDays: j.SlowDays,
		OverdueTurn: j.OverdueTurn, Gilman: known(j.GilmanMM), HalfLife: known(j.HalfLifeDays), ClosesFrom: j.ClosesFrom, ClosesTo: j.ClosesTo}
}

// known gives 0 for a figure that does not exist, as the record keeps it.
func known(x float64) float64 {
	if math.IsNaN(x) {
		return 0
	}
	return x
}
