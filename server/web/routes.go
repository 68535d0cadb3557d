package web

import (
	"fmt"
	"net/http"
	"slices"
	"strings"
)

// route is one thing that can be asked for, and by whom.
type route struct {
	method string
	path   string
	access access
	do     answer
	upload bool // takes a photo
}

// most is how many bytes a post to the route may have.
func (r route) most() int64 {
	if r.upload {
		return mostUpload
	}
	return mostForm
}

// allRoutes is every route of the site. Nothing is answered that does not stand here.
func (h *Handler) allRoutes() []route {
	const get, post = http.MethodGet, http.MethodPost
	return slices.Concat(h.planRoutes(), h.reminderRoutes(), []route{
		{get, "/static/{hash}/*", anybody, h.asset, false},
		{get, "/sw.js", anybody, h.worker, false},
		{get, "/manifest.webmanifest", anybody, h.manifest, false},
		{get, "/no-signal", anybody, h.noSignal, false},
		{get, "/healthz", anybody, h.healthz, false},
		{get, "/readyz", anybody, h.readyz, false},
		{post, "/light", anybody, h.changeLight, false},
		{get, "/sign-in", anybody, h.signInPage, false},
		{post, "/sign-in", anybody, h.signIn, false},
		{get, "/link/{token}", anybody, h.linkPage, false},
		{post, "/link/{token}", anybody, h.useLink, false},
		{post, "/sign-out", members, h.signOut, false},

		{get, "/", members, h.board, false},
		{get, "/more", members, h.more, false},
		{get, "/round", members, h.round, false},
		{get, "/round/paper", members, h.paper, false},
		{post, "/round/leg", members, h.saving(legEntry), true},
		{post, "/round/site", members, h.saving(siteEntry), true},
		{post, "/round/undo", members, h.posted(h.undo), false},
		{get, "/phone", members, h.phone, false},
		{get, "/phone/pages", members, h.pagesForPhone, false},
		{post, "/photos", members, h.posted(h.savePhoto), true},
		{post, "/sites", members, h.posted(h.addSite), false},
		{post, "/sites/change", members, h.posted(h.changeSite), false},
		{post, "/events", members, h.posted(h.addEvent), false},
		{get, "/check/{record}", members, h.check, false},
		{get, "/photo/{photo}", members, h.photo(false), false},
		{get, "/photo/{photo}/thumb", members, h.photo(true), false},
		{get, "/horses", members, fresh(h.horses), false},
		{get, "/horse/{horse}/leg/{leg}", members, h.leg, false},
		{get, "/horse/{horse}/look", members, fresh(h.whole), false},
		{post, "/horse/{horse}/look", members, h.posted(h.saveWhole), false},
		{post, "/horses", members, h.posted(h.addHorse), false},
		{get, "/horse/{horse}", members, fresh(h.horse), false},
		{get, "/horse/{horse}/photos/{site}", members, h.strip, false},
		{post, "/horse/{horse}", members, h.posted(h.changeHorse), false},
		{get, "/caution/{caution}", members, fresh(h.caution), false},
		{post, "/caution/{caution}", members, h.posted(h.actOnCaution), false},
		{get, "/conflicts", members, h.conflicts, false},
		{post, "/conflicts/{conflict}", members, h.settleConflict, false},

		{get, "/mix", members, fresh(h.mix), false},
		{post, "/mix", members, h.posted(h.recordMix), false},
		{get, "/mix/sums", members, fresh(h.sums), false},
		{post, "/mix/sums", members, h.posted(h.recordPour), false},
		{get, "/mix/{mix}", members, fresh(h.mixed), false},
		{post, "/mix/{mix}", members, h.posted(h.actOnMix), false},
		{get, "/stores", members, fresh(h.stores), false},
		{post, "/stores/products", owners, h.posted(h.addProduct), false},
		{post, "/stores/measures", owners, h.posted(h.setMeasures), false},
		{get, "/stores/product/{product}", members, fresh(h.product), false},
		{post, "/stores/product/{product}", owners, h.posted(h.changeProduct), false},
		{post, "/stores/bottles", members, h.posted(h.addBottle), false},
		{get, "/stores/bottle/{bottle}", members, fresh(h.bottle), false},
		{post, "/stores/bottle/{bottle}", members, h.posted(h.actOnBottle), false},

		{get, "/people", members, h.people, false},
		{post, "/sessions/{session}/end", members, h.endSession, false},
		{post, "/people/invite", owners, h.posted(h.invite), false},
		{post, "/people/{person}/leave", owners, h.leaveYard, false},
		{post, "/links/{link}/stop", owners, h.posted(h.stopLink), false},
		{get, "/rules", members, fresh(h.rules), false},
		{post, "/rules", owners, h.posted(h.changeYard), false},
	})
}

