package mixing_test

import (
	"math/big"
	"regexp"
	"slices"
	"strings"
	"testing"

	"leground/tracker"
	"leground/tracker/mixing"
)

// offersOf gives the offers of a mix with plain spaces.
func offersOf(r *mixing.Result) (out []string) {
	for _, o := range r.Offers {
		out = append(out, strings.NewReplacer("\u00a0", " ", "\u202f", " ").Replace(o))
	}
	return out
}

// TestOffersSuitWhatIsAtHand: each offer is one line, names a measure that is really smaller or finer than the one in
// the hand, and takes no more than a bucket, or in two steps ten times the concentrate. By hand: 0.025% of 5% in 500 mL
// is 2.5 mL; 10 mL in 40 make 1.25%, of which 10 mL hold the wanted 0.125 g. 0.05% of 2% in 1 L is 25 mL; the least that
// the jug measures well, ten marks, is twenty times as much.
func TestOffersSuitWhatIsAtHand(t *testing.T) {
	for _, c := range []struct {
		have, want, make string
		devices          []string
		offers           []string
	}{
		{"5% w/v", "0.025% w/v", "500 mL", []string{"20 mL syringe, 1 mL marks", "1000 mL jug, 50 mL marks"}, []string{
			"Use a smaller measure: 5 mL or less, with 0.2 mL marks or finer.",
			"Make a larger batch: 2 000 mL or more, if it is used before its throw-away time.",
			"Mix in two steps. First mix 10 mL of the concentrate with 30 mL of water. That is 1.25 g per 100 mL. Then measure 10 mL of this first mix and top it up to 500 mL. Throw the rest of the first mix away."}},
		{"20% w/v", "0.05% w/v", "500 mL", []string{"20 mL syringe, 1 mL marks", "500 mL cylinder, 10 mL marks"}, []string{
			"Use a smaller measure: 2 mL or less, with 0.1 mL marks or finer.",
			"Make a larger batch: 4 000 mL or more, if it is used before its throw-away time.",
			"Mix in two steps. First make 10 mL of the concentrate up to the 200 mL line of the 500 mL cylinder. That is 1 g per 100 mL. Then measure 25 mL of this first mix and top it up to 500 mL. Throw the rest of the first mix away."}},
		{"2% w/v", "0.05% w/v", "1 L", []string{"500 mL jug, 50 mL marks"}, []string{"Use a smaller measure: 50 mL or less, with 2 mL marks or finer."}},
		{"2% w/v", "0.05% w/v", "1 L", []string{"20 mL syringe, 3 mL marks"}, []string{"Use a measure with finer marks: 2 mL or finer.", "Make a larger batch: 1 200 mL or more, if it is used before its throw-away time."}},
		{"2% w/v", "0.05% w/v", "600 mL", []string{"20 mL syringe, 2 mL marks"}, []string{"Use a measure with finer marks: 1 mL or finer.", "Make a larger batch: 800 mL or more, if it is used before its throw-away time.",
			"Mix in two steps. First mix 20 mL of the concentrate with 20 mL of water. That is 1 g per 100 mL. Then measure 30 mL of this first mix and top it up to 600 mL. Throw the rest of the first mix away."}},
		{"20% w/v", "0.05% w/v", "100 mL", []string{"20 mL syringe, 1 mL marks"}, []string{"Use a smaller measure: 1 mL or less, with 0.02 mL marks or finer.", "Make a larger batch: 4 000 mL or more, if it is used before its throw-away time."}},
		{"2% w/v", "0.05% w/v", "1 L", []string{"50 mL syringe, 1 mL marks"}, nil},
	} {
		r := plain(t, "anything", c.have, c.want)
		r.Amount = amount(t, c.make)
		for _, d := range c.devices {
			r.Devices = append(r.Devices, device(t, d))
		}
		got := mixing.Mix(r)
		if offers := offersOf(got); !slices.Equal(offers, c.offers) {
			t.Errorf("%s of %s in %s with %v:\n%s\nwant\n%s", c.want, c.have, c.make, c.devices, strings.Join(offers, "\n"), strings.Join(c.offers, "\n"))
		}
		checkWords(t, c.make, got)
	}
}

