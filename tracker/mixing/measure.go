package mixing

import "math/big"

// measure picks the device for the concentrate and rounds to its marks.
func (m *mix) measure() {
	if err := cannotShow(m.Devices, m.unit); err != nil {
		m.refuse(err)
		return
	}
	var best *reading
	for i := range m.Devices {
		if m.Devices[i].shows(m.unit) {
			if r := m.read(&m.Devices[i]); best == nil || r.betterThan(best) {
				best = r
			}
		}
	}
	if best == nil { // nothing to measure with: nothing is rounded
		return
	}
	m.res.Measure = best.device
	m.concentrate = best.rounded
	if best.rounded.Sign() == 0 {
		m.refuse(refuse("R1", "%s is less than the finest mark of your %s. It cannot be measured with it.",
			m.amount(m.exact), best.device.Kind))
		m.offer(best.device)
		return
	}
	m.res.Fills = best.device.Fills(best.rounded)
	if best.poor {
		m.warn("W18", "%s is too little to measure well with a %s. A reading there can be far off.",
			m.amount(m.exact), best.device.Words(m.Mark))
		m.offer(best.device)
	}
	m.checkJug()
}

// reading is one device's way to measure the concentrate.
type reading struct {
	device    *Device
	rounded   *big.Rat
	off       *big.Rat // size of the relative error, from rounding alone
	fills     *big.Rat
	poor      bool // below what the device measures well
	tooStrong bool
}

// read rounds to the nearest mark, or to the one below where the nearest would pass a limit that has
// no override.
func (m *mix) read(d *Device) *reading {
	rounded := d.Round(m.exact)
	if top := m.ceiling(); top != nil && over(m.makes(rounded), top) {
		rounded = d.RoundDown(m.exact)
	}
	off := sub(quo(m.makes(rounded), m.w), frac(1, 1))
	return &reading{
		device: d, rounded: rounded, off: new(big.Rat).Abs(off), tooStrong: over(off, tooFar),
		poor:  m.exact.Cmp(d.Floor()) < 0,
		fills: ceil(quo(rounded, d.RoundDown(d.Capacity))),
	}
}

// betterThan prefers a device that measures the amount well, then one that does not make it too
// strong, then fewer fills, then the closer mark, then the smaller device.
func (r *reading) betterThan(other *reading) bool {
	if r.poor != other.poor {
		return other.poor
	}
	if r.tooStrong != other.tooStrong {
		return other.tooStrong
	}
	if !r.poor {
		if c := r.fills.Cmp(other.fills); c != 0 {
			return c < 0
		}
	}
	if c := r.off.Cmp(other.off); c != 0 {
		return c < 0
	}
	return r.device.Capacity.Cmp(other.device.Capacity) < 0
}

// tooFar is how far rounding may move a strength: 5% of it. farOff is where the words grow stronger.
var (
	tooFar = frac(5, 100)
	farOff = frac(10, 100)
)

// judgeRounding refuses more than 5% stronger (R15) and warns of more than 5% weaker (W9).
func (m *mix) judgeRounding(off *big.Rat) {
	weaker := new(big.Rat).Neg(off)
	switch {
	case over(off, tooFar):
		m.refuse(refuse("R15", "Rounded to %s it would be %s stronger than wanted. Use a finer measure or make a larger batch.",
			m.amount(m.concentrate), percentOver(off, tooFar, m.Mark)))
	case over(weaker, farOff):
		m.warn("W9", "Stop and think. Rounded to %s it is %s weaker than wanted. A wash this weak may not work.",
			m.amount(m.concentrate), percentOver(off, farOff, m.Mark))
	case over(weaker, tooFar):
		m.warn("W9", "Rounded to %s it is %s weaker than wanted.", m.amount(m.concentrate), percentOver(off, tooFar, m.Mark))
	default:
		return
	}
	if len(m.res.Offers) == 0 {
		m.offer(m.res.Measure)
	}
}