// planRoutes are those of plans and of what is due.
func (h *Handler) planRoutes() []route {
	const get, post = http.MethodGet, http.MethodPost
	return []route{
		{get, "/horse/{horse}/plan", members, h.plans, false},
		{post, "/horse/{horse}/plan", owners, h.posted(h.postPlan), false},
		{get, "/horse/{horse}/plan/new", owners, h.newPlan, false},
		{get, "/plan/{plan}", members, fresh(h.plan), false},
		{get, "/plan/{plan}/change", owners, h.changePlan, false},
		{post, "/plan/{plan}/read", members, h.posted(h.readPlan), false},
		{post, "/plan/{plan}/confirm", owners, h.posted(h.confirmPlan), false},
		{post, "/plan/{plan}/stop", owners, h.posted(h.stopPlan), false},
		{get, "/due", members, h.due, false},
		{get, "/due/week", members, h.weekSheet, false},
		{post, "/due/tick", members, h.posted(h.tickOff), false},
		{post, "/due/undo", members, h.posted(h.undoTick), false},
		{post, "/due/once", members, h.posted(h.addOneOff), false},
		{post, "/away", members, h.posted(h.addAbsence), false},
		{post, "/away/{absence}/end", members, h.posted(h.endAbsence), false},
	}
}

// reminderRoutes are those of messages and of how people are reached.
func (h *Handler) reminderRoutes() []route {
	const get, post = http.MethodGet, http.MethodPost
	return []route{
		{get, "/message/{token}/on-it", anybody, h.messagePage("on-it"), false},
		{post, "/message/{token}/on-it", anybody, h.pressMessage("on-it"), false},
		{get, "/message/{token}/later", anybody, h.messagePage("later"), false},
		{post, "/message/{token}/later", anybody, h.pressMessage("later"), false},
		{get, "/message/{token}/stop", anybody, h.messagePage("stop"), false},
		{post, "/message/{token}/stop", anybody, h.stopMail, false},
		{get, "/calendar/{token}", anybody, h.feed, false},
		{get, "/reminders", members, fresh(h.reminders), false},
		{get, "/reminder/{reminder}", members, h.reminder, false},
		{post, "/reminder/{reminder}/again", members, h.sendAgain, false},
		{post, "/reminders/press", members, h.posted(h.pressRound), false},
		{post, "/reminders/skip", members, h.posted(h.skipRound), false},
		{get, "/reminders/me", members, fresh(h.remindMe), false},
		{post, "/reminders/me", members, h.posted(h.chooseReminders), false},
		{post, "/reminders/away", members, h.posted(h.goAway), false},
		{post, "/reminders/back", members, h.posted(h.comeBack), false},
		{post, "/reminders/test", members, h.posted(h.testMessage), false},
		{post, "/reminders/calendar", members, h.makeFeed, false},
		{post, "/reminders/calendar/stop", members, h.stopFeed, false},
		{post, "/reminders/webhook", members, h.posted(h.addWebhook), false},
		{post, "/reminders/webhook/prove", members, h.posted(h.proveWebhook), false},
		{post, "/reminders/drop", members, h.posted(h.dropWay), false},
		{get, "/push/key", members, h.pushKey, false},
		{post, "/push/subscribe", members, h.posted(h.subscribe), false},
		{get, "/reminders/rules", members, fresh(h.remindRules), false},
		{post, "/reminders/rules", owners, h.posted(h.changeRemindRules), false},
		{post, "/reminders/close", owners, h.posted(h.closeDays), false},
		{post, "/reminders/open", owners, h.posted(h.openDays), false},
	}
}

// Routes lists every route with who may ask for it, one a line, for the golden file that is reviewed.
func (h *Handler) Routes() string {
	var lines []string
	for _, r := range h.routes {
		lines = append(lines, fmt.Sprintf("%-4s %-28s %s", r.method, r.path, r.access))
	}
	slices.Sort(lines)
	return strings.Join(lines, "\n") + "\n"
}
