package mixing

import (
	"fmt"
	"math/big"

	"leground/tracker"
)

// TenTimes is the check for a slipped decimal mark before a mix may be called mixed: three amounts,
// each ten times the one before, of which one is right.
type TenTimes struct {
	Question string
	Amounts  [3]Amount
	Choices  [3]string // what each choice says
	Right    int
}

// NewTenTimes makes the check for an amount. pick is any number from the caller, best a random one: it
// decides whether the three start at a hundredth, a tenth or the amount itself, so that no place is
// always right. When a choice plainly cannot fit the device in one fill the check would give itself
// away; then each choice says how many fills, to which mark. device may be nil.
func NewTenTimes(amount Amount, device *Device, pick int, mark tracker.DecimalMark) TenTimes {
	t := TenTimes{Right: (pick%3 + 3) % 3}
	measure := "the measure"
	if device != nil {
		measure = "the " + device.Kind.String()
	}
	t.Question = "What is in " + measure + "?"
	size := amount.Value
	for range t.Right {
		size = quo(size, frac(10, 1))
	}
	byFills := false
	for i := range t.Amounts {
		t.Amounts[i] = Amount{size, amount.Unit}
		t.Choices[i] = t.Amounts[i].Words(mark)
		byFills = byFills || device != nil && over(size, device.Capacity)
		size = times(size, 10)
	}
	if byFills {
		t.Question = "How many fills of " + measure + ", to which mark?"
		for i, a := range t.Amounts {
			t.Choices[i] = device.fillWords(device.anyFills(a.Value), mark)
		}
	}
	return t
}

// anyFills splits an amount that need not be on a mark into full fills and a rest.
func (d Device) anyFills(v *big.Rat) []Fill {
	if quo(v, d.Mark).IsInt() {
		return d.Fills(v)
	}
	full := wholeNumber(quo(v, d.Capacity))
	rest := sub(v, times(d.Capacity, full))
	if full == 0 {
		return []Fill{{1, rest}}
	}
	return []Fill{{full, d.Capacity}, {1, rest}}
}

// Explain says where the slip of a wrong choice would be; for the right one it is empty.
func (t TenTimes) Explain(choice int) string {
	if choice == t.Right || choice < 0 || choice > 2 {
		return ""
	}
	factor, way := "ten", "strong"
	if choice-t.Right == 2 || t.Right-choice == 2 {
		factor = "a hundred"
	}
	if choice < t.Right {
		way = "weak"
	}
	return fmt.Sprintf("%s would be %s times too %s. Look at the measure again.", t.Choices[choice], factor, way)
}
