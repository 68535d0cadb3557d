package main

import (
	"encoding/csv"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"leground/server/webtest"
	"leground/tracker"
	"leground/tracker/care"
)

// One function judges everywhere: the rows of an invented spreadsheet, recorded as looks, show the same label
// and interval on the horse's page, the trend sheet, the vet's list, the vet's sheet and behind a link as the
// command line gives for the file. What is expected comes from the command line, whose own tests hold it
// against scipy.
func TestOneJudgementEverywhere(t *testing.T) {
	file := filepath.Join("testdata", "pages.csv")
	text, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(strings.NewReader(string(text))).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	site := webtest.Start(t, webtest.Options{Now: time.Date(2026, 4, 19, 9, 0, 0, 0, time.UTC)})
	owner := site.OpenYard("Marlpit Yard", "Ada")
	bea := owner.Invites("Bea", "carer")
	horse := owner.TakesIn("Bramble")
	actors := map[string]care.Actor{"Ada": actorOf(t, site, owner), "Bea": actorOf(t, site, bea), "": actorOf(t, site, owner)}
	ids := map[string]tracker.SiteID{}
	for _, leg := range []string{"RF", "LH", "RH"} {
		ids[leg+" 1"] = owner.Finds(horse, leg, "wound", "upper-cannon", "lateral")
	}
	for _, row := range rows[1:] {
		play(t, site, actors[row[5]], horse, ids[row[0]], row)
	}
	site.Clock.Set(time.Date(2026, 5, 14, 9, 0, 0, 0, time.UTC))
	made := owner.Send(owner.Get("/horse/" + string(horse) + "/vet").Form("/horse/" + string(horse) + "/vet").At("/horse/" + string(horse) + "/vet/link"))
	link := made.Link()
	pages := map[string]*webtest.Page{
		"the horse's page": owner.Get("/horse/" + string(horse)), "the trend sheet": owner.Get("/horse/" + string(horse) + "/trend"), "the vet's list": bea.Get("/vet"),
	}
	sheets := map[string]*webtest.Page{"the vet's sheet": owner.Get("/horse/" + string(horse) + "/vet"), "the link": site.Nobody().Get(link)}
	labels := map[string]bool{}
	for _, want := range trendObjects(t, string(text)) {
		label, tag := want["label"].(string), want["site"].(string)
		labels[label] = true
		for where, page := range sheets {
			says(t, where, page, row(tag, label))
		}
		if want["low"] == nil {
			continue
		}
		rate, low, high := shown(want["closing_mm_per_day"]), shown(want["low"]), shown(want["high"])
		line := fmt.Sprintf("Closing rate %s mm a day, interval %s to %s,", rate, low, high)
		for where, page := range pages {
			if where == "the vet's list" && label == "closing" {
				says(t, where, page, "") // it needs no vet
				continue
			}
			says(t, where, page, label)
			says(t, where, page, line)
		}
		for where, page := range sheets {
			says(t, where, page, fmt.Sprintf("%s mm a day (%s to %s)", rate, low, high))
		}
	}
	if !labels["closing"] || !labels["widening"] || !labels["too early to say"] {
		t.Errorf("the file shows only %v", labels)
	}
}

// row is how a line of the sheet's table begins and what it is judged.
func row(tag, label string) string { return tag + " upper cannon, outside (lateral) " + label }

func says(t *testing.T, where string, page *webtest.Page, words string) {
	t.Helper()
	if page.Status != 200 {
		t.Fatalf("%s answers %d", where, page.Status)
	}
	if text := strings.Join(strings.Fields(page.Text()), " "); !strings.Contains(text, words) {
		t.Errorf("%s does not say %q:\n%s", where, words, text)
	}
}

// shown writes a number of the command line as a page does.
func shown(v any) string {
	return strings.Replace(tracker.FormatFloat(v.(float64), 2, tracker.Point), "-", "\u2212", 1)
}

func actorOf(t *testing.T, site *webtest.Site, p *webtest.Person) care.Actor {
	t.Helper()
	actor, err := site.Care.Actor(t.Context(), p.Session())
	if err != nil {
		t.Fatal(err)
	}
	return actor
}

// play records one row of the file on its day.
func play(t *testing.T, site *webtest.Site, by care.Actor, horse tracker.HorseID, id tracker.SiteID, row []string) {
	t.Helper()
	day, err := tracker.ParseDate(row[1])
	if err != nil {
		t.Fatal(err)
	}
	site.Clock.Set(day.Time().Add(9 * time.Hour))
	if row[4] == "treatment" {
		err = site.Care.AddEvent(t.Context(), by, tracker.Event{ID: care.NewRecord(), Kind: tracker.TreatmentChange, Site: id})
	} else {
		length, _ := strconv.Atoi(row[2])
		width, _ := strconv.Atoi(row[3])
		check := tracker.Check{ID: care.NewRecord(), Subject: tracker.OfSite, Outcome: tracker.Looked, Site: id, SkinSeen: true, Signs: tracker.Signs{tracker.Exudate: 1},
			Size: tracker.Size{Answer: tracker.Measured, LengthMM: length, WidthMM: width, Method: tracker.Ruler}, Hash: row[1]}
		_, err = site.Care.Record(t.Context(), by, care.Entry{Check: check})
	}
	if err != nil {
		t.Fatal(row, err)
	}
}
