package healing

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"leground/tracker"
)

// Patch is what is known of a patch: spread-out dermatitis or thrush, judged by its signs. The order of
// looks does not matter. The last PatchHorizonDays days and the first three looks are enough.
type Patch struct{ Looks []Look }

// Look is one look at a patch. Signs holds only what was judged; nothing not judged ever counts as 0.
type Look struct {
	At       time.Time // orders the looks of one day
	Day      tracker.Date
	Signs    tracker.Signs
	LengthMM float64 // reach; 0: not measured
	WidthMM  float64
}

// NewPatch gathers a patch from its record: checks of the site in their newest versions.
func NewPatch(checks []tracker.Check) Patch {
	var p Patch
	for _, c := range checks {
		if c.Outcome != tracker.Looked {
			continue
		}
		l := Look{At: c.At, Day: c.Day, Signs: c.Signs}
		if c.Size.Answer.HasLengths() {
			l.LengthMM, l.WidthMM = float64(c.Size.LengthMM), float64(c.Size.WidthMM)
		}
		p.Looks = append(p.Looks, l)
	}
	return p
}

const (
	patchStep    = 2 // change of the active score that counts
	patchHighest = 3 // highest step of a sign
	patchLooks   = 3 // looks at each end
	patchDays    = 3 // days looked at without which it is too early to say
	patchBack    = 7 // days between the ends
	unchangedBy  = 7
	clearBy      = 14

	// PatchHorizonDays is how many days, the judged one included, can still bear on a patch's label where
	// it is looked at weekly or more often.
	PatchHorizonDays = 35
)

// Form is how a patch of pastern dermatitis looks.
type Form int

// The forms. NoForm is a patch without any sign.
const (
	NoForm Form = iota + 1
	Mild
	Exudative
	Proliferative
)

// String gives the form in words.
func (f Form) String() string {
	return [...]string{"", "no signs", "mild", "exudative", "proliferative"}[f]
}

// Score is a sum over the signs that were judged.
type Score struct{ Sum, Judged int }

// Reach is the extent of a patch on one day, as an ellipse. It is a series of its own and makes no label.
type Reach struct {
	Day     tracker.Date
	AreaCM2 float64
}

// PatchJudgement is how one patch goes as of a day. Active signs (0 to 18) and chronic ones (0 to 9) are
// never added up: thick skin that stays is not "no improvement".
type PatchJudgement struct {
	AsOf       tracker.Date
	Label      Label
	Reason     Reason
	Active     Score          // of the last look
	Chronic    Score          // of the last look at which a chronic sign was judged
	Before     float64        // median active score of the earlier looks, on the signs judged at both ends
	Now        float64        // and of the last looks; both NaN when too early
	Compared   []tracker.Sign // the signs judged at both ends
	Risen      []tracker.Sign // signs that newly reached their highest step
	Highest    []tracker.Sign // active signs at their highest step at the last look
	Form       Form
	Reach      []Reach // one a day, oldest first
	SinceFirst int     // days since the first look

	Unchanged bool // no change, a week or more after the first look
	NotClear  bool // not clear, two weeks or more after the first look
}

// JudgePatch judges a patch as of the end of a day: the median active score of the last three looks
// against that of the last three looks a week or more before the last, or the first three.
func JudgePatch(p Patch, asOf tracker.Date) PatchJudgement {
	j := PatchJudgement{AsOf: asOf, Label: TooEarly, Reason: FewLooks, Form: NoForm, Before: math.NaN(), Now: math.NaN()}
	looks := p.until(asOf)
	j.Reach = reaches(looks)
	scored := slices.DeleteFunc(slices.Clone(looks), func(l Look) bool { return score(l.Signs, tracker.ActiveSigns()).Judged == 0 })
	if len(looks) > 0 {
		j.SinceFirst = int(asOf - looks[0].Day)
		j.seen(looks)
	}
	if len(scored) == 0 {
		return j
	}
	last := scored[len(scored)-1]
	j.Active = score(last.Signs, tracker.ActiveSigns())
	for _, s := range tracker.ActiveSigns() {
		if last.Signs[s] == patchHighest {
			j.Highest = append(j.Highest, s)
		}
	}
	j.label(scored)
	j.Unchanged = j.Label == NoChange && j.SinceFirst >= unchangedBy
	j.NotClear = j.Label != Clear && j.SinceFirst >= clearBy
	return j
}

// until gives the looks up to a day, oldest first.
func (p Patch) until(asOf tracker.Date) []Look {
	looks := slices.DeleteFunc(slices.Clone(p.Looks), func(l Look) bool { return l.Day > asOf })
	slices.SortStableFunc(looks, func(a, b Look) int { return cmp.Or(cmp.Compare(a.Day, b.Day), a.At.Compare(b.At)) })
	return looks
}

