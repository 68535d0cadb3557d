package web

import (
	"cmp"
	"regexp"
	"strings"
)

// What browsers and systems call themselves in User-Agent. Nearly all also name another, so the first that is found
// counts.
var (
	browserMarks = [][2]string{{"Edg", "Edge"}, {"OPR/", "Opera"}, {"SamsungBrowser/", "Samsung Internet"}, {"FxiOS/", "Firefox"}, {"Firefox/", "Firefox"},
		{"CriOS/", "Chrome"}, {"Chrome/", "Chrome"}, {"Safari/", "Safari"}}
	systemMarks = [][2]string{{"iPhone", "iPhone"}, {"iPad", "iPad"}, {"Android", "Android"}, {"Windows", "Windows"}, {"CrOS", "ChromeOS"}, {"Mac OS X", "Mac"}, {"Linux", "Linux"}}
)

// phoneModel finds which phone it is, where an Android phone says so: a newer one gives K for every model.
var phoneModel = regexp.MustCompile(`Android [\d.]+; ([^;)]{2,40}?)( Build/[^)]*)?\)`)

// deviceName says in plain words what somebody is signed in on: "Firefox on Linux". What no browser calls itself stays
// as it is.
func deviceName(agent string) string {
	browser, system := marked(browserMarks, agent), marked(systemMarks, agent)
	if browser == "" && system == "" {
		return cmp.Or(agent, "a device")
	}
	name := cmp.Or(browser, "a browser") + " on " + cmp.Or(system, "a device")
	if model := phoneModel.FindStringSubmatch(agent); model != nil {
		name += " (" + model[1] + ")"
	}
	return name
}

func marked(marks [][2]string, agent string) string {
	for _, m := range marks {
		if strings.Contains(agent, m[0]) {
			return m[1]
		}
	}
	return ""
}
