package web

import (
	"testing"

	"github.com/jba/templatecheck"
)

// pageTypes is the struct that each page is drawn from.
var pageTypes = map[string]any{
	"board": BoardPage{}, "bottle": BottlePage{}, "mix": MixPage{}, "mixed": MixedPage{}, "sum": SumPage{}, "product": ProductPage{}, "stores": StoresPage{}, "card": CardPage{}, "caution": CautionPage{}, "check": ChecksPage{}, "conflicts": ConflictsPage{}, "fail": FailPage{},
	"horse": HorsePage{}, "horses": HorsesPage{}, "link": LinkPage{}, "more": MorePage{}, "people": PeoplePage{}, "round": RoundPage{},
	"rules": RulesPage{}, "signin": SignInPage{}, "trend": TrendPage{}, "spread": SpreadPage{}, "caution-rules": CautionRulesPage{}, "healing-rules": HealingRulesPage{}, "vet": VetPage{}, "sheet": SheetPage{}, "whole": WholePage{}, "leg": LegPage{}, "vetlink": VetLinkPage{},
	"plans": PlansPage{}, "plan": PlanPage{}, "plan-form": PlanFormPage{}, "plan-preview": PlanPreviewPage{}, "due": DuePage{}, "week-sheet": WeekSheetPage{},
	"reminders": RemindersPage{}, "reminder": ReminderPage{}, "remindme": RemindMePage{}, "remindrules": RemindRulesPage{}, "message": MessagePage{},
	"no-signal": NoSignalPage{}, "paper": PaperPage{}, "phone": PhonePage{}, "strip": StripPage{},
}

// Every field and method that a template names is there, on branches that no request takes too.
func TestTemplatesFitTheirStructs(t *testing.T) {
	h, err := New(nil, Settings{})
	if err != nil {
		t.Fatal(err)
	}
	for name, set := range h.pages.byName {
		page, known := pageTypes[name]
		if !known {
			t.Errorf("%s: say in pageTypes which struct the page is drawn from", name)
			continue
		}
		if err := templatecheck.CheckHTML(set, page); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
	for name := range pageTypes {
		if h.pages.byName[name] == nil {
			t.Errorf("%s: there is no such page", name)
		}
	}
}

// The check above finds a field that is not there.
func TestTemplateCheckIsAwake(t *testing.T) {
	h, err := New(nil, Settings{})
	if err != nil {
		t.Fatal(err)
	}
	if err := templatecheck.CheckHTML(h.pages.byName["round"], MorePage{}); err == nil {
		t.Error("the round's template was found to fit a struct without horses")
	}
}
