package draw

import (
	"html/template"
	"math"
	"slices"
	"strings"
	"testing"

	"leground/tracker"
)

// standalone makes a drawing a file that any browser opens, so that a golden file can be looked at.
func standalone(drawing template.HTML) []byte {
	return []byte(strings.Replace(string(drawing), "<svg ", `<svg xmlns="http://www.w3.org/2000/svg" color="#14181d" font-family="sans-serif" `, 1) + "\n")
}

func must(t *testing.T) func(template.HTML, error) template.HTML {
	return func(drawing template.HTML, err error) template.HTML {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return drawing
	}
}

func sites() []Place {
	return []Place{
		{Region: tracker.Fetlock, Aspect: tracker.Lateral, Tag: "LH 1"},
		{Region: tracker.Coronet, Aspect: tracker.AllRound, Tag: "LH 2"},
		{Region: tracker.PasternFold, Aspect: tracker.Plantar, Tag: "LH 3"},
		{Region: tracker.UpperCannon, Aspect: tracker.Dorsal, Tag: "LH 4", Closed: true},
		{Region: tracker.Frog, Aspect: tracker.Ground, Tag: "LH 5"},
		{Region: tracker.Pastern, Aspect: tracker.Lateral, Tag: "LH 6"},
	}
}

// TestGoldenDrawings keeps each kind of drawing as a file that has been looked at.
func TestGoldenDrawings(t *testing.T) {
	view := func(leg tracker.Leg, aspect tracker.Aspect, feather Feather) LegView {
		return LegView{ID: "leg", LabelledBy: "leg-head", Leg: leg, Aspect: aspect, Feather: feather, Places: sites()}
	}
	linked := view(tracker.LH, tracker.Lateral, FeatherOn)
	linked.Selected = tracker.Joint
	linked.Link = func(r tracker.Region) (string, string) {
		return "?a=1&region=" + r.String(), "left hind, " + r.String()
	}
	patchWithSigns := patch()
	patchWithSigns.OwnScale = true
	plan := []Post{{tracker.RF, "RF 1", "closing", false}, {tracker.RH, "RH 1", "not closing", false}, {tracker.RH, "RH 2", "widening", false},
		{tracker.LH, "LH 1", "too early to say", false}, {tracker.LF, "LF 1", "closed over", true}}
	for name, drawing := range map[string]template.HTML{
		"chart":        Chart(bramble()),
		"chart-log":    LogChart(bramble()),
		"chart-patch":  Chart(patchWithSigns),
		"chart-empty":  Chart(Panel{LabelledBy: "a", Unit: "cm²", Decimal: tracker.Point, First: dayOne, Last: dayOne + 28}),
		"hind-outside": Leg(view(tracker.LH, tracker.Lateral, FeatherOn)),
		"hind-front":   Leg(view(tracker.LH, tracker.Dorsal, FeatherLifted)),
		"hind-back":    Leg(view(tracker.LH, tracker.Plantar, FeatherOn)),
		"hind-links":   Leg(linked),
		"fore-outside": Leg(view(tracker.RF, tracker.Lateral, FeatherLifted)),
		"fore-inside":  Leg(view(tracker.LF, tracker.Medial, FeatherClipped)),
		"fore-back":    Leg(view(tracker.RF, tracker.Palmar, FeatherOn)),
		"slice":        Slice(view(tracker.LH, tracker.Plantar, FeatherOn), tracker.PasternFold),
		"four-posts":   must(t)(FourPosts("plan", "plan-head", plan)),
	} {
		parse(t, drawing)
		golden(t, "testdata/"+name+".svg", standalone(drawing))
	}
}

