package draw

import (
	"html/template"
	"math"

	"leground/tracker"
)

// The log view reaches from 2^mostDoublings times the first size down to 100 / 2^mostHalvings of it;
// a reading beyond stands on the edge.
const mostHalvings, mostDoublings = 10, 4

// LogChart draws a panel a second way, as percent of the first size on a log scale whose gridlines are
// halvings: 100, 50, 25, 12.5. It is meant to stand beside Chart, never alone, under words that say
// each step is a halving. A reading of nothing has no logarithm: it is an upright mark on the lowest
// line and ends the line before it. Without a first size to compare with there is nothing to draw.
func LogChart(p Panel) template.HTML {
	base, ok := p.baseline(p.drawable())
	if !ok || base <= 0 {
		return ""
	}
	p.First, p.Last = p.ends()
	points := p.drawable()
	low, high := 100.0, 100.0
	for i := range points {
		point := &points[i]
		point.Value, point.Low, point.High = 100*point.Value/base, 100*point.Low/base, 100*point.High/base
		point.nothing = point.Value == 0
		if !point.nothing {
			low, high = min(low, point.Value), max(high, point.Value)
		}
	}
	down := min(mostHalvings, max(2, int(math.Ceil(math.Log2(100/low)-1e-9))))
	up := min(mostDoublings, int(math.Ceil(math.Log2(high/100)-1e-9)))
	least := 100 / math.Exp2(float64(down))
	c := p.plot("chart-log", points, func(percent float64) float64 {
		halvings := float64(up) - math.Log2(max(percent, least)/100)
		return plotTop + (plotBottom-plotTop)*max(0, halvings/float64(up+down))
	})
	c.Unit = "%"
	for i := -up; i <= down; i++ {
		percent := 100 / math.Exp2(float64(i))
		c.gridline(c.y(percent), tracker.FormatFloat(percent, 2, p.Decimal), i == down)
	}
	c.head("% of first size")
	c.changes()
	c.base(c.y(100))
	c.series()
	c.underAxis()
	return c.html()
}
