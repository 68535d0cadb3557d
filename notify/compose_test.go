package notify_test

import (
	"bytes"
	"encoding/json"
	"encoding/xml"
	"errors"
	"io"
	"mime/quotedprintable"
	"regexp"
	"strings"
	"testing"
	"unicode"
	"unicode/utf8"

	"github.com/google/go-cmp/cmp"

	"leground/notify"
)

// marlpit is a morning at the invented Marlpit Yard with something in every list.
func marlpit(kind notify.Kind) notify.Content {
	return notify.Content{
		Kind: kind, Yard: "Marlpit Yard", Round: "morning round", Due: "Tue 14 May, 07:00", UseBy: "18:30",
		Asked: "Ada at 07:00 and 07:45",
		Horses: []notify.Horse{
			{Name: "Bramble", Legs: []notify.Leg{
				{Name: "right fore", What: "RF 1. Wash, dry."},
				{Name: "right hind", What: "RH 1, RH 2. Wash, dry, barrier. Size is due."}}},
			{Name: "Old Tom", Note: "Kicks when the hind feet are lifted."},
			{Name: "Juniper", Note: "Isolated: own kit, wash hands.", Legs: []notify.Leg{{Name: "left hind", What: "LH 1. Look."}}},
		},
		Cautions: []notify.Caution{{Level: "Ring the vet today", Where: "Bramble, right hind, pastern, back",
			Seen: "RH 2 was 6.4 cm² on 6 May and is 8.2 cm² now.", Next: "If she will not stand on it, ring now, do not wait.",
			Ring: "Marlpit vet", Number: "01234 000000"}},
		Mixes: []notify.Mix{{Name: "Wash concentrate A, 0.1 g per 100 mL", ThrowAway: "11:30 today"}},
		Title: "Trim due on Thu 16 May", Lines: []string{"Sun 12 May, evening round: no record.", "Mon 13 May, morning round: no record."},
		Week: notify.Week{Days: "6 to 12 May", Rounds: 14, Received: 12, Sent: 20, ActedOn: 4, PerhapsSent: 1, NotDelivered: 2},
		Link: "https://marlpit.example/round", Stop: "https://marlpit.example/stop/abc",
	}
}

var kinds = []notify.Kind{notify.RoundDue, notify.Nudge, notify.SecondPerson, notify.CautionOpen, notify.Notice,
	notify.Summary, notify.WeeklyLine, notify.TestMessage}

// TestRoundInFull is the whole plain text of a round's mail, to be read as a tired person reads it.
func TestRoundInFull(t *testing.T) {
	c := marlpit(notify.RoundDue)
	c.Lines, c.MadeUp = nil, true
	w, err := notify.Compose(c)
	if err != nil {
		t.Fatal(err)
	}
	want := `MADE-UP YARD: nothing here is real.

Morning round at Marlpit Yard.
Due Tue 14 May, 07:00.

CAUTIONS FIRST

Ring the vet today: Bramble, right hind, pastern, back.
RH 2 was 6.4 cm² on 6 May and is 8.2 cm² now.
If she will not stand on it, ring now, do not wait.
Whom to ring: Marlpit vet, 01234 000000

This is not a diagnosis. Only your vet can say what it means.

IN WALKING ORDER

Bramble
  Right fore: RF 1. Wash, dry.
  Right hind: RH 1, RH 2. Wash, dry, barrier. Size is due.

Old Tom
  Kicks when the hind feet are lifted.
  No open site. Look at each leg.

Juniper
  Isolated: own kit, wash hands.
  Left hind: LH 1. Look.

MIXES TO THROW AWAY
Wash concentrate A, 0.1 g per 100 mL: throw away at 11:30 today.

Open it: https://marlpit.example/round
Nothing more is sent about this round after 18:30.

Stop mail from Marlpit Yard to you: https://marlpit.example/stop/abc
`
	if diff := cmp.Diff(want, w.Text); diff != "" {
		t.Errorf("text (-want +got):\n%s", diff)
	}
	if want := "Ring the vet today. Morning round, Tue 14 May, 07:00, Marlpit Yard"; w.Subject != want {
		t.Errorf("subject %q, want %q", w.Subject, want)
	}
}

