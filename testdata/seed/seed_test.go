package seed

import (
	"bytes"
	"fmt"
	"image/jpeg"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"leground/tracker"
	"leground/tracker/care"
	"leground/tracker/healing"
	"leground/tracker/store"
)

// yard is a played yard with a clock of its own.
type yard struct {
	*care.Service
	ada   care.Actor
	clock time.Time
}

// play plays Marlpit Yard into a fresh SQLite file.
func play(t *testing.T, now time.Time) *yard {
	t.Helper()
	db, err := store.Open(t.Context(), t.TempDir(), now)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := db.Close(); err != nil {
			t.Error(err)
		}
	})
	y := &yard{}
	y.Service = care.New(db, func() time.Time { return y.clock })
	began := time.Now()
	y.ada, err = Marlpit(t.Context(), y.Service, func(at time.Time) { y.clock = at }, now)
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("played in %v", time.Since(began).Round(time.Millisecond))
	return y
}

// horses gives the page of each horse, in the yard's order.
func (y *yard) horses(t *testing.T) []care.HorseView {
	t.Helper()
	horses, err := y.Horses(t.Context(), y.ada)
	if err != nil {
		t.Fatal(err)
	}
	var views []care.HorseView
	for _, h := range horses {
		view, err := y.Horse(t.Context(), y.ada, h.ID, 0)
		if err != nil {
			t.Fatal(err)
		}
		views = append(views, view)
	}
	return views
}

// line writes what a check says, without its ids.
func line(v care.HorseView, day tracker.Date, c tracker.Check, tag string) string {
	var signs []string
	for sign, level := range c.Signs {
		signs = append(signs, fmt.Sprintf("%s %d", sign, level))
	}
	slices.Sort(signs)
	return fmt.Sprintf("%s %d %s %s v%d %s %s %s %dx%d %v %v %v %q %q by %s at %s", v.Horse.Name, c.Day-day, c.Slot, tag, c.Version, c.Outcome, c.Size.Answer, c.Bed,
		c.Size.LengthMM, c.Size.WidthMM, signs, c.Care, c.Bandage, c.Note, c.Skip, v.People[c.Looker], c.At.In(v.Zone).Format("15:04:05"))
}

// everything writes every version of every check, by day before the one given.
func everything(views []care.HorseView, day tracker.Date) []string {
	var lines []string
	for _, v := range views {
		for _, c := range v.Lines {
			lines = append(lines, line(v, day, c, c.Leg.String()))
		}
		for _, s := range v.Sites {
			for _, c := range s.All {
				lines = append(lines, line(v, day, c, s.Site.Tag()))
			}
		}
	}
	return lines
}

// TestMarlpit holds what the demonstration promises: three horses, eight sites of both kinds, 29 days that
// end yesterday, two missed days, a wash change on day 15, and a label of each kind.
func TestMarlpit(t *testing.T) {
	// Half an hour past midnight in London, while it is still the day before in UTC.
	now := time.Date(2026, 5, 13, 23, 30, 0, 0, time.UTC)
	today := tracker.NewDate(2026, 5, 14)
	y := play(t, now)
	if !y.clock.Equal(now) {
		t.Errorf("the clock was left at %v", y.clock)
	}
	views := y.horses(t)
	t.Run("days", func(t *testing.T) { checkDays(t, views, today) })
	t.Run("sites and labels", func(t *testing.T) { checkSites(t, y, views) })
	t.Run("what happened", func(t *testing.T) { checkHappenings(t, views, today) })
	t.Run("board", func(t *testing.T) { checkBoard(t, y) })
	t.Run("photos", func(t *testing.T) { checkPhotos(t, y, views) })
	t.Run("people", func(t *testing.T) { checkPeople(t, y) })
	t.Run("same numbers", func(t *testing.T) { checkSame(t, views, today) })
	t.Run("twice", func(t *testing.T) {
		if _, err := Marlpit(t.Context(), y.Service, func(at time.Time) { y.clock = at }, now); tracker.KindOf(err) != tracker.Conflict {
			t.Errorf("a second yard in the same store: %v", err)
		}
	})
}

func checkDays(t *testing.T, views []care.HorseView, today tracker.Date) {
	rounds := map[tracker.Date]map[string]bool{}
	for _, v := range views {
		for _, c := range v.Lines {
			if c.Subject == tracker.OfHorse {
				continue // of no round
			}
			if rounds[c.Day] == nil {
				rounds[c.Day] = map[string]bool{}
			}
			rounds[c.Day][c.Slot] = true
			if c.RoundDay != c.Day {
				t.Errorf("a look of %s is kept for the round of %s", c.Day, c.RoundDay)
			}
		}
	}
	var missed []int
	for day := 1; day <= 29; day++ {
		switch n := len(rounds[today-30+tracker.Date(day)]); n {
		case 0:
			missed = append(missed, day)
		case 2:
		default:
			t.Errorf("day %d has %d rounds", day, n)
		}
	}
	if !slices.Equal(missed, []int{9, 20}) || len(rounds) != 27 {
		t.Errorf("missed days %v, looks on %d days, want two missed of 29 that end yesterday", missed, len(rounds))
	}
	if len(views) != 3 {
		t.Errorf("%d horses", len(views))
	}
	juniper := views[2].Horse
	if juniper.Name != "Juniper" || juniper.Arrived != today-1 || juniper.IsolatedUntil != juniper.Arrived+28 {
		t.Errorf("%s arrived on %s, isolated until %s", juniper.Name, juniper.Arrived, juniper.IsolatedUntil)
	}
	if lines := views[2].Lines; len(lines) != 5 || lines[0].Vitals.WeightKG != 372 {
		t.Errorf("Juniper has %d leg lines and looks at the whole horse, want one at each leg and one at it, weighed", len(lines))
	}
}

