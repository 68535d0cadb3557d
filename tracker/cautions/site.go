package cautions

import (
	"fmt"
	"slices"

	"leground/tracker"
)

const (
	srcProud  = "Proud flesh in horses (Horse & Hound vet library, undated); " + srcWound
	srcTurn   = "Wilmink et al., Equine Vet J 1999;31:53; Bertone et al., Am J Vet Res 1985;46:1438; Dart et al., Aust Vet J 2009;87:215"
	srcTrial  = "Thomas et al., Vet Rec 2009;164:619"
	becauseUs = "Our own limit, between published good and poor rates of closing."
	ringSigns = "If there is lameness, fever, bad smell or fast swelling, ring now."
)

func siteRules() []entry {
	const now, today, visit = tracker.RingNow, tracker.RingToday, tracker.NextVisit
	return []entry{
		{Rule{ID: "wound-by-joint", Level: now, Title: "A wound by a joint or tendon sheath", Source: srcWound + "; " + srcLacerate, Grade: Published,
			Why: "Published advice: ring about a wound near a joint or tendon sheath.", Again: nextDay, Once: true,
			Next: "Do not probe it. Watch for sticky clear or yellow fluid."}, woundByJoint},
		{Rule{ID: "wound-lame", Level: now, Title: "A wound with new lameness", Source: srcWound, Grade: Published,
			Why: "Published advice: ring when a leg with a wound becomes lame.", Again: nextDay,
			Next: "Do not make the horse walk."}, woundLame},
		{Rule{ID: "proud-flesh", Level: today, Title: "Proud flesh: the bed stands above the skin", Source: srcProud, Grade: Published,
			Why: "Published advice: see the vet early about tissue above the skin.", Again: nextWeek, Worse: []Worse{{"bed", 2}}, Next: ringSigns}, proudFlesh},
		{Rule{ID: "widening", Level: today, Title: "A wound that widens", Source: srcWound, Grade: Published,
			Why: "Published advice: ring about a wound that grows.", Again: nextDay, Next: ringSigns}, widening},
		{Rule{ID: "several-worse", Level: today, Title: "Several sites get worse together", Grade: OwnChoice, Again: nextDay, Worse: []Worse{{"sites", 1}},
			Why: "Our own choice: several sites together are a stronger sign than one.", Next: ringSigns,
			Thresholds: []Threshold{fixed("sites", "sites that get worse", 2, "sites")}}, severalWorse},
		{Rule{ID: "joined", Level: today, Title: "Two sites have joined", Grade: OwnChoice, Again: nextWeek,
			Why: "Our own choice: sites that join have grown.", Next: ringSigns}, joined},
		{Rule{ID: "patch-worse", Level: today, Title: "A patch that gets worse", Source: srcCall, Grade: Published, Again: nextDay,
			Why: "Published advice on sore pasterns: call when it worsens despite care.", Next: ringSigns}, patchWorse},
		{Rule{ID: "patch-14", Level: today, Title: "A patch that is not clear after two weeks", Source: srcCall, Grade: Published,
			Again: nextWeek, Weaken: true, Why: "Published advice on sore pasterns: call when not healed in 2 weeks.", Next: ringSigns,
			Thresholds: []Threshold{{"days", "days since the first look", 14, "days", 7, 42}}}, patchNotClear},
		{Rule{ID: "new-site", Level: today, Title: "A new sore on a leg under treatment", Source: srcCall, Grade: Published,
			Again: nextDay, Once: true, Weaken: true, Why: "Published advice on sore pasterns: call when it worsens despite care.", Next: ringSigns,
			Thresholds: []Threshold{{"days", "days of treatment before", 3, "days", 1, 7}}}, newSite},
		{Rule{ID: "patch-7", Level: visit, Title: "A patch that has not changed in a week", Source: srcTrial, Grade: Published,
			Again: nextWeek, Weaken: true, Why: "A published trial judged such sores after 7 days.", Next: "If it gets worse, ring today.",
			Thresholds: []Threshold{{"days", "days since the first look", 7, "days", 5, 14}}}, patchUnchanged},
		{Rule{ID: "came-back", Level: visit, Title: "A site that opens again", Source: srcCall, Grade: Published,
			Again: nextWeek, Weaken: true, Why: "Published advice on sore pasterns: tell the vet when they keep coming back.",
			Next: "If it gets worse, ring today."}, cameBack},
		{Rule{ID: "chronic", Level: visit, Title: "Folds or nodules", Source: srcLymph, Grade: Published, Again: nextMonth, Weaken: true, Worse: []Worse{{"thickening", 1}, {"nodules", 1}},
			Why: "Published: folds and nodules are signs of a lasting lymph disease of heavy horses.", Next: "If they weep or bleed, ring today.",
			Thresholds: []Threshold{{"thickening", "thickening from", 2, "steps", 1, 3}, {"nodules", "nodules from", 1, "steps", 1, 3}}}, chronic},
		{Rule{ID: "not-closing", Level: visit, Title: "A wound that is not closing", Grade: OwnChoice, Again: nextWeek, Weaken: true,
			Why: becauseUs, Next: ringSigns}, notClosing},
		{Rule{ID: "slow-28", Level: visit, Title: "A wound that has closed slowly for four weeks", Grade: OwnChoice, Again: nextWeek, Weaken: true,
			Why: becauseUs, Next: ringSigns, Thresholds: []Threshold{{"days", "days of slow closing", 28, "days", 14, 56}}}, slow},
		{Rule{ID: "unclear-28", Level: visit, Title: "A wound that is still unclear after four weeks", Grade: OwnChoice, Again: nextWeek, Weaken: true,
			Why: "Our own choice: what is unclear for so long counts as not closing.", Next: ringSigns,
			Thresholds: []Threshold{{"days", "days since the first look", 28, "days", 14, 56}}}, unclear},
		{Rule{ID: "overdue-turn", Level: visit, Title: "A fresh wound that should have turned by now", Source: srcTurn, Grade: Published,
			Again: nextWeek, Why: "Published leg wounds stopped growing within 2 to 3 weeks.", Next: ringSigns}, overdueTurn},
	}
}

