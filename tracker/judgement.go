package tracker

import "time"

// Judgement is what was judged of a site as of a measured day, kept so that every page shows the same
// label without reading the site's history again. Package healing makes it; the words are its own.
type Judgement struct {
	Site   SiteID
	Day    Date   // the day it was judged as of
	Label  string // a label word of the site's kind, such as "closing" or "no change"
	Reason string // why, in a sentence
	MadeAt time.Time

	// Of a wound: the rate in mm a day, positive when closing, with its interval. Known only with HasRate.
	HasRate     bool
	Rate        float64
	Low         float64 // the exact-rank interval
	High        float64
	LabelLow    float64 // the wider interval that the label rests on
	LabelHigh   float64
	Smallest    float64 // the smallest rate these measurements could show
	DaysUsed    int
	SpanDays    int
	Remeasure   bool    // possible widening: measure again today; neither a label nor a caution
	AreaCM2     float64 // last measured day; 0 with ClosedOver
	FirstCM2    float64 // first measured day since the latest reset; 0: none
	FirstDay    Date
	GiveOrTake  float64 // of AreaCM2, cm2
	SlowDays    int     // days that the label has been slow, without a break
	OverdueTurn bool    // a fresh wound that should have turned by now
	Gilman      float64 // advance of the edge in mm a day from the first day used to the last, by Gilman's formula
	HalfLife    float64 // days in which the area halves; 0 when it grows
	ClosesFrom  Date    // with ClosesTo, when it may close if it goes on so; zero before five weeks of closing
	ClosesTo    Date

	// Of a patch: the active and chronic scores of the last look and how many signs were judged.
	Active        int
	ActiveJudged  int
	Chronic       int
	ChronicJudged int
}