func checkSites(t *testing.T, y *yard, views []care.HorseView) {
	want := map[string]string{
		"Bramble RF 1": "wound closing", "Bramble RH 1": "patch clearing", "Bramble RH 2": "wound widening", "Bramble LH 1": "wound not closing",
		"Old Tom LF 1": "wound closing", "Old Tom RH 1": "patch too early to say",
		"Juniper RF 1": "patch too early to say", "Juniper LH 1": "patch too early to say",
	}
	have := map[string]string{}
	for _, v := range views {
		for _, s := range v.Sites {
			name := v.Horse.Name + " " + s.Site.Tag()
			yesterday := tracker.DateOf(y.clock.In(v.Zone)) - 1
			label := ""
			if s.Site.Kind == tracker.Wound {
				label = healing.Judge(healing.NewSite(s.Site, s.Current, s.Events), healing.DefaultSettings(), yesterday).Label.String()
			} else {
				label = healing.JudgePatch(healing.NewPatch(s.Current), yesterday).Label.String()
			}
			if s.Judgement == nil || s.Judgement.Label != label || s.Judgement.Day != yesterday {
				t.Errorf("%s: judged %s, kept %+v", name, label, s.Judgement)
			}
			have[name] = s.Site.Kind.String() + " " + label
			if !s.Site.Open() {
				t.Errorf("%s is closed", name)
			}
		}
	}
	if diff := cmp.Diff(want, have); diff != "" {
		t.Errorf("labels (-want +have):\n%s", diff)
	}
}

func checkHappenings(t *testing.T, views []care.HorseView, today tracker.Date) {
	wash := false
	for _, e := range views[0].Events {
		wash = wash || e.Kind == tracker.TreatmentChange && e.Day == today-30+15 && strings.Contains(e.Note, "Wash concentrate A")
	}
	if !wash {
		t.Error("there is no wash change on day 15")
	}
	count := map[string]int{}
	for _, v := range views {
		for _, s := range v.Sites {
			for _, c := range s.All {
				switch {
				case c.Outcome == tracker.Retracted:
					count["taken back"]++
				case c.Version > 1:
					count["put right"]++
				case c.Outcome == tracker.Skipped && c.Skip != "":
					count["skipped"]++
				case c.Size.Answer == tracker.UnderBandage:
					count["bandage"]++
				case c.Note != "":
					count["note"]++
				}
				if perDay := c.Size.Answer.HasLengths() && c.Slot == "evening" && v.Horse.Name != "Juniper"; perDay {
					t.Errorf("%s was measured in an evening", s.Site.Tag())
				}
			}
		}
	}
	if diff := cmp.Diff(map[string]int{"taken back": 1, "put right": 1, "skipped": 2, "bandage": 1, "note": 7}, count); diff != "" {
		t.Errorf("(-want +have):\n%s", diff)
	}
}

func checkBoard(t *testing.T, y *yard) {
	board, err := y.Board(t.Context(), y.ada)
	if err != nil {
		t.Fatal(err)
	}
	if !board.Yard.MadeUp || board.Yard.Name != "Marlpit Yard" || board.Yard.RingNumber != "01234 000000" {
		t.Errorf("%+v", board.Yard)
	}
	if last := board.Horses[len(board.Horses)-1].Horse; last.Name != "Juniper" {
		t.Errorf("%s is looked at last, want the isolated horse", last.Name)
	}
	if len(board.Failed) > 0 || len(board.Conflicts) > 0 || len(board.Missed) > 0 {
		t.Errorf("failed messages %v, conflicts %v, missed rounds %v", board.Failed, board.Conflicts, board.Missed)
	}
	open := map[string]tracker.Level{}
	for _, c := range board.Cautions {
		open[c.Rule] = c.Level
	}
	if open["widening"] != tracker.RingToday {
		t.Errorf("open cautions %v, want the wound that widens", open)
	}
	for rule, level := range open {
		if level == tracker.RingNow {
			t.Errorf("%s calls for the vet now", rule)
		}
	}
}