// label sets the label, its reason and the two scores compared.
func (j *PatchJudgement) label(looks []Look) {
	days := slices.CompactFunc(slices.Clone(looks), func(a, b Look) bool { return a.Day == b.Day })
	if clearTwice(looks) {
		j.Label, j.Reason, j.Before, j.Now = Clear, ScoreZero, math.NaN(), 0
		return
	}
	if len(days) < patchDays || len(looks) < patchLooks {
		return
	}
	now := looks[len(looks)-patchLooks:]
	cut := 0
	for cut < len(looks) && looks[cut].Day <= looks[len(looks)-1].Day-patchBack {
		cut++
	}
	cut = max(cut, patchLooks)
	before := looks[cut-patchLooks : cut]
	j.Compared = common(before, now)
	if len(j.Compared) == 0 {
		j.Reason = NothingInCommon
		return
	}
	j.Before, j.Now = medianScore(before, j.Compared), medianScore(now, j.Compared)
	for _, s := range tracker.ActiveSigns() {
		if !slices.Contains(j.Compared, s) {
			continue
		}
		if highest(now, s) && !highest(before, s) {
			j.Risen = append(j.Risen, s)
		}
	}
	switch {
	case len(j.Risen) > 0:
		j.Label, j.Reason = Worse, SignRose
	case j.Now-j.Before >= patchStep:
		j.Label, j.Reason = Worse, ScoreRose
	case j.Before-j.Now >= patchStep:
		j.Label, j.Reason = Clearing, ScoreFell
	default:
		j.Label, j.Reason = NoChange, ScoreSteady
	}
}

// seen sets what the newest looks show beside the label.
func (j *PatchJudgement) seen(looks []Look) {
	newest := tracker.Signs{}
	for _, l := range looks {
		if s := score(l.Signs, tracker.ChronicSigns()); s.Judged > 0 {
			j.Chronic = s
		}
		for sign, value := range l.Signs {
			newest[sign] = value
		}
	}
	all := score(newest, append(tracker.ActiveSigns(), tracker.ChronicSigns()...)).Sum > 0
	switch {
	case newest[tracker.Nodules] >= 1 || newest[tracker.Thickening] >= 2:
		j.Form = Proliferative
	case newest[tracker.Exudate] >= 1 || newest[tracker.SkinBreak] >= 2:
		j.Form = Exudative
	case all:
		j.Form = Mild
	}
}

// score sums the signs of a list that were judged.
func score(signs tracker.Signs, of []tracker.Sign) Score {
	var s Score
	for _, sign := range of {
		if value, ok := signs[sign]; ok {
			s.Sum += value
			s.Judged++
		}
	}
	return s
}

// common lists the active signs judged at every one of the looks.
func common(groups ...[]Look) []tracker.Sign {
	return slices.DeleteFunc(tracker.ActiveSigns(), func(s tracker.Sign) bool {
		return slices.ContainsFunc(slices.Concat(groups...), func(l Look) bool { _, ok := l.Signs[s]; return !ok })
	})
}

func medianScore(looks []Look, of []tracker.Sign) float64 {
	var sums []float64
	for _, l := range looks {
		sums = append(sums, float64(score(l.Signs, of).Sum))
	}
	return median(sums)
}

func highest(looks []Look, s tracker.Sign) bool {
	return slices.ContainsFunc(looks, func(l Look) bool { return l.Signs[s] == patchHighest })
}

// clearTwice tells whether every look of the last two days found an active score of 0. Redness may be
// missing, since dark skin hides it; a look at fewer signs than that proves nothing.
func clearTwice(looks []Look) bool {
	days, last := 0, tracker.Date(0)
	for _, l := range slices.Backward(looks) {
		if l.Day != last {
			if days == 2 {
				return true
			}
			days, last = days+1, l.Day
		}
		s := score(l.Signs, tracker.ActiveSigns())
		_, red := l.Signs[tracker.Redness]
		all := s.Judged == len(tracker.ActiveSigns()) || s.Judged == len(tracker.ActiveSigns())-1 && !red
		if s.Sum > 0 || !all {
			return false
		}
	}
	return days == 2
}

// reaches gives the reach of each day on which it was measured, the last one of the day.
func reaches(looks []Look) []Reach {
	var all []Reach
	for _, l := range looks {
		if !(l.LengthMM > 0 && l.WidthMM > 0) {
			continue
		}
		if n := len(all); n > 0 && all[n-1].Day == l.Day {
			all = all[:n-1]
		}
		all = append(all, Reach{l.Day, EllipseAreaCM2(l.LengthMM, l.WidthMM)})
	}
	return all
}

// Why puts the reason for the label into a sentence with its numbers.
func (j PatchJudgement) Why() string {
	switch j.Reason {
	case FewLooks:
		return fmt.Sprintf("Fewer than three days with signs judged. It takes looks on %d.", patchDays)
	case NothingInCommon:
		return "No sign was judged both then and now."
	case ScoreZero:
		return "No active sign on two days running."
	case SignRose:
		return fmt.Sprintf("A sign newly reached its highest step: %s.", names(j.Risen))
	case ScoreFell, ScoreRose, ScoreSteady:
		how := map[Reason]string{ScoreFell: "fell from %v to %v", ScoreRose: "rose from %v to %v", ScoreSteady: "went from %v to %v, less than a change of 2"}[j.Reason]
		return fmt.Sprintf("The active score "+how+" on the %d signs judged both then and now.", j.Before, j.Now, len(j.Compared))
	}
	return ""
}

func names(signs []tracker.Sign) string {
	words := make([]string, len(signs))
	for i, s := range signs {
		words[i] = strings.ToLower(tracker.SignName(s))
	}
	return strings.Join(words, ", ")
}

// Record gives what is kept of the judgement of a site.
func (j PatchJudgement) Record(site tracker.SiteID, madeAt time.Time) tracker.Judgement {
	return tracker.Judgement{Site: site, Day: j.AsOf, Label: j.Label.String(), Reason: j.Why(), MadeAt: madeAt,
		Active: j.Active.Sum, ActiveJudged: j.Active.Judged, Chronic: j.Chronic.Sum, ChronicJudged: j.Chronic.Judged}
}
