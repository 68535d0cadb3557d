package draw

import (
	"fmt"
	"html/template"
	"math"
	"strconv"
	"strings"

	"leground/tracker"
)

// The field of a chart in units, which are pixels on a phone 360 px wide.
const (
	chartWidth  = 328.0
	chartHeight = 200.0
	plotLeft    = 42.0
	plotRight   = 258.0 // the last value is written to the right of it
	plotTop     = 24.0
	plotBottom  = 154.0
	eventStrip  = 24.0
	signRow     = 32.0 // with its words over the squares
	shortRow    = 16.0 // with a short word beside them
	dotLargest  = 4.5
)

// plot turns days and values into places on a chart.
type plot struct {
	Panel
	*svg
	first, last tracker.Date
	y           func(value float64) float64
	points      []Point      // by day
	x           []float64    // of each point; two readings of one day stand side by side
	dot         float64      // radius
	taken       [][2]float64 // what the top line already holds, from and to
}

// Chart draws a panel: linear from zero, a dot with its give-or-take bar for every reading, a line
// only where no more than one planned reading is missing and no treatment changed. It is 328 units
// wide and 200 high, or more where it has events or signs.
func Chart(p Panel) template.HTML {
	top := p.top()
	c := p.plot("chart-linear", p.drawable(), func(v float64) float64 {
		return plotBottom - (plotBottom-plotTop)*min(v/top, 1)
	})
	for i, by := 0, step(top); float64(i)*by <= top*(1+1e-9); i++ {
		v := float64(i) * by
		c.gridline(c.y(v), tracker.FormatFloat(v, places(by), p.Decimal), i == 0)
	}
	c.head(p.Unit)
	c.changes()
	if base, ok := p.baseline(c.points); ok && base > 0 && base <= top {
		c.base(c.y(base))
	}
	c.series()
	c.underAxis()
	return c.html()
}

// places gives the decimal places that the labels of a scale need.
func places(step float64) int {
	return max(0, -int(math.Floor(math.Log10(step)+1e-9)))
}

// plot opens the drawing of a panel whose readings stand at the heights that y gives.
func (p Panel) plot(class string, points []Point, y func(float64) float64) *plot {
	height := chartHeight
	for _, row := range p.Signs {
		height += row.height()
	}
	if len(p.days(p.eventDays())) > 0 {
		height += eventStrip
	}
	c := &plot{Panel: p, y: y, points: points}
	c.first, c.last = p.ends()
	c.svg = open(class, "img", p.LabelledBy, 0, 0, chartWidth, height)
	c.dot = min(dotLargest, max(1.6, 0.47*c.perDay()))
	c.x = make([]float64, len(c.points))
	for i := 0; i < len(c.points); {
		n := i + 1
		for n < len(c.points) && c.points[n].Day == c.points[i].Day {
			n++
		}
		for k := i; k < n; k++ {
			c.x[k] = c.dayX(c.points[i].Day) + (float64(k-i)-float64(n-i-1)/2)*min(2*c.dot+1, 40/float64(n-i))
		}
		i = n
	}
	return c
}

func (c *plot) perDay() float64 {
	return (plotRight - plotLeft) / math.Max(1, float64(c.last)-float64(c.first))
}

func (c *plot) dayX(day tracker.Date) float64 {
	return plotLeft + (float64(day)-float64(c.first))*c.perDay()
}

// gridline writes one line of the scale with its value; the lowest is the axis.
func (c *plot) gridline(y float64, words string, axis bool) {
	if axis {
		c.add(`<path class="axis" d="M%s,%sH%s" stroke="currentColor" stroke-width="2"/>`, num(plotLeft-4), num(y), num(plotRight+6))
	} else {
		c.add(`<path class="chart-grid" d="M%s,%sH%s" stroke="#8c8c8c" stroke-width="1"/>`, num(plotLeft-4), num(y), num(plotRight+6))
	}
	c.text(plotLeft-8, y+5, "end", "", words)
}

// head writes the unit over the scale and says when the scale is the panel's own.
func (c *plot) head(unit string) {
	c.text(2, 14, "start", "", unit)
	c.taken = append(c.taken, [2]float64{0, width(unit) + 8})
	if c.OwnScale {
		c.text(chartWidth-1, 14, "end", "", "own scale")
		c.taken = append(c.taken, [2]float64{chartWidth - width("own scale"), chartWidth})
	}
}