// eachSite fires for every open site that meets a test.
func (v view) eachSite(met func(SiteFacts) bool, words func(SiteFacts) (string, map[string]string)) []Fired {
	var all []Fired
	for _, s := range v.Sites {
		if s.Site.Open() && met(s) {
			seen, numbers := words(s)
			f := s.fired(seen)
			f.Numbers = numbers
			all = append(all, f)
		}
	}
	return all
}

func isWound(s SiteFacts) bool { return s.Site.Kind == tracker.Wound }
func isPatch(s SiteFacts) bool { return s.Site.Kind == tracker.Patch }

// byJoint lists where a joint or the tendon sheath behind the fetlock lies close under the skin (from
// memory). Wounds of the coronet and heels are left to the ticks for depth and fluid.
func byJoint(s tracker.Site) bool {
	switch s.Region {
	case tracker.Joint, tracker.PointOfHock, tracker.Fetlock, tracker.PasternFold:
		return true
	case tracker.LowerCannon, tracker.Ergot, tracker.Pastern:
		return s.Aspect == s.Leg.Back()
	}
	return false
}

// woundByJoint fires when the wound is found, looked at closely or not, and on the day of its first look: the vet who
// has been told need not hear of it at every look.
func woundByJoint(v view, _ Rule) []Fired {
	return v.eachSite(func(s SiteFacts) bool { return isWound(s) && (s.FirstLook || s.Check.ID == "") && byJoint(s.Site) },
		func(s SiteFacts) (string, map[string]string) {
			seen := s.Check.At
			if s.Check.ID == "" {
				seen = s.Site.OpenedAt
			}
			return fmt.Sprintf("A wound by a joint or tendon sheath, first seen %s. %s", v.when(seen), v.isOn(s)), nil
		})
}

// woundLame takes lameness of any grade that is new, or older than the first look at the wound.
func woundLame(v view, _ Rule) []Fired {
	var all []Fired
	for _, l := range v.Legs {
		walk := l.Line.Signs[tracker.Walk]
		_, isNew := l.trotLame()
		var tags []string
		for _, s := range v.wounds() {
			if s.Site.Leg == l.Leg {
				tags = append(tags, s.Site.Tag())
				isNew = isNew || s.FirstLook
			}
		}
		if walk == 0 || !isNew || len(tags) == 0 {
			continue
		}
		seen := fmt.Sprintf("The %s is lame or unsure on %s. It has an open wound: %s.", tracker.LegName(l.Leg, v.LegWords),
			v.when(l.Line.At), tracker.List(tags))
		all = append(all, l.legFired(seen, map[string]string{"walk grade": fmt.Sprint(walk)}))
	}
	return all
}

