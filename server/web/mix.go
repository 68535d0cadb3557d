package web

import (
	"cmp"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"leground/tracker"
	"leground/tracker/care"
	"leground/tracker/mixing"
)

// MixPage is the first two steps of a mix: what and how much, then what to do and how it was worked out.
type MixPage struct {
	Base
	sent        // the second step as it was sent
	View        care.MixView
	Planned     []PlannedLine // washes that plans ask for today, unless something was chosen
	Record      tracker.RecordID
	Volumes     []Step
	OtherVolume string
	Devices     []Step
	OtherDevice string
	Ways        []Step // made up to, added to, all that is left
	Diluents    []Step
	Skins       []Step
	Places      []Step // what is said of the place that it goes on
	Carried     []Step // the first step, for the form of the second
	Again       string // the address of the first step, filled in
	Do          []DoLine
	Working     []WorkedPart
}

// PlannedLine is one of them, with how it is made for each usual volume.
type PlannedLine struct {
	care.PlannedMix
	Volumes []AskVolume
}

// DoLine is one thing that the hands do, with the amount shown large.
type DoLine struct{ Text, Amount string }

// WorkedPart is one part of the working under its heading.
type WorkedPart struct {
	Heading string
	Lines   []mixing.Line
}

// The fields of the first step that say what is known of the place.
var places = []struct{ name, words string }{
	{"near_eye", "Near an eye, an ear or the face"}, {"near_joint", "Over or near a joint or a tendon sheath, or a puncture of the hoof"},
	{"closed", "Into a puncture or a closed wound"}, {"bandage", "A bandage goes over it"}, {"soap", "Soap or shampoo was used before, not rinsed off"},
	{"delicate", "A large wound, a foal, a pregnant mare, or a long course"},
}

var ways = []struct {
	name, words string
	kind        mixing.Kind
}{{"make", "Make up to this volume", mixing.MakeUpTo}, {"add", "Add to this volume of water", mixing.AddTo}, {"left", "Use up all that is left", mixing.UseUp}}

var skins = []struct {
	name, words string
	skin        mixing.Skin
}{{"open", "Open skin", mixing.OpenSkin}, {"whole", "Whole skin or horn", mixing.IntactSkin}, {"no", "Not on a horse", mixing.NotOnHorse}}

// skinNamed reads what a form says that it goes on; the zero Skin when it says nothing.
func skinNamed(name string) mixing.Skin {
	for _, skin := range skins {
		if skin.name == name {
			return skin.skin
		}
	}
	return 0
}

// skinSteps lays out the choice of what it goes on. Open skin is chosen until something else is.
func skinSteps(chosen mixing.Skin) (out []Step) {
	for _, skin := range skins {
		out = append(out, Step{skin.name, skin.words, skin.skin == cmp.Or(chosen, mixing.OpenSkin)})
	}
	return out
}

func diluents() []mixing.Diluent {
	return []mixing.Diluent{mixing.BoiledWater, mixing.SterileWater, mixing.HardTapWater, mixing.SalineSolution, mixing.MagnesiumSulfateSolution}
}

// readAsk reads the first step, from its own form, from a link that fills it in, or from the second step.
func readAsk(v url.Values) care.MixAsk {
	text := func(name string) string { return strings.TrimSpace(v.Get(name)) }
	short := func(name string) string {
		if s := []rune(text(name)); len(s) > 80 {
			return string(s[:80])
		}
		return text(name)
	}
	ask := care.MixAsk{
		Stock: text("stock"), Says: text("says"), Alone: text("alone") != "", Horse: tracker.HorseID(text("horse")), Plan: short("plan"),
		Want: short("want"), WantOf: short("of"), Make: short("make"), Kind: mixing.MakeUpTo,
		Diluent: mixing.BoiledWater, RecentFor: text("recent_for"),
		Use: mixing.Use{NearEye: text("near_eye") != "", NearJoint: text("near_joint") != "", Closed: text("closed") != "", Bandage: text("bandage") != "",
			SoapBefore: text("soap") != "", Delicate: text("delicate") != ""},
	}
	if other := short("make_other"); other != "" {
		ask.Make = other
	}
	for _, way := range ways {
		if text("how") == way.name {
			ask.Kind = way.kind
		}
	}
	ask.Use.Skin = skinNamed(text("skin"))
	for _, d := range diluents() {
		if text("with") == d.String() {
			ask.Diluent = d
		}
	}
	for _, name := range []string{"device", "device_other"} {
		for _, device := range v[name] {
			if device = strings.TrimSpace(device); device != "" && len(ask.Devices) < 12 {
				ask.Devices = append(ask.Devices, device)
			}
		}
	}
	for _, id := range v["recent"] {
		ask.Recent = append(ask.Recent, tracker.MixID(id))
	}
	return ask
}