// changes draws each change of treatment half a day before the first reading under it. Its words stand
// at the top where there is room; its letter always stands at the axis.
func (c *plot) changes() {
	for _, change := range c.Changes {
		if change.Day < c.first || change.Day > c.last || change.Day == 0 {
			continue
		}
		x := max(plotLeft, c.dayX(change.Day)-c.perDay()/2)
		c.add(`<path class="phase" d="M%s,%sV%s" stroke="currentColor" stroke-width="2" stroke-dasharray="2 3"/>`, num(x), num(plotTop-6), num(plotBottom+8))
		c.text(x, plotBottom+22, "middle", "strong", change.Letter)
		c.changeWords(x, change.Words)
	}
}

func (c *plot) changeWords(x float64, words string) {
	if words == "" {
		return
	}
	wide := width(words)
	for _, place := range []struct {
		anchor   string
		from, at float64
	}{{"start", x - 3, x - 3}, {"end", x + 3 - wide, x + 3}} {
		if place.from >= 0 && place.from+wide <= chartWidth && c.free(place.from, place.from+wide) {
			c.text(place.at, 14, place.anchor, "", words)
			c.taken = append(c.taken, [2]float64{place.from, place.from + wide})
			return
		}
	}
}

func (c *plot) free(from, to float64) bool {
	for _, t := range c.taken {
		if from < t[1]+6 && t[0] < to+6 {
			return false
		}
	}
	return true
}

// base draws the thin line of the first reading and its name, clear of the last value's words.
func (c *plot) base(y float64) {
	c.add(`<path class="baseline" d="M%s,%sH%s" stroke="currentColor" stroke-width="1"/>`, num(plotLeft), num(y), num(plotRight+6))
	at := y + 5
	if n := len(c.points); n > 0 && c.last-c.points[n-1].Day <= 8 {
		if last := c.y(c.points[n-1].Value) + 5; math.Abs(at-last) < 16 {
			at = last + math.Copysign(16, at-last)
			if at > plotBottom+5 {
				at = last - 16
			}
		}
	}
	c.text(plotRight+10, at, "start", "", "day 1")
}

// series draws the lines, then the bars, then the dots over them, and names the last value.
func (c *plot) series() {
	for _, run := range c.runs(c.points) {
		if len(run) < 2 {
			continue
		}
		var d strings.Builder
		for _, i := range run {
			fmt.Fprintf(&d, " %s,%s", num(c.x[i]), num(c.y(c.points[i].Value)))
		}
		c.add(`<path class="line" d="M%s" fill="none" stroke="currentColor" stroke-width="2.5" stroke-linejoin="round"/>`, d.String()[1:])
	}
	for i, point := range c.points {
		if point.High > point.Low {
			x, cap := c.x[i], min(3, c.dot)
			c.add(`<path class="bar" d="M%[1]s,%[2]sV%[3]s M%[4]s,%[2]sH%[5]s M%[4]s,%[3]sH%[5]s" fill="none" stroke="currentColor" stroke-width="1.2"/>`,
				num(x), num(c.y(point.High)), num(c.y(point.Low)), num(x-cap), num(x+cap))
		}
	}
	c.brackets()
	for i, point := range c.points {
		c.drawDot(c.x[i], c.y(point.Value), point)
	}
	if n := len(c.points); n > 0 {
		c.lastValue(c.x[n-1], c.y(c.points[n-1].Value), c.Say(c.points[n-1].Value))
	}
}

func (c *plot) drawDot(x, y float64, point Point) {
	if point.nothing {
		c.add(`<path class="dot nothing" d="M%s,%sv-9" stroke="currentColor" stroke-width="3"/>`, num(x), num(y))
		return
	}
	if !point.Partial {
		c.add(`<circle class="dot" cx="%s" cy="%s" r="%s" fill="currentColor"/>`, num(x), num(y), num(c.dot))
		return
	}
	r := c.dot - 0.7
	c.add(`<circle class="dot partial" cx="%[1]s" cy="%[2]s" r="%[3]s" fill="none" stroke="currentColor" stroke-width="1.5"/>`+
		`<path d="M%[4]s,%[2]sa%[3]s,%[3]s 0 0 0 %[5]s,0Z" fill="currentColor"/>`, num(x), num(y), num(r), num(x-r), num(2*r))
}

// brackets joins readings of one day above their bars.
func (c *plot) brackets() {
	for i := 0; i < len(c.points); {
		n, highest := i, math.Inf(1)
		for ; n < len(c.points) && c.points[n].Day == c.points[i].Day; n++ {
			highest = min(highest, c.y(c.points[n].High), c.y(c.points[n].Value)-c.dot)
		}
		if n-i > 1 {
			y := max(highest-3, plotTop-4)
			c.add(`<path class="bracket" d="M%[1]s,%[2]sv-4H%[3]sv4" fill="none" stroke="currentColor" stroke-width="1.5"/>`, num(c.x[i]), num(y), num(c.x[n-1]))
		}
		i = n
	}
}