func proudFlesh(v view, _ Rule) []Fired {
	return v.eachSite(func(s SiteFacts) bool { return s.Check.Bed == tracker.BedAbove || s.Check.Size.BedMM > 0 },
		func(s SiteFacts) (string, map[string]string) {
			above := "above the skin"
			var numbers map[string]string
			if mm := s.Check.Size.BedMM; mm > 0 {
				above = fmt.Sprintf("%d mm above the skin", mm)
				numbers = map[string]string{"bed": fmt.Sprintf("%d mm", mm)}
			}
			return fmt.Sprintf("The bed stood %s on %s. %s", above, v.when(s.Check.At), v.isOn(s)), numbers
		})
}

func labelled(labels ...string) func(SiteFacts) bool {
	return func(s SiteFacts) bool { return slices.Contains(labels, s.Judged.Label) }
}

func widening(v view, _ Rule) []Fired {
	is := labelled("widening")
	return v.eachSite(func(s SiteFacts) bool { return isWound(s) && is(s) }, v.sizeWords)
}

// sizeWords say how a wound's size moved: from the first day to the last, and the rate of its edge.
func (v view) sizeWords(s SiteFacts) (string, map[string]string) {
	j := s.Judged
	numbers := map[string]string{"label": j.Label}
	seen := fmt.Sprintf("%s was judged %s on %s.", s.Site.Tag(), j.Label, tracker.DayName(j.Day))
	if j.FirstDay != 0 && j.FirstDay < j.Day {
		numbers["area"], numbers["first area"] = v.area(j.AreaCM2), v.area(j.FirstCM2)
		seen = fmt.Sprintf("%s was %s on %s and %s on %s: %s.", s.Site.Tag(), v.area(j.FirstCM2), tracker.DayName(j.FirstDay),
			v.area(j.AreaCM2), tracker.DayName(j.Day), j.Label)
	}
	if j.HasRate {
		way, rate := "in", j.Rate
		if rate < 0 {
			way, rate = "out", -rate
		}
		numbers["rate"] = v.perDay(j.Rate)
		seen += fmt.Sprintf(" Its edge moved %s by %s over %s.", way, v.perDay(rate), tracker.Count(j.SpanDays, "day"))
	}
	return seen + " " + v.isOn(s), numbers
}

func (v view) perDay(rate float64) string {
	return tracker.FormatFloat(rate, 2, v.Mark) + "\u00a0mm a day"
}

// area writes 8.2 cm² under 10 and 12 cm² from there on.
func (v view) area(cm2 float64) string {
	return tracker.FormatArea(cm2, v.Mark) + "\u00a0cm²"
}

// severalWorse is about the whole horse and names every site that gets worse.
func severalWorse(v view, r Rule) []Fired {
	is := labelled("widening", "worse")
	sites := slices.DeleteFunc(slices.Clone(v.Sites), func(s SiteFacts) bool { return !s.Site.Open() || !is(s) })
	if len(sites) < int(r.number("sites")) {
		return nil
	}
	var newest tracker.Check
	tags := map[tracker.Leg][]string{}
	for _, s := range sites {
		tags[s.Site.Leg] = append(tags[s.Site.Leg], s.Site.Tag())
		if s.Check.At.After(newest.At) {
			newest = s.Check
		}
	}
	seen := fmt.Sprintf("%d sites get worse together.", len(sites))
	for _, leg := range tracker.Legs() {
		if len(tags[leg]) > 0 {
			seen += fmt.Sprintf(" %s: %s.", tracker.Capital(tracker.LegName(leg, v.LegWords)), tracker.List(tags[leg]))
		}
	}
	return []Fired{Fired{Seen: seen, Numbers: map[string]string{"sites": fmt.Sprint(len(sites))}}.from(newest)}
}

// joined looks at sites that have joined another too, which are no longer open.
func joined(v view, _ Rule) []Fired {
	var all []Fired
	for _, s := range v.Sites {
		if s.JoinedNow {
			all = append(all, s.fired("Two sites have grown together. One is on the "+v.where(s)+"."))
		}
	}
	return all
}