// TestWordsOfEachKind holds every kind to the rules for words: its headline, the line on diagnosis once
// where a caution is shown and nowhere else, "not received yet" and never "not done", short sentences
// (20 words, the limit that the project set itself), the same facts in both parts.
func TestWordsOfEachKind(t *testing.T) {
	subjects := map[notify.Kind]string{
		notify.RoundDue:     "Morning round, Tue 14 May, 07:00, Marlpit Yard",
		notify.Nudge:        "Morning round not received yet, Marlpit Yard",
		notify.SecondPerson: "Can you look? Morning round not received yet, Marlpit Yard",
		notify.CautionOpen:  "Ring the vet today: Bramble, right hind, pastern, back, Marlpit Yard",
		notify.Notice:       "Trim due on Thu 16 May, Marlpit Yard",
		notify.Summary:      "Reminders that could not be sent in time, Marlpit Yard",
		notify.WeeklyLine:   "The week, 6 to 12 May, Marlpit Yard",
		notify.TestMessage:  "A test message, Marlpit Yard",
	}
	for _, kind := range kinds {
		for _, withCaution := range []bool{true, false} {
			c := marlpit(kind)
			if !withCaution {
				c.Cautions = nil
			}
			w, err := notify.Compose(c)
			if kind == notify.CautionOpen && !withCaution {
				if err == nil {
					t.Error("a caution message without a caution was composed")
				}
				continue
			}
			if err != nil {
				t.Fatal(err)
			}
			want := subjects[kind]
			if withCaution && kind != notify.CautionOpen && kind != notify.Notice {
				want = "Ring the vet today. " + want
			}
			if w.Subject != want && !(strings.HasSuffix(w.Subject, "…") && strings.HasPrefix(want, strings.TrimSuffix(w.Subject, "…"))) {
				t.Errorf("%s: subject %q, want %q", kind, w.Subject, want)
			}
			checkWords(t, kind, w, withCaution)
		}
	}
}

func checkWords(t *testing.T, kind notify.Kind, w notify.Words, withCaution bool) {
	t.Helper()
	page := readable(t, w.HTML)
	for part, text := range map[string]string{"text": w.Text, "page": page} {
		diagnoses := 0
		if withCaution {
			diagnoses = 1
		}
		if n := strings.Count(text, notify.NotADiagnosis); n != diagnoses {
			t.Errorf("%s %s: the line on diagnosis stands %d times, want %d", kind, part, n, diagnoses)
		}
		if strings.Contains(strings.ToLower(text), "not done") || strings.Contains(text, "%") {
			t.Errorf("%s %s holds a banned word:\n%s", kind, part, text)
		}
		late := kind == notify.Nudge || kind == notify.SecondPerson
		if late != strings.Contains(text, "has not been received yet") {
			t.Errorf("%s %s: not received yet is said wrongly", kind, part)
		}
		bramble, tom, juniper := strings.Index(text, "Bramble\n"), strings.Index(text, "Old Tom"), strings.Index(text, "Juniper")
		ring := strings.Index(text, "01234 000000")
		if tom >= 0 && !(bramble < tom && tom < juniper && (!withCaution || ring >= 0 && ring < bramble)) {
			t.Errorf("%s %s is out of order: %d %d %d %d", kind, part, ring, bramble, tom, juniper)
		}
		for _, s := range regexp.MustCompile(`[.?!:]\s`).Split(text, -1) {
			if n := len(strings.Fields(s)); n > 20 && !strings.Contains(s, "\n") {
				t.Errorf("%s %s: a sentence of %d words: %q", kind, part, n, s)
			}
		}
	}
	for line := range strings.Lines(w.Text) {
		line = strings.TrimSuffix(strings.TrimSpace(line), ".") // headings of the page end without a stop
		if line == strings.ToUpper(line) || strings.Contains(line, "https://") {
			continue // headings are typeset on the page; addresses are links
		}
		if !strings.Contains(flat(page), flat(line)) {
			t.Errorf("%s: the page lacks %q", kind, line)
		}
	}
	for _, link := range []string{"https://marlpit.example/round", "https://marlpit.example/stop/abc"} {
		if !strings.Contains(w.Text, link) || !strings.Contains(w.HTML, `href="`+link+`"`) {
			t.Errorf("%s lacks the link %s", kind, link)
		}
	}
}

func flat(s string) string { return strings.ToLower(strings.Join(strings.Fields(s), " ")) }