var smallerThan = regexp.MustCompile(`Use a smaller measure: ([^ ]+ mL) or less`)

// TestEveryOfferCanBeMeasured tries many strengths, volumes and measures: what two steps ask for is on the marks of
// what is at hand and makes the strength when it is measured back, and a smaller measure is smaller.
func TestEveryOfferCanBeMeasured(t *testing.T) {
	sets := [][]string{{"20 mL syringe, 1 mL marks"}, {"20 mL syringe, 3 mL marks", "1000 mL jug, 50 mL marks"}, {"50 mL syringe, 2 mL marks", "250 mL cylinder, 5 mL marks"}, {"500 mL jug, 50 mL marks"},
		{"10 mL syringe, 0.5 mL marks", "500 mL jug, 20 mL marks"}}
	smaller, two := 0, 0
	for _, have := range []string{"1% w/v", "2% w/v", "5% w/v", "20% w/v"} {
		for _, want := range []string{"0.015% w/v", "0.05% w/v", "0.1% w/v", "0.3% w/v"} {
			for _, ml := range []int64{100, 250, 400, 500, 1000, 3000} {
				for _, set := range sets {
					r := plain(t, "anything", have, want)
					r.Amount = mixing.Millilitres(ml)
					for _, d := range set {
						r.Devices = append(r.Devices, device(t, d))
					}
					got := mixing.Mix(r)
					for _, o := range offersOf(got) {
						if m := smallerThan.FindStringSubmatch(o); m != nil {
							smaller++
							if most := amount(t, strings.ReplaceAll(m[1], " ", "")).Value; got.Measure != nil && most.Cmp(got.Measure.Capacity) >= 0 {
								t.Errorf("%q with a %s in the hand", o, got.Measure.Words(tracker.Point))
							}
						}
					}
					if got.TwoStep != nil {
						two++
						checkTwoSteps(t, r, got.TwoStep)
					}
				}
			}
		}
	}
	if smaller < 50 || two < 20 {
		t.Errorf("only %d smaller measures and %d two steps were offered", smaller, two)
	}
}

func checkTwoSteps(t *testing.T, r mixing.Request, two *mixing.TwoStep) {
	t.Helper()
	middle, err := mixing.Made(r.Stock.Label, two.First, two.FirstTotal, nil)
	if err != nil || !middle.Same(two.Middle) {
		t.Errorf("the first step makes %v, %v", middle.Value, err)
	}
	last, err := mixing.Made(middle, two.Second, two.Total, nil)
	off := new(big.Rat).Sub(new(big.Rat).Quo(last.Value, r.Want.Value), big.NewRat(1, 1))
	if err != nil || !last.Same(two.Achieved) || off.Abs(off).Cmp(big.NewRat(2, 100)) > 0 {
		t.Errorf("both steps make %v, %v", last.Value, err)
	}
	shown := func(v *big.Rat, times int64) bool { // in so many fills of one of the measures, each on its marks
		return slices.ContainsFunc(r.Devices, func(d mixing.Device) bool {
			return new(big.Rat).Quo(v, d.Mark).IsInt() && v.Cmp(new(big.Rat).Mul(d.Capacity, big.NewRat(times, 1))) <= 0 && v.Cmp(new(big.Rat).Quo(d.Capacity, big.NewRat(5, 1))) >= 0
		})
	}
	water := new(big.Rat).Sub(two.FirstTotal.Value, two.First.Value)
	if !shown(two.First.Value, 1) || !shown(two.Second.Value, 5) || !shown(water, 5) && !shown(two.FirstTotal.Value, 1) {
		t.Errorf("%v cannot be measured: %v, %v in all, then %v", r.Devices, two.First.Value, two.FirstTotal.Value, two.Second.Value)
	}
	exact := new(big.Rat).Mul(two.Total.Value, new(big.Rat).Quo(r.Want.Value, r.Stock.Label.Value))
	if two.First.Value.Cmp(exact.Mul(exact, big.NewRat(10, 1))) > 0 || two.FirstTotal.Value.Cmp(two.Total.Value) > 0 || two.Second.Value.Cmp(two.FirstTotal.Value) > 0 {
		t.Errorf("%v of the concentrate in %v for %v", two.First.Value, two.FirstTotal.Value, two.Total.Value)
	}
}