func patchWorse(v view, _ Rule) []Fired {
	is := labelled("worse")
	return v.eachSite(func(s SiteFacts) bool { return isPatch(s) && is(s) }, v.patchWords)
}

// patchWords give a patch's label, how long it has been looked at and its score.
func (v view) patchWords(s SiteFacts) (string, map[string]string) {
	j := s.Judged
	numbers := map[string]string{"days": fmt.Sprint(s.DaysSinceFirst), "label": j.Label}
	label := j.Label
	if label == "" {
		label = "not judged"
	}
	seen := fmt.Sprintf("%s: %s, %s after the first look.", s.Site.Tag(), label, tracker.Count(s.DaysSinceFirst, "day"))
	if j.ActiveJudged > 0 {
		numbers["active score"] = fmt.Sprintf("%d of %d", j.Active, 3*j.ActiveJudged)
		seen += fmt.Sprintf(" Active score %d of %d on %s.", j.Active, 3*j.ActiveJudged, tracker.DayName(j.Day))
	}
	return seen + " " + v.isOn(s), numbers
}

// patchNotClear fires whatever the label says short of clear.
func patchNotClear(v view, r Rule) []Fired {
	is := labelled("clear")
	return v.eachSite(func(s SiteFacts) bool {
		return isPatch(s) && !is(s) && s.DaysSinceFirst >= int(r.number("days"))
	}, v.patchWords)
}

func patchUnchanged(v view, r Rule) []Fired {
	is := labelled("no change")
	return v.eachSite(func(s SiteFacts) bool {
		return isPatch(s) && is(s) && s.DaysSinceFirst >= int(r.number("days"))
	}, v.patchWords)
}

func newSite(v view, r Rule) []Fired {
	return v.eachSite(func(s SiteFacts) bool {
		return s.FirstLook && v.leg(s.Site.Leg).TreatedDays >= int(r.number("days"))
	}, func(s SiteFacts) (string, map[string]string) {
		days := v.leg(s.Site.Leg).TreatedDays
		return fmt.Sprintf("A new sore was found %s, after %s of treatment. %s", v.when(s.Check.At), tracker.Count(days, "day"), v.isOn(s)),
			map[string]string{"days of treatment": fmt.Sprint(days)}
	})
}

func cameBack(v view, _ Rule) []Fired {
	return v.eachSite(func(s SiteFacts) bool { return s.Reopened }, func(s SiteFacts) (string, map[string]string) {
		return fmt.Sprintf("%s had closed and is open again. %s", s.Site.Tag(), v.isOn(s)), nil
	})
}

func chronic(v view, r Rule) []Fired {
	return v.eachSite(func(s SiteFacts) bool {
		return float64(s.Check.Signs[tracker.Thickening]) >= r.number("thickening") ||
			float64(s.Check.Signs[tracker.Nodules]) >= r.number("nodules")
	}, func(s SiteFacts) (string, map[string]string) {
		folds, nodules := s.Check.Signs[tracker.Thickening], s.Check.Signs[tracker.Nodules]
		return fmt.Sprintf("Thickening %d of 3 and nodules %d of 3 on %s. %s", folds, nodules, v.when(s.Check.At), v.isOn(s)),
			map[string]string{"thickening": fmt.Sprint(folds), "nodules": fmt.Sprint(nodules)}
	})
}

func notClosing(v view, _ Rule) []Fired {
	is := labelled("not closing")
	return v.eachSite(func(s SiteFacts) bool { return isWound(s) && is(s) }, v.sizeWords)
}

func slow(v view, r Rule) []Fired {
	is := labelled("slow")
	return v.eachSite(func(s SiteFacts) bool { return isWound(s) && is(s) && s.SlowDays >= int(r.number("days")) }, v.sizeWords)
}

// unclear takes too early to say as well: after a reset a wound can be too early for weeks, and a reset
// does not start the count again.
func unclear(v view, r Rule) []Fired {
	is := labelled("unclear", "too early to say")
	return v.eachSite(func(s SiteFacts) bool { return isWound(s) && is(s) && s.DaysSinceFirst >= int(r.number("days")) }, v.sizeWords)
}

func overdueTurn(v view, _ Rule) []Fired {
	return v.eachSite(func(s SiteFacts) bool { return isWound(s) && s.OverdueTurn }, v.sizeWords)
}