// readable reads a page with the standard library's XML reader, which fails on unbalanced tags, and gives
// its text with a line end after each block.
func readable(t *testing.T, page string) string {
	t.Helper()
	d := xml.NewDecoder(strings.NewReader(page))
	var b strings.Builder
	for inHead := false; ; {
		token, err := d.Token()
		if err == io.EOF {
			return b.String()
		}
		if err != nil {
			t.Fatalf("the page does not read: %v\n%.3000s", err, page)
		}
		switch token := token.(type) {
		case xml.StartElement:
			inHead = inHead && token.Name.Local != "body" || token.Name.Local == "head"
			for _, a := range token.Attr {
				if strings.HasPrefix(strings.ToLower(a.Name.Local), "on") {
					t.Errorf("the page runs a script: %v", token)
				}
			}
			switch token.Name.Local {
			case "script", "img", "iframe", "svg":
				t.Errorf("the page holds a %s", token.Name.Local)
			case "br", "ul", "li":
				b.WriteByte('\n')
			}
		case xml.EndElement:
			switch token.Name.Local {
			case "p", "h1", "h2", "li":
				b.WriteByte('\n')
			}
		case xml.CharData:
			if !inHead {
				b.Write(token)
			}
		}
	}
}

// TestNamesOnTheLockScreen: no horse is named on a phone's lock screen unless the person allowed it.
func TestNamesOnTheLockScreen(t *testing.T) {
	for _, kind := range kinds {
		c := marlpit(kind)
		quiet, err := notify.Compose(c)
		if err != nil {
			t.Fatal(err)
		}
		for _, h := range c.Horses {
			if strings.Contains(quiet.Title+quiet.Short, h.Name) {
				t.Errorf("%s names %s: %q, %q", kind, h.Name, quiet.Title, quiet.Short)
			}
		}
	}
	c := marlpit(notify.RoundDue)
	c.Names = true
	if open, err := notify.Compose(c); err != nil || open.Short != "Bramble, Old Tom, Juniper." {
		t.Errorf("with names allowed: %q, %v", open.Short, err)
	}
}

// TestHugeYard: 500 horses with names of 2,000 characters stay under the limit, and the cut is said.
func TestHugeYard(t *testing.T) {
	for _, name := range []string{strings.Repeat("x", 2000), strings.Repeat("🐴", 2000), strings.Repeat("é\r\n", 2000)} {
		c := marlpit(notify.RoundDue)
		for range 500 {
			legs := make([]notify.Leg, 8)
			for i := range legs {
				legs[i] = notify.Leg{Name: name, What: name}
			}
			c.Horses = append(c.Horses, notify.Horse{Name: name, Note: name, Legs: legs})
			c.Cautions = append(c.Cautions, notify.Caution{Level: name, Where: name, Seen: name, Next: name, Ring: name, Number: name})
			c.Lines = append(c.Lines, name)
			c.Mixes = append(c.Mixes, notify.Mix{Name: name, ThrowAway: name})
		}
		w, err := notify.Compose(c)
		if err != nil {
			t.Fatal(err)
		}
		var b bytes.Buffer
		for _, part := range []string{w.Text, w.HTML} {
			q := quotedprintable.NewWriter(&b)
			if _, err := io.WriteString(q, part); err != nil {
				t.Fatal(err)
			}
			q.Close()
		}
		if b.Len() > notify.MaxBytes-6<<10 {
			t.Errorf("both parts take %d bytes", b.Len())
		}
		if !regexp.MustCompile(`And \d+ more horses: open the round.`).MatchString(w.Text) {
			t.Error("the text does not say that horses were left out")
		}
		readable(t, w.HTML)
	}
}

// TestUnknownKind: words are never made up for a kind that this program does not know.
func TestUnknownKind(t *testing.T) {
	for _, kind := range []notify.Kind{"", "moon phase"} {
		if _, err := notify.Compose(notify.Content{Kind: kind}); !errors.Is(err, notify.ErrUnknownKind) {
			t.Errorf("kind %q: %v", kind, err)
		}
	}
}

// TestContentIsFrozen: content read back from JSON gives the same words, as a second try needs.
func TestContentIsFrozen(t *testing.T) {
	for _, kind := range kinds {
		before, err := notify.Compose(marlpit(kind))
		if err != nil {
			t.Fatal(err)
		}
		stored, err := json.Marshal(marlpit(kind))
		if err != nil {
			t.Fatal(err)
		}
		var read notify.Content
		if err := json.Unmarshal(stored, &read); err != nil {
			t.Fatal(err)
		}
		if after, err := notify.Compose(read); err != nil || after != before {
			t.Errorf("%s: other words after storing: %v", kind, cmp.Diff(before, after))
		}
	}
}