// TestMarks draws every mark in one sheet, and checks that no two have the same shape, so that a
// label can be told without its colour.
func TestMarks(t *testing.T) {
	sheet := []string{`<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 640 96" color="#14181d">`}
	seen := map[string]string{}
	column := 0
	place := func(name string, drawing template.HTML) {
		t.Helper()
		nodes := parse(t, drawing)
		if nodes[0].attrs["aria-hidden"] != "true" {
			t.Errorf("%s is not hidden from speech, though its word stands beside it", name)
		}
		_, inside, _ := strings.Cut(string(drawing), ">")
		if other := seen[inside]; other != "" {
			t.Errorf("%s looks like %s", name, other)
		}
		seen[inside] = name
		sheet = append(sheet, `<svg x="`+num(float64(8+52*(column%12)))+`" y="`+num(float64(8+48*(column/12)))+`" width="32" height="32" viewBox="0 0 32 32">`+inside)
		column++
	}
	for _, label := range Labels() {
		place(label, must(t)(Mark(label)))
	}
	for state := ToDo; state <= NotLookedAt; state++ {
		place("state", must(t)(Square(state)))
	}
	place("standing", Dot(true))
	place("corrected", Dot(false))
	golden(t, "testdata/marks.svg", []byte(strings.Join(sheet, "\n")+"\n</svg>\n"))
	if _, err := Mark("fine"); err == nil {
		t.Error("a word that is no label got a mark")
	}
	if _, err := Square(0); err == nil {
		t.Error("no state at all got a square")
	}
	if _, err := FourPosts("p", "h", []Post{{tracker.LF, "LF 1", "fine", false}}); err == nil {
		t.Error("a word that is no label got onto the plan")
	}
}

// TestLabelWords holds the marks to the labels of the product: eight for a wound, five for a patch,
// of which too early to say is shared.
func TestLabelWords(t *testing.T) {
	want := []string{"closing", "slow", "not closing", "widening", "early widening", "unclear", "closed over", "too early to say",
		"clearing", "no change", "worse", "clear"}
	if got := Labels(); !slices.Equal(got, want) {
		t.Errorf("labels %q", got)
	}
	if got := LabelClass("too early to say"); got != "too-early-to-say" {
		t.Error(got)
	}
}

// TestLegOutlines checks the outlines of all views: bands follow each other from the top to the
// ground within the field, at the same heights in the three views that share them.
func TestLegOutlines(t *testing.T) {
	for _, leg := range tracker.Legs() {
		for _, aspect := range Views(leg) {
			bands := shapes(leg.Fore(), aspect)
			if len(bands) < 8 {
				t.Errorf("%s %s has %d bands", leg, aspect, len(bands))
			}
			previous := -1.0
			for _, b := range bands {
				left, top, right, bottom := b.box()
				if left < 0 || right > 90 || top < 0 || bottom > 290 || b.top <= previous || b.top < top-1 || b.top >= bottom {
					t.Errorf("%s %s %s: %v..%v by %v..%v, slice from %v", leg, aspect, b.region, left, right, top, bottom, b.top)
				}
				previous = b.top
			}
			if _, _, _, ground := bands[len(bands)-1].box(); ground != 290 {
				t.Errorf("%s %s ends at %v", leg, aspect, ground)
			}
		}
	}
}

// TestMirror checks that the toe points to the left on the outside of a left leg and the inside of a
// right one, and to the right on the other two.
func TestMirror(t *testing.T) {
	for _, leg := range tracker.Legs() {
		for _, aspect := range []tracker.Aspect{tracker.Lateral, tracker.Medial} {
			drawing := string(Leg(LegView{ID: "a", LabelledBy: "b", Leg: leg, Aspect: aspect}))
			toeLeft := leg.Left() == (aspect == tracker.Lateral)
			if got := !strings.Contains(drawing, "scale(-1,1)"); got != toeLeft {
				t.Errorf("%s %s: toe to the left %v", leg, aspect, got)
			}
		}
	}
}

// TestEverySiteIsSomewhere puts a site on every region and face that the product allows, and checks
// that some view of the leg hatches a band for it and writes its tag once in each view that shows it.
func TestEverySiteIsSomewhere(t *testing.T) {
	for _, leg := range tracker.Legs() {
		for _, region := range tracker.RegionsOf(leg) {
			for aspect := tracker.Dorsal; aspect <= tracker.Ground; aspect++ {
				if tracker.CheckPlace(leg, region, aspect) != nil {
					continue
				}
				shown := 0
				for _, face := range Views(leg) {
					nodes := parse(t, Leg(LegView{ID: "x", LabelledBy: "y", Leg: leg, Aspect: face, Places: []Place{{Region: region, Aspect: aspect, Tag: "T 1"}}}))
					hatched, tags := len(of(nodes, "hatch")), len(of(nodes, "strong"))
					if hatched != tags || hatched > 1 {
						t.Errorf("%s %s %s on %s: %d hatched, %d tags", leg, region, aspect, face, hatched, tags)
					}
					shown += hatched
				}
				if shown == 0 || aspect == tracker.AllRound && shown != 4 {
					t.Errorf("%s %s %s is drawn in %d views", leg, region, aspect, shown)
				}
			}
		}
	}
}

