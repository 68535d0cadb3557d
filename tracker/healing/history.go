package healing

// A label that is shown does not follow every look. Widening, closing and slow already allow for being
// looked at every day, so they are shown at once: widening over anything, the other two over a label that
// says no direction. Too few days end any label but the
// widening ones at once. Everything else takes three looks in
// a row that disagree with the label shown: when they agree with each other, their label is shown, else
// unclear. A reset begins afresh, with its first look's own label.

// labelOf gives what look i alone says.
func (c *course) labelOf(i int) Label {
	if c.labels[i] == 0 {
		c.labels[i] = c.look(i, c.points[i].day).label
	}
	return c.labels[i]
}

// settled tells whether the label shown after look i does not depend on those before.
func (c *course) settled(i int) bool {
	l := c.labelOf(i)
	if c.points[i].starts || l == Widening || l == ClosedOver {
		return true
	}
	return i-2 >= c.oldest && !c.points[i-1].starts && c.labelOf(i-1) == l && c.labelOf(i-2) == l
}

// run gives the label shown after look to, and calls each for every look from the last one up to from
// whose label stands by itself. Looks older than the horizon do not count; without them it is unclear.
func (c *course) run(from, to int, each func(int, Label)) Label {
	i := max(from, c.oldest)
	for i > c.oldest && !c.settled(i) {
		i--
	}
	label := c.labelOf(i)
	if !c.settled(i) && label != TooEarly {
		label = Unclear
	}
	each(i, label)
	for i++; i <= to; i++ {
		label = c.next(label, i)
		each(i, label)
	}
	return label
}

// next gives the label shown after look i when another was shown before it.
func (c *course) next(shown Label, i int) Label {
	l := c.labelOf(i)
	directed := shown == Widening || shown == Closing || shown == Slow || shown == ClosedOver
	switch {
	case c.points[i].starts, l == shown, l == Widening, l == ClosedOver,
		l == TooEarly && shown != Widening && shown != EarlyWidening,
		(l == Closing || l == Slow) && !directed:
		return l
	case c.points[i-1].starts || i-2 < c.oldest || c.labelOf(i-1) == shown || c.labelOf(i-2) == shown:
		return shown
	case c.labelOf(i-1) == l && c.labelOf(i-2) == l:
		return l
	}
	return Unclear
}