// TestOneLine: each case of text that is typed or pasted, and what is left of it.
func TestOneLine(t *testing.T) {
	for _, c := range []struct{ in, want string }{
		{"Bramble", "Bramble"},
		{"  Old \t Tom\r\n", "Old Tom"},
		{"Bramble\r\nBcc: all@example.org", "Bramble Bcc: all@example.org"},
		{"a\u2028b\u0085c\x00d\x1be", "a b c d e"},
		{"20\u00a0mL and 1\u202f500\u00a0mL", "20\u00a0mL and 1\u202f500\u00a0mL"},
		{"Bram\u202eelb\u2066\u200b", "Bramelb"},
		{"\xff\xfeBramble", "\uFFFDBramble"},
		{"12345678901", "1234567890…"},
		{"שחור 7", "\u2068שחור 7\u2069"},
		{"", ""},
		{"\r\n", ""},
	} {
		limit := 60
		if strings.HasSuffix(c.want, "…") {
			limit = 10
		}
		if got := notify.OneLine(c.in, limit); got != c.want {
			t.Errorf("OneLine(%q) = %q, want %q", c.in, got, c.want)
		}
	}
}

// FuzzCompose: whatever people type, words are composed, lines stay lines, and the page runs nothing.
func FuzzCompose(f *testing.F) {
	for _, s := range hostile {
		f.Add(s, s)
	}
	f.Fuzz(func(t *testing.T, a, b string) {
		for _, kind := range kinds {
			c := notify.Content{Kind: kind, Yard: a, Round: b, Due: a, UseBy: b, Asked: a, Title: b, Link: a, Stop: b,
				Horses:   []notify.Horse{{Name: a, Note: b, Legs: []notify.Leg{{Name: a, What: b}}}, {Name: b}},
				Cautions: []notify.Caution{{Level: a, Where: b, Seen: a, Next: b, Ring: a, Number: b}},
				Mixes:    []notify.Mix{{Name: a, ThrowAway: b}}, Lines: []string{b, a}, Names: true}
			w, err := notify.Compose(c)
			if err != nil {
				t.Fatalf("%s: %v", kind, err)
			}
			for _, line := range []string{w.Subject, w.Title, w.Short} {
				if strings.ContainsFunc(line, unicode.IsControl) || !utf8.ValidString(line) || utf8.RuneCountInString(line) > 220 {
					t.Errorf("%s: headline %q", kind, line)
				}
			}
			if utf8.RuneCountInString(w.Subject) > 82 { // 78 and up to two isolates twice
				t.Errorf("%s: subject of %d characters", kind, utf8.RuneCountInString(w.Subject))
			}
			if strings.ContainsFunc(strings.ReplaceAll(w.Text, "\n", ""), unicode.IsControl) || strings.ContainsAny(w.Text, "\u202e\u202d\u2066") {
				t.Errorf("%s: control characters in the text: %q", kind, w.Text)
			}
			if strings.Contains(strings.ToLower(w.HTML), "<script") || strings.Contains(strings.ToLower(w.HTML), `href="javascript`) {
				t.Errorf("%s: a script in the page: %q", kind, w.HTML)
			}
		}
	})
}

// hostile holds names that have broken mail, pages or calendars elsewhere (common knowledge, no source).
var hostile = []string{
	"Bramble", "", "\r\n", "Bramble\r\nBcc: all@example.org\r\n\r\nHello", ".\r\n.\r\nQUIT\r\n", "\x00\x01\x7f", "\xff\xfe\xc3\x28",
	"<script>alert(1)</script>", `"><img src=x onerror=alert(1)>`, "javascript:alert(1)", "{{.Yard}}", "=?utf-8?q?hello?=", "a;b,c:d\\n",
	"\u202eelbmarB", "שחור", "العربية 5 mL", "🐴👩🏽‍🌾🇬🇧", strings.Repeat("é", 2000), strings.Repeat("🐴", 2000), strings.Repeat("a ", 1000), "Z̸̧̢͎̤a̷l̶g̵o̴",
	"https://marlpit.example/round?a=b&c=d", "BEGIN:VCALENDAR", "--boundary--", "From Bramble", "ﬁ\u00ad\u200d\ufeff", "%s%d%!", "\u2028\u2029",
}