// carry writes an ask as the fields that readAsk reads.
func carry(ask care.MixAsk) url.Values {
	v := url.Values{}
	set, tick := fillIn(v)
	for _, f := range [][2]string{{"stock", ask.Stock}, {"says", ask.Says}, {"horse", string(ask.Horse)}, {"plan", ask.Plan}, {"want", ask.Want},
		{"of", ask.WantOf}, {"make", ask.Make}, {"with", ask.Diluent.String()}, {"recent_for", ask.RecentFor}} {
		set(f[0], f[1])
	}
	for _, way := range ways {
		if way.kind == ask.Kind {
			set("how", way.name)
		}
	}
	for _, skin := range skins {
		if skin.skin == ask.Use.Skin {
			set("skin", skin.name)
		}
	}
	tick("alone", ask.Alone)
	for name, on := range placesOf(ask.Use) {
		tick(name, on)
	}
	for _, device := range ask.Devices {
		set("device", device)
	}
	for _, id := range ask.Recent {
		set("recent", string(id))
	}
	return v
}

func placesOf(use mixing.Use) map[string]bool {
	return map[string]bool{"near_eye": use.NearEye, "near_joint": use.NearJoint, "closed": use.Closed, "bandage": use.Bandage, "soap": use.SoapBefore, "delicate": use.Delicate}
}

// mix shows the first step, or with "work" in the address the second one too.
func (h *Handler) mix(w http.ResponseWriter, r *http.Request, state sent) error {
	values, record := state.Values, care.NewRecord()
	if values == nil {
		values = r.URL.Query()
	}
	ask := readAsk(values)
	view, err := h.care.Mixing(r.Context(), actorOf(r), ask, record, values.Has("work") || state.Values != nil)
	if err != nil && tracker.KindOf(err) != tracker.Invalid {
		return err
	}
	if err != nil { // the first step is not whole, so nothing of the second can be said
		state.why, state.Wrong = err, refusalOf(err).Fields
	}
	page := MixPage{Base: h.base(r, "Mix").inYard(view.Moment, "mix").barn().wrong(state.why), sent: state, View: view, Record: record}
	page.Inside = true
	if len(values) == 0 {
		if err := h.plannedMixes(r, &page); err != nil {
			return err
		}
	}
	page.firstStep(values.Has("work") || state.Values != nil)
	if view.Work != nil {
		page.secondStep()
	}
	return h.draw(w, page.status(), "mix", page)
}

// plannedMixes lists what plans ask for, worked out, so that the page can be read with no signal.
func (h *Handler) plannedMixes(r *http.Request, p *MixPage) error {
	planned, err := h.care.PlannedMixes(r.Context(), actorOf(r))
	for _, one := range planned {
		line := PlannedLine{PlannedMix: one}
		for _, w := range one.Worked.Amounts {
			line.Volumes = append(line.Volumes, AskVolume{w.Volume.Words(p.Mark), w})
		}
		p.Planned = append(p.Planned, line)
	}
	return err
}

