package ingest

import (
	"net/url"
	"path"
	"regexp"
	"strconv"
	"strings"
)

var (
	// trackingQuery are parameters that say how somebody came to a page or looks at it, never which page it is.
	trackingQuery = regexp.MustCompile(`(?i)^(?:utm_.*|\w*clid|ref|ref_src|source|sid|\w*sess(?:ion)?id|highlight|sort|order|share)$`)
	pagingQuery   = regexp.MustCompile(`(?i)^(?:page|pagenumber|pg|p|start|offset|st)$`)
	// placeQuery are parameters that say where a thread stands, not which one it is.
	placeQuery   = regexp.MustCompile(`(?i)^(?:f|fid|forum|board|cat|category|c|lang|do|action|view)$`)
	sessionValue = regexp.MustCompile(`(?i)^[0-9a-f]{16,}$`)
	pageInPath   = regexp.MustCompile(`(?i)(?:[-_/]page[-_/]?|/p)(\d{1,5})(/?|\.\w{3,5})$`)
)

// address is the address of a page, taken apart.
type address struct {
	thread string // of its thread: without what does not belong to its identity
	page   int    // number of the page, 0 if it has none; of "start=40" it is 41: no number of a page, but as good for their order
}

// readAddress takes an address apart: fragment, tracking and page number do not belong to the identity of the thread; mail
// addresses are masked. Without an address of the web both are empty.
func readAddress(raw string) address {
	u, err := url.Parse(strings.TrimSpace(raw))
	if err != nil || u.Host == "" || u.Scheme != "http" && u.Scheme != "https" {
		return address{}
	}
	var a address
	u.Host = strings.TrimSuffix(strings.TrimSuffix(strings.ToLower(u.Host), ":80"), ":443")
	u.Fragment, u.RawFragment, u.User = "", "", nil
	q := u.Query()
	kept := url.Values{}
	for name, values := range q {
		value := q.Get(name)
		switch {
		case trackingQuery.MatchString(name), name == "s" && sessionValue.MatchString(value), len(findEmails(strings.Join(values, " "))) > 0:
		case pagingQuery.MatchString(name) && pages(u.Path, q, name):
			n := number(value)
			if name := strings.ToLower(name); name == "start" || name == "offset" || name == "st" {
				n++
			}
			a.page = max(a.page, n)
		default:
			kept[name] = values
		}
	}
	u.RawQuery = kept.Encode()
	if m := pageInPath.FindStringSubmatchIndex(u.Path); m != nil {
		a.page = max(a.page, number(group(u.Path, m, 1)))
		u.Path = u.Path[:m[0]] + strings.Trim(group(u.Path, m, 2), "/")
	}
	if finds := findEmails(u.Path); len(finds) > 0 {
		u.Path, _ = Mask(u.Path)
	}
	u.RawPath = ""
	if u.Path == "/" {
		u.Path = ""
	}
	a.thread = u.String()
	return a
}

func canonicalURL(raw string) string { return readAddress(raw).thread }

// pages tells whether a parameter is the number of a page. "p" is the number of a post where nothing else tells which thread it is.
func pages(in string, q url.Values, name string) bool {
	if n, err := strconv.Atoi(q.Get(name)); err != nil || n < 0 || len(q.Get(name)) > 5 {
		return false
	}
	if !strings.EqualFold(name, "p") {
		return true
	}
	for other := range q {
		if other != name && !trackingQuery.MatchString(other) && !pagingQuery.MatchString(other) && !placeQuery.MatchString(other) {
			return true
		}
	}
	base := path.Base(in)
	return base != "/" && base != "." && path.Ext(base) == ""
}