// TestMeasureOfAnotherKind: what is weighed cannot be shown by a syringe, nor what is poured by a scale, and nothing is
// passed over in silence: 200 mg/g of a medicine at 7.4 mg per kg for 440 kg is 7.4 × 440 ÷ 200 = 16.28 g.
func TestMeasureOfAnotherKind(t *testing.T) {
	in := instruction(t, "7.4", "440", 1, 3)
	tablet := mixing.Device{Kind: mixing.Tablets, Capacity: big.NewRat(10, 1), Mark: big.NewRat(1, 1)}
	for _, c := range []struct {
		label, each string
		measure     mixing.Device
	}{
		{"200 mg/g", "16", device(t, "30 g scale, 1 g marks")},
		{"200 mg/g", "", device(t, "20 mL syringe, 1 mL marks")},
		{"200 mg/mL", "16", device(t, "20 mL syringe, 1 mL marks")},
		{"200 mg/mL", "", device(t, "30 g scale, 1 g marks")},
		{"200 mg/mL", "", device(t, "5 mL spoon")},
		{"200 mg/g", "", device(t, "5 mL spoon")},
		{"200 mg/tablet", "16", tablet},
		{"200 mg/tablet", "", device(t, "20 mL syringe, 1 mL marks")},
		{"200 mg/mL", "", tablet},
	} {
		got := in.Dose(strength(t, c.label, "anything"), &c.measure, tracker.Point)
		where := c.label + " with a " + c.measure.Kind.String()
		if c.each == "" {
			if ids(got.Refusals) != "R1" || got.Each.Value != nil || !strings.Contains(got.Refusals[0].Text, c.measure.Kind.String()) {
				t.Errorf("%s: %v %v", where, got.Each.Value, got.Refusals)
			}
			for _, n := range got.Refusals {
				checkSentence(t, where, n.Text, 20)
			}
		} else if got.Refused() || got.Each.Value.Cmp(rat(t, c.each)) != 0 {
			t.Errorf("%s: %v %v", where, got.Each.Value, got.Refusals)
		}
	}
	powder := plain(t, "available chlorine", "35% w/w", "0.5% w/v")
	powder.Stock.Form, powder.Use.Skin = mixing.Powder, mixing.NotOnHorse
	cream := plain(t, "anything", "5% w/w", "1% w/w")
	cream.Amount = amount(t, "500 g")
	for want, r := range map[string]mixing.Request{"measured in g, and a syringe": powder, "in g, and a syringe": cream, "measured in mL, and a scale": plain(t, "anything", "5% w/v", "1% w/v")} {
		r.Devices = []mixing.Device{device(t, "20 mL syringe, 1 mL marks")}
		if r.Want.Unit == mixing.PercentWV && r.Stock.Form != mixing.Powder {
			r.Devices = []mixing.Device{device(t, "500 g scale, 1 g marks")}
		}
		got := mixing.Mix(r)
		if ids(got.Refusals) != "R1" || !strings.Contains(got.Refusals[0].Text, want) {
			t.Errorf("%q is not said: %v, %v", want, got.Concentrate.Value, got.Refusals)
		}
		checkWords(t, want, got)
		r.Devices = append(r.Devices, device(t, "500 g scale, 1 g marks"), device(t, "250 mL cylinder, 5 mL marks"))
		if got := mixing.Mix(r); got.Refused() || got.Measure == nil {
			t.Errorf("with one that shows it (%s): %v", want, got.Refusals)
		}
	}
}