// firstStep fills in the choices of the first step. answered tells that the form was sent before, so that a
// measure that is not ticked was taken out.
func (p *MixPage) firstStep(answered bool) {
	ask, mark := p.View.Ask, p.View.Yard.Mark
	p.OtherVolume = ask.Make
	for _, v := range p.View.Measures.Volumes {
		words := v.Words(mark)
		same, err := mixing.ParseAmount(ask.Make)
		chosen := err == nil && same.Unit == v.Unit && same.Value.Cmp(v.Value) == 0
		if chosen {
			p.OtherVolume = ""
		}
		p.Volumes = append(p.Volumes, Step{words, words, chosen})
	}
	rest := slices.Clone(ask.Devices)
	for _, d := range p.View.Measures.Devices {
		value := d.Words(tracker.Point)
		i := slices.Index(rest, value)
		if i >= 0 {
			rest = slices.Delete(rest, i, i+1)
		}
		p.Devices = append(p.Devices, Step{value, d.Words(mark), i >= 0 || !answered && len(ask.Devices) == 0})
	}
	p.OtherDevice = strings.Join(rest, " ")
	for _, way := range ways {
		p.Ways = append(p.Ways, Step{way.name, way.words, way.kind == ask.Kind})
	}
	for _, d := range diluents() {
		p.Diluents = append(p.Diluents, Step{d.String(), d.String(), d == ask.Diluent})
	}
	p.Skins = skinSteps(ask.Use.Skin)
	for _, place := range places {
		p.Places = append(p.Places, Step{place.name, place.words, placesOf(ask.Use)[place.name]})
	}
}

// AnyPlace tells whether something was said of the place.
func (p MixPage) AnyPlace() bool {
	return slices.ContainsFunc(p.Places, func(s Step) bool { return s.Chosen })
}

// RecentOn tells whether a mix counts as put on the same place.
func (p MixPage) RecentOn(id tracker.MixID) bool { return slices.Contains(p.View.Ask.Recent, id) }

// Question asks whether a label says what Stores says.
func (p MixPage) Question(s care.Stock) string { return care.LabelQuestion(s.Name, s.Strength, p.Mark) }

// Refused tells whether the mix must not be made.
func (p MixPage) Refused() bool { return p.View.Work != nil && p.View.Work.Result.Refused() }

// Warned lists what is to be read and ticked before the mix is recorded.
func (p MixPage) Warned() []mixing.Note { return p.View.Work.Result.Warnings }

// secondStep puts the working into the order in which it is read.
func (p *MixPage) secondStep() {
	work, mark := p.View.Work, p.View.Yard.Mark
	for name, values := range carry(p.View.Ask) {
		for _, value := range values {
			p.Carried = append(p.Carried, Step{Value: value, Words: name})
		}
	}
	slices.SortFunc(p.Carried, func(a, b Step) int { return strings.Compare(a.Words+a.Value, b.Words+b.Value) })
	p.Again = "/mix?" + carry(p.View.Ask).Encode()
	for _, line := range work.Result.Working {
		if line.Part == mixing.Do {
			do := DoLine{Text: line.Text}
			for _, amount := range []mixing.Amount{work.Result.Concentrate, work.Result.Total} {
				if words := amount.Words(mark); strings.Contains(line.Text, words) && !strings.HasPrefix(line.Text, "Half-fill") && do.Amount == "" {
					do.Amount = words
				}
			}
			p.Do = append(p.Do, do)
			continue
		}
		heading := line.Part.Heading()
		if n := len(p.Working); n == 0 || p.Working[n-1].Heading != heading {
			p.Working = append(p.Working, WorkedPart{Heading: heading})
		}
		last := &p.Working[len(p.Working)-1]
		last.Lines = append(last.Lines, line)
	}
}

// recordMix keeps a mix, or shows its second step again with what stops it and a fresh check.
func (h *Handler) recordMix(w http.ResponseWriter, r *http.Request, f *form) error {
	in := care.Mixed{Ask: readAsk(f.values), Choice: -1, Ticks: f.values["tick"], Keeps: f.text("keeps"), Shown: f.text("shown")}
	if n, err := strconv.Atoi(f.text("choice")); err == nil {
		in.Choice = n
	}
	keep := func() error { return h.care.RecordMix(r.Context(), actorOf(r), formOf(f), in) }
	return h.done(w, r, f, keep, "/mix/"+f.text("record"), func(w http.ResponseWriter, r *http.Request, state sent) error {
		state.Values.Del("choice") // it is asked afresh
		return h.mix(w, r, state)
	})
}