// TestTagsStandApart crowds a leg with sites: their tags never stand on each other or leave the field.
func TestTagsStandApart(t *testing.T) {
	var places []Place
	for range 4 {
		places = append(places, Place{Region: tracker.Coronet, Aspect: tracker.Lateral, Tag: "LF 1"}, Place{Region: tracker.Wall, Aspect: tracker.Lateral, Tag: "LF 2"})
	}
	var heights []float64
	for _, n := range of(parse(t, Leg(LegView{ID: "x", LabelledBy: "y", Leg: tracker.LF, Aspect: tracker.Lateral, Places: places})), "strong") {
		heights = append(heights, n.number(t, "y"))
	}
	slices.Sort(heights)
	if len(heights) != 8 || heights[0] < 14 || heights[7] > 294 {
		t.Fatalf("tags at %v", heights)
	}
	for i := 1; i < len(heights); i++ {
		if heights[i]-heights[i-1] < 14 {
			t.Errorf("tags at %v", heights)
		}
	}
}

// TestLinkedLeg checks that every band of a leg that can be tapped is one link with words, in order
// from the top, and that a thin band has an area of at least 24 px where a view is 160 px wide.
func TestLinkedLeg(t *testing.T) {
	for _, leg := range tracker.Legs() {
		for _, aspect := range Views(leg) {
			var asked []tracker.Region
			nodes := parse(t, Leg(LegView{ID: "x", LabelledBy: "y", Leg: leg, Aspect: aspect, Link: func(r tracker.Region) (string, string) {
				asked = append(asked, r)
				return "/add?leg=" + leg.String() + "&region=" + r.String(), `"fold" & more`
			}}))
			if nodes[0].attrs["role"] != "group" {
				t.Error("links inside a picture are lost to speech")
			}
			if !slices.Equal(asked, Bands(leg, aspect)) {
				t.Errorf("bands in the order %v", asked)
			}
			links, areas := 0, map[bool]int{}
			for i, n := range nodes {
				switch n.name {
				case "a":
					links++
					if nodes[i+1].name != "title" || nodes[i+1].text != `"fold" & more` {
						t.Errorf("a link without words: %v", nodes[i+1])
					}
				case "rect":
					areas[n.number(t, "height")*160/150 >= 24]++
				}
			}
			thin := 0
			for _, b := range shapes(leg.Fore(), aspect) {
				if _, top, _, bottom := b.box(); (bottom-top)*160/150 < 24 {
					thin++
				}
			}
			if links != len(asked) || areas[false] > 0 || areas[true] != thin {
				t.Errorf("%s %s: %d links, %v hit areas", leg, aspect, links, areas)
			}
		}
	}
}

// TestSlicesStack checks that the slices of a view lie one under the other without a gap, from the
// top of the leg to the ground, each with ids of its own.
func TestSlicesStack(t *testing.T) {
	for _, leg := range tracker.Legs() {
		for _, aspect := range Views(leg) {
			next, ids := 0.0, map[string]bool{}
			for _, region := range Bands(leg, aspect) {
				nodes := parse(t, Slice(LegView{ID: "x", Leg: leg, Aspect: aspect, Places: sites()}, region))
				box := strings.Fields(nodes[0].attrs["viewBox"])
				from := node{attrs: map[string]string{"y": box[1], "h": box[3]}}
				if math.Abs(from.number(t, "y")-next) > 0.01 {
					t.Errorf("%s %s %s starts at %s, not %v", leg, aspect, region, box[1], next)
				}
				next = from.number(t, "y") + from.number(t, "h")
				for _, n := range nodes {
					if id := n.attrs["id"]; id != "" {
						if ids[id] {
							t.Errorf("id %s stands in two slices", id)
						}
						ids[id] = true
					}
				}
			}
			if next != 290 {
				t.Errorf("%s %s ends at %v", leg, aspect, next)
			}
		}
	}
	if got := Slice(LegView{Leg: tracker.LF, Aspect: tracker.Dorsal}, tracker.PointOfHock); got != "" {
		t.Error("a fore leg has a hock")
	}
}
