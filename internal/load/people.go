package main

import (
	"context"
	"fmt"
	"io"
	"math/rand/v2"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"sync"
	"time"
)

// How long people think between one page and the next, at pace 1.
const (
	helperThinks    = 6 * time.Second
	volunteerThinks = 40 * time.Second
)

// wanted is how many pages a second people ask for at pace 1, if no answer took time.
func (c crew) wanted() float64 {
	return float64(len(c.helpers))/helperThinks.Seconds() + float64(len(c.volunteers))/volunteerThinks.Seconds()
}

// person is somebody at work: at a table, or at home with a link.
type person struct {
	client *http.Client
	at     string // the web process they came to
	link   string // of a volunteer: /v/…
	kit    string
	n      int    // pages so far
	form   string // the form on the page they have before them, and its key
	key    string
}

// visit is one page or one form of a kind; the kind is its route.
type visit struct {
	kind, path string
	send       url.Values // nil for a page
}

const atDrive = "/drives/" + driveID

// next gives what somebody does next: a page, the form on it, and on.
func (p *person) next() visit {
	p.n++
	if p.link != "" {
		switch p.n % 3 {
		case 1:
			return visit{"/v/:token", p.link, nil}
		case 2:
			return visit{"/v/:token/kits/:kit", p.link + "/kits/" + p.kit, nil}
		}
		if strings.Contains(p.form, "/take-back/") {
			return visit{"POST /v/:token/kits/:kit/take-back/:report", p.form, url.Values{}}
		}
		return visit{"POST /v/:token/kits/:kit/finished", p.link + "/kits/" + p.kit + "/finished", url.Values{"finished": {fmt.Sprint(1 + p.n/3%5)}}}
	}
	day := time.Now().Format(time.DateOnly)
	switch p.n % 10 {
	case 1:
		return visit{"/drives/:drive/fabric/tag", atDrive + "/fabric/tag", nil}
	case 2, 4:
		return visit{"POST /drives/:drive/fabric/tag", atDrive + "/fabric/tag", url.Values{"donor": {fmt.Sprintf("Giver %d", rand.IntN(200))}, "pieces": {"1"}, "received_on": {day}}}
	case 3:
		return visit{"/drives/:drive/fabric/tag", atDrive + "/fabric/tag", nil}
	case 5, 7:
		return visit{"/drives/:drive/back", atDrive + "/back", nil}
	case 6, 8:
		return visit{"POST /drives/:drive/back/loose", atDrive + "/back/loose", url.Values{"size": {"1"}, "n": {fmt.Sprint(1 + rand.IntN(4))}}}
	case 9:
		return []visit{
			{"/drives/:drive/needs", atDrive + "/needs", nil},
			{"/drives/:drive/kits", atDrive + "/kits", nil},
			{"/drives/:drive/people", atDrive + "/people", nil},
			{"/drives/:drive/asked", atDrive + "/asked", nil},
			{"/drives/:drive/deliveries", atDrive + "/deliveries", nil},
		}[p.n/10%5]
	}
	return visit{"/drives/:drive/fabric", atDrive + "/fabric", nil}
}

// visiting makes a visit and gives the page, its size, and what went wrong.
type visiting func(context.Context, *person, visit) (page string, size int, err error)

var (
	aKey    = regexp.MustCompile(`name="once" value="([^"]+)"`)
	aTag    = regexp.MustCompile(`(<[^>]*>|\s)+`)
	aReport = regexp.MustCompile(`action="(/v/[^"]+/take-back/\d+)"`)
)

// visit asks the program. A form goes off with the key of its page.
func (h *hall) visit(ctx context.Context, p *person, v visit) (string, int, error) {
	method := http.MethodGet
	if v.send != nil {
		method = http.MethodPost
		v.send.Set("once", p.key)
	}
	status, page, err := p.ask(ctx, method, p.at+v.path, v.send)
	if err == nil && status >= http.StatusBadRequest || v.send != nil && err == nil && status != http.StatusSeeOther {
		err = fmt.Errorf("status %d: %.300s", status, aTag.ReplaceAllString(page[max(0, strings.Index(page, "<main")):], " "))
	}
	if v.send == nil {
		p.key, p.form = found(aKey, page), found(aReport, page)
	}
	return page, len(page), err
}

func found(what *regexp.Regexp, page string) string {
	if m := what.FindStringSubmatch(page); m != nil {
		return m[1]
	}
	return ""
}

// ask sends one request and follows nothing.
func (p *person) ask(ctx context.Context, method, to string, form url.Values) (int, string, error) {
	var body io.Reader
	if form != nil {
		body = strings.NewReader(form.Encode())
	}
	request, err := http.NewRequestWithContext(ctx, method, to, body)
	if err != nil {
		return 0, "", err
	}
	if form != nil {
		request.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		request.Header.Set("Sec-Fetch-Site", "same-origin")
	}
	answer, err := p.client.Do(request)
	if err != nil {
		return 0, "", err
	}
	defer answer.Body.Close()
	text, err := io.ReadAll(answer.Body)
	return answer.StatusCode, string(text), err
}

// work lets everybody work for a while, so many times as fast as people do. A visit
// that is under way at the end is not counted.
func (c crew) work(ctx context.Context, pace float64, lasts time.Duration, t *tally, visit visiting) {
	working, cancel := context.WithTimeout(ctx, lasts)
	defer cancel()
	var all sync.WaitGroup
	for _, group := range []struct {
		people []*person
		thinks time.Duration
	}{{c.helpers, helperThinks}, {c.volunteers, volunteerThinks}} {
		for _, p := range group.people {
			all.Go(func() {
				for first := true; ; first = false {
					// From half to one and a half of it, so that nobody walks in step.
					think := time.Duration(float64(group.thinks) / pace * (.5 + rand.Float64()))
					if first { // they are in the midst of it
						think = time.Duration(float64(think) * rand.Float64())
					}
					select {
					case <-working.Done():
						return
					case <-time.After(think):
					}
					v := p.next()
					begun := time.Now()
					_, size, err := visit(ctx, p, v)
					if ctx.Err() != nil {
						return
					}
					t.add(v.kind, time.Since(begun), size, err)
				}
			})
		}
	}
	all.Wait()
}

// double is the same people at the same points of their work, for the bare handler.
func (c crew) double() (d crew) {
	for _, p := range c.helpers {
		d.helpers = append(d.helpers, &person{client: &http.Client{Timeout: time.Minute, Transport: &http.Transport{MaxIdleConnsPerHost: 2}}, n: p.n})
	}
	for _, p := range c.volunteers {
		d.volunteers = append(d.volunteers, &person{client: &http.Client{Timeout: time.Minute, Transport: &http.Transport{MaxIdleConnsPerHost: 2}}, n: p.n, link: p.link, kit: p.kit})
	}
	return d
}
