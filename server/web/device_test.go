package web

import "testing"

// The strings are of the forms that browsers document for themselves (MDN, "User-Agent header" and "Firefox user agent
// string reference"; chromium.org, "User-Agent Reduction"), from memory.
func TestDeviceName(t *testing.T) {
	const chrome = "AppleWebKit/537.36 (KHTML, like Gecko) Chrome/131.0.0.0 "
	for agent, want := range map[string]string{
		"Mozilla/5.0 (X11; Linux x86_64; rv:133.0) Gecko/20100101 Firefox/133.0":                                    "Firefox on Linux",
		"Mozilla/5.0 (X11; Linux x86_64) " + chrome + "Safari/537.36":                                               "Chrome on Linux",
		"Mozilla/5.0 (X11; CrOS x86_64 14541.0.0) " + chrome + "Safari/537.36":                                      "Chrome on ChromeOS",
		"Mozilla/5.0 (Windows NT 10.0; Win64; x64) " + chrome + "Safari/537.36 Edg/131.0.0.0":                       "Edge on Windows",
		"Mozilla/5.0 (Linux; Android 10; K) " + chrome + "Mobile Safari/537.36":                                     "Chrome on Android",
		"Mozilla/5.0 (Linux; Android 13; SM-G991B) " + chrome + "Mobile Safari/537.36":                              "Chrome on Android (SM-G991B)",
		"Mozilla/5.0 (Linux; Android 9; Moto G Build/PQ1A) AppleWebKit/537.36 SamsungBrowser/20.0 Chrome/106.0 ":    "Samsung Internet on Android (Moto G)",
		"Mozilla/5.0 (Android 14; Mobile; rv:133.0) Gecko/133.0 Firefox/133.0":                                      "Firefox on Android",
		"Mozilla/5.0 (iPhone; CPU iPhone OS 17_5 like Mac OS X) AppleWebKit/605.1.15 Version/17.5 Safari/604.1":     "Safari on iPhone",
		"Mozilla/5.0 (iPhone; CPU iPhone OS 17_5 like Mac OS X) AppleWebKit/605.1.15 CriOS/131.0 Safari/604.1":      "Chrome on iPhone",
		"Mozilla/5.0 (Macintosh; Intel Mac OS X 10_15_7) AppleWebKit/605.1.15 (KHTML) Version/17.5 Safari/605.1.15": "Safari on Mac",
		"Old phone of the tack room": "Old phone of the tack room",
		"":                           "a device",
	} {
		if got := deviceName(agent); got != want {
			t.Errorf("%q is named %q, want %q", agent, got, want)
		}
	}
}
