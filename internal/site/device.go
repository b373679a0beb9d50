package site

import "strings"

// device says in words at what somebody is signed in, as the browser names itself:
// enough to know one's own by, no more.
func device(agent string) string {
	program := first(agent, "a browser", [][2]string{
		{"Firefox/", "Firefox"}, {"FxiOS/", "Firefox"}, {"Edg", "Edge"}, {"OPR/", "Opera"}, {"CriOS/", "Chrome"}, {"Chrome/", "Chrome"}, {"Safari/", "Safari"},
	})
	on := first(agent, "", [][2]string{
		{"iPhone", "an iPhone"}, {"iPad", "an iPad"}, {"Android", "Android"}, {"Windows", "Windows"}, {"CrOS", "ChromeOS"}, {"Mac OS", "a Mac"}, {"Linux", "Linux"},
	})
	if on == "" {
		return program
	}
	return program + " on " + on
}

// first gives the word of the first mark that a text holds.
func first(text, none string, marks [][2]string) string {
	for _, m := range marks {
		if strings.Contains(text, m[0]) {
			return m[1]
		}
	}
	return none
}