// lastValue writes the last value at its dot, to the left of it where there is no room to the right.
func (c *plot) lastValue(x, y float64, words string) {
	at, anchor := x+c.dot+5, "start"
	if at+width(words) > chartWidth {
		at, anchor = chartWidth-1, "end"
		y -= 12
	}
	c.text(at, max(y+5, plotTop-8), anchor, "strong last-value", words)
}

// underAxis draws what lies under the axis: could not measure, planned days without a look, the days
// at the ends, events and rows of signs.
func (c *plot) underAxis() {
	for _, day := range c.days(c.Missed) {
		c.add(`<path class="missed" d="M%s,%sv7" stroke="currentColor" stroke-width="2"/>`, num(c.dayX(day)), num(plotBottom+3))
	}
	for _, day := range c.days(c.Unmeasured) {
		c.add(`<circle class="unmeasured" cx="%s" cy="%s" r="%s" fill="none" stroke="currentColor" stroke-width="1.5"/>`, num(c.dayX(day)), num(plotBottom), num(c.dot))
	}
	if c.first != 0 {
		c.text(2, plotBottom+41, "start", "", c.dayWords(c.first))
		if c.last != c.first {
			c.text(plotRight+30, plotBottom+41, "end", "", c.dayWords(c.last))
		}
	}
	if len(c.points) == 0 {
		c.text((plotLeft+plotRight)/2, plotTop+(plotBottom-plotTop)/4+5, "middle", "", "no reading yet")
	}
	below := chartHeight + c.events()
	for _, row := range c.Signs {
		c.signs(row, below)
		below += row.height()
	}
}

// dayWords writes a day of the axis with its number.
func (c *plot) dayWords(day tracker.Date) string {
	one := c.DayOne
	if one == 0 {
		one = c.first
	}
	number := strconv.FormatInt(int64(day)-int64(one)+1, 10)
	return "day " + strings.Replace(number, "-", "\u2212", 1) + ", " + shortDay(day)
}

// shortDay writes a day as on the axis: 14 May.
func shortDay(day tracker.Date) string { return day.Time().Format("2 Jan") }

// mostEvents is how many flags a chart shows; the others stand in the table only.
const mostEvents = 4

func (p Panel) eventDays() []tracker.Date {
	days := make([]tracker.Date, len(p.Events))
	for i, e := range p.Events {
		days[i] = e.Day
	}
	return days
}

// events draws the latest flags on a strip of their own and gives its height.
func (c *plot) events() float64 {
	var shown []Event
	for _, e := range c.Events {
		if len(c.days([]tracker.Date{e.Day})) > 0 {
			shown = append(shown, e)
		}
	}
	if len(shown) == 0 {
		return 0
	}
	shown = shown[max(0, len(shown)-mostEvents):]
	for _, e := range shown {
		x := c.dayX(e.Day)
		c.add(`<path class="event" d="M%[1]s,%[2]sv20 M%[1]s,%[2]sh16l-4,7.5 4,7.5h-16" fill="none" stroke="currentColor" stroke-width="1.5"/>`, num(x), num(chartHeight+1))
		letter := []rune(e.Letter + " ")[:1]
		c.text(x+2, chartHeight+14, "start", "", string(letter))
	}
	return eventStrip
}

// short tells whether the words of a row fit beside its squares.
func (r SignRow) short() bool { return width(r.Words) <= plotLeft-2 }

func (r SignRow) height() float64 {
	if r.short() {
		return shortRow
	}
	return signRow
}

// signs draws one row of squares, under its words or beside a short one.
func (c *plot) signs(row SignRow, y float64) {
	if row.short() {
		// Squeezed if need be: the first square begins where the plot does.
		c.add(`<text x="2" y="%s" font-size="14" fill="currentColor"`, num(y+12))
		if room := plotLeft - 8; width(row.Words) > room {
			c.add(` textLength="%s" lengthAdjust="spacingAndGlyphs"`, num(room))
		}
		c.add(`>%s</text>`, esc(row.Words))
		y -= signRow - shortRow - 1
	} else {
		c.text(2, y+12, "start", "", row.Words)
	}
	side := min(9, max(2, c.perDay()-1.5))
	for _, day := range c.days(row.Clear) {
		c.add(`<rect class="sign clear" x="%s" y="%s" width="%s" height="%s" fill="none" stroke="currentColor"/>`, num(c.dayX(day)-side/2+0.5), num(y+18.5), num(side-1), num(8))
	}
	for _, day := range c.days(row.Seen) {
		c.add(`<rect class="sign seen" x="%s" y="%s" width="%s" height="%s" fill="currentColor"/>`, num(c.dayX(day)-side/2), num(y+18), num(side), num(9))
	}
}