func checkPhotos(t *testing.T, y *yard, views []care.HorseView) {
	bytesOf, sites := map[string]bool{}, 0
	for _, v := range views {
		for _, s := range v.Sites {
			if len(s.Photos) > 0 {
				sites++
			}
			for _, p := range s.Photos {
				for _, thumb := range []bool{false, true} {
					data, err := y.PhotoBytes(t.Context(), y.ada, p.ID, thumb)
					if err != nil {
						t.Fatal(err)
					}
					img, err := jpeg.Decode(bytes.NewReader(data))
					if err != nil || !thumb && (img.Bounds().Dx() != p.Width || img.Bounds().Dy() != p.Height) {
						t.Errorf("%s: %v", s.Site.Tag(), err)
					}
				}
				bytesOf[p.SHA256] = true
			}
		}
	}
	if sites != 8 || len(bytesOf) < 20 {
		t.Errorf("%d different photos of %d sites", len(bytesOf), sites)
	}
}

func checkPeople(t *testing.T, y *yard) {
	view, err := y.People(t.Context(), y.ada)
	if err != nil {
		t.Fatal(err)
	}
	var have []string
	for _, m := range view.Members {
		have = append(have, m.Name+" "+m.Email+" "+m.Role.String())
	}
	if diff := cmp.Diff([]string{"Ada ada@marlpit.example owner", "Bea bea@marlpit.example carer"}, have); diff != "" {
		t.Error(diff)
	}
	if len(view.Links) > 0 || len(view.Sessions) > 0 {
		t.Errorf("links %v and sessions %v that nobody holds", view.Links, view.Sessions)
	}
	token, err := y.SignInLinkFor(t.Context(), y.ada)
	if err != nil {
		t.Fatal(err)
	}
	session, err := y.SignInByLink(t.Context(), token, "test")
	if err != nil {
		t.Fatal(err)
	}
	if actor, err := y.Actor(t.Context(), session); err != nil || actor.Person != y.ada.Person || actor.Role != tracker.Owner {
		t.Errorf("%+v, %v", actor, err)
	}
}

// checkSame plays the yard again half a year later: the same text gives the same numbers at the same local
// times, also in the weeks in which summer time ends.
func checkSame(t *testing.T, views []care.HorseView, today tracker.Date) {
	again := play(t, time.Date(2026, 11, 10, 9, 0, 0, 0, time.UTC)).horses(t)
	one, two := everything(views, today), everything(again, tracker.NewDate(2026, 11, 10))
	if diff := cmp.Diff(one, two); diff != "" {
		t.Errorf("two plays differ:\n%s", diff)
	}
	if len(one) < 700 {
		t.Errorf("only %d checks", len(one))
	}
}

// An area read from two lengths is off by 7 to 10 in 100, as this yard was made up.
func TestReadingErrors(t *testing.T) {
	story, err := read(marlpitText)
	if err != nil {
		t.Fatal(err)
	}
	var errs []float64
	for _, h := range story.horses {
		for _, s := range h.sites {
			if s.kind != tracker.Wound {
				continue
			}
			for day := s.found; day <= story.days; day++ {
				l, w := s.trueSize(day)
				length, width := s.read(day, drawsOf(h.Name, s, day, 0))
				errs = append(errs, math.Log(float64(length*width)/(l*w)))
			}
		}
	}
	mean, sum := 0.0, 0.0
	for _, e := range errs {
		mean += e / float64(len(errs))
	}
	for _, e := range errs {
		sum += (e - mean) * (e - mean)
	}
	if sd := math.Sqrt(sum / float64(len(errs)-1)); sd < 0.07 || sd > 0.10 || math.Abs(mean) > 0.03 {
		t.Errorf("%d areas are off by %.3f with a mean of %.3f, want 0.07 to 0.10 around 0", len(errs), sd, mean)
	}
}

// The edge of RH 2 moves in by 0.02 mm a day for 17 days and then out by 0.6 for 11.
func TestTrueCourse(t *testing.T) {
	story, err := read(marlpitText)
	if err != nil {
		t.Fatal(err)
	}
	s := story.horses[0].sites[2]
	l, w := s.trueSize(29)
	if got, want := math.Sqrt(l*w)/2-math.Sqrt(40*26)/2, -17*0.02+11*0.6; math.Abs(got-want) > 1e-9 {
		t.Errorf("the radius grew by %g mm, want %g", got, want)
	}
	if math.Abs(l/w-40.0/26) > 1e-9 {
		t.Errorf("the shape became %g x %g", l, w)
	}
}

func TestSlipsInTheText(t *testing.T) {
	for slip, says := range map[string]string{
		"hores Bramble":          `"hores" is not known here`,
		"horse A\nsite RX 1":     `line 2, "site RX 1": "RX" is not a leg`,
		"horse A\narrived soon":  "arrived soon",
		"sort mare":              "not known here",
		"days many":              "many",
		"horse A\nsite RF 1 cut": "a known kind of site",
		strings.Replace(marlpitText, "site RH 2", "site RH 3", 1):                    "numbered 1, 2",
		strings.Replace(marlpitText, "size 46 x 28", "size 28 x 46", 1):              "longest way first",
		strings.Replace(marlpitText, "on 6 morning slip", "on 6 noon slip", 1):       "noon",
		strings.Replace(marlpitText, "edge 1 in 0.25", "edge 1 sideways 0.25", 1):    "sideways",
		strings.Replace(marlpitText, "exudate 1 pain 1", "exudate 1 happiness 1", 1): "happiness",
	} {
		if _, err := read(slip); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%v does not say %q", err, says)
		}
	}
}
