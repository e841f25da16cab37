package web_test

import (
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"github.com/go-chi/chi/v5"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ruledout/internal/casebook"
	"ruledout/web"
)

// wanted is who may do what, written down apart from the program's own table: the least role of each route.
var wanted = map[string]string{
	"GET /": "reader", "POST /": "reader", "GET /case/{id}": "reader", "GET /code/{issuer}/{code}": "reader", "GET /code/{code}": "reader",
	"GET /find": "reader", "GET /track": "reader",
	"POST /case/{id}/held": "contributor",
	"GET /sign-in":         "anybody", "POST /sign-in": "anybody", "GET /link/{token}": "anybody", "POST /link/{token}": "anybody",
	"POST /sign-out": "contributor", "GET /account": "contributor", "POST /account": "contributor",
	"GET /jobs": "contributor", "POST /jobs": "contributor", "GET /jobs/{id}": "contributor", "POST /jobs/{id}": "contributor",
	"POST /jobs/{id}/settle": "contributor", "POST /jobs/{id}/note": "contributor", "POST /jobs/{id}/labour": "contributor",
	"POST /jobs/{id}/part": "contributor", "POST /jobs/{id}/money": "contributor", "POST /jobs/{id}/member": "contributor",
	"POST /jobs/{id}/member/remove": "contributor", "POST /jobs/{id}/photo": "contributor", "GET /jobs/{id}/photo/{n}": "contributor",
	"GET /jobs/{id}/photo/{n}/small": "contributor", "POST /jobs/{id}/photo/{n}/delete": "contributor", "GET /jobs/{id}/print": "contributor",
	"GET /jobs/{id}/history": "contributor", "GET /jobs/{id}/close": "contributor", "POST /jobs/{id}/close": "contributor",
	"POST /jobs/{id}/share": "contributor", "POST /jobs/{id}/held": "contributor", "POST /jobs/{id}/delete": "contributor",
	"GET /contribute": "contributor", "POST /contribute": "contributor", "GET /mine": "contributor", "GET /draft/{id}": "contributor", "POST /draft/{id}": "contributor",
	"POST /draft/{id}/decide": "moderator", "GET /review": "moderator", "GET /terms": "moderator", "GET /duplicates": "moderator", "GET /duplicates/{a}/{b}": "moderator", "POST /duplicates/{a}/{b}/apart": "moderator", "POST /duplicates/{a}/{b}/merge": "moderator", "POST /draft/{id}/unmerge": "moderator", "POST /terms": "moderator",
	"GET /people": "administrator", "POST /people": "administrator", "POST /people/{name}": "administrator", "POST /people/erase/{sheet}": "administrator",
}

// concrete puts something into the places of a pattern.
func concrete(pattern string) string {
	return strings.NewReplacer("{id}", "w1", "{code}", "P1B77", "{issuer}", "halden", "{token}", "none", "{n}", "1", "{name}", "nobody", "{sheet}", "j1", "{a}", "w1", "{b}", "w2").Replace(pattern)
}

// Every route of the server stands in the table, and lets in exactly those whom the list above names, with and without a private workshop.
func TestPermissionTable(t *testing.T) {
	seen := map[string]bool{}
	for _, row := range web.RouteTable() {
		seen[row.Method+" "+row.Pattern] = true
	}
	for name := range wanted {
		assert.True(t, seen[name], "%s has a route", name)
	}
	for _, private := range []bool{false, true} {
		w := newWorkshop(t, web.Options{Private: private})
		people := map[string]*visitor{"reader": w.stranger(), "contributor": w.person("quill", casebook.Contributor),
			"moderator": w.person("fern", casebook.Moderator), "administrator": w.person("ash", casebook.Administrator)}
		rank := map[string]int{"anybody": 0, "reader": 0, "contributor": 1, "moderator": 2, "administrator": 3}
		for _, row := range web.RouteTable() {
			name := row.Method + " " + row.Pattern
			least, listed := wanted[name]
			require.True(t, listed, "%s is listed above", name)
			for role, v := range people {
				if name == "POST /sign-out" && role != "reader" {
					continue // it ends the session; TestSigningOut
				}
				may := rank[role] >= rank[least]
				if private && role == "reader" {
					may = least == "anybody"
				}
				status, to := v.still(row.Method, concrete(row.Pattern))
				what := fmt.Sprintf("%s as %s, private: %v: %d %s", name, role, private, status, to)
				switch {
				case may:
					assert.NotEqual(t, http.StatusUnauthorized, status, what)
					assert.NotEqual(t, http.StatusForbidden, status, what)
					if least != "anybody" {
						assert.False(t, strings.HasPrefix(to, "/sign-in"), what)
					}
				case role == "reader" && row.Method == http.MethodGet:
					assert.Equal(t, http.StatusSeeOther, status, what)
					assert.True(t, strings.HasPrefix(to, "/sign-in?to="), what)
				case role == "reader":
					assert.Equal(t, http.StatusUnauthorized, status, what)
				default:
					assert.Equal(t, http.StatusForbidden, status, what)
				}
			}
		}
	}
}

// No route is served that stands in no table.
func TestNoRouteBesideTheTable(t *testing.T) {
	router, err := web.RouterOf(book(t))
	require.NoError(t, err)
	var served []string
	require.NoError(t, chi.Walk(router, func(method, pattern string, _ http.Handler, _ ...func(http.Handler) http.Handler) error {
		if pattern != "/static/*" {
			served = append(served, method+" "+pattern)
		}
		return nil
	}))
	var listed []string
	for name := range wanted {
		listed = append(listed, name)
	}
	assert.ElementsMatch(t, listed, served)
}

// A job sheet is its members' alone: others get the same answer as for one that is not there, on every route.
func TestNobodyElseGetsAtASheet(t *testing.T) {
	w := newWorkshop(t, web.Options{})
	quill := w.person("quill", casebook.Contributor)
	made := quill.post("/jobs", url.Values{"name": {"white van of mine"}})
	require.Equal(t, http.StatusOK, made.status)
	sheets, err := w.book.Sheets(t.Context(), casebook.Actor{Name: "quill", Role: casebook.Contributor})
	require.NoError(t, err)
	require.Len(t, sheets, 1)
	for _, other := range []*visitor{w.person("fern", casebook.Moderator), w.person("ash", casebook.Administrator)} {
		for _, row := range web.RouteTable() {
			if !strings.HasPrefix(row.Pattern, "/jobs/{id}") {
				continue
			}
			path := strings.NewReplacer("{id}", sheets[0].ID, "{n}", "1").Replace(row.Pattern)
			var p page
			if row.Method == http.MethodGet {
				p = other.get(path)
			} else {
				p = other.post(path, url.Values{"name": {"taken over"}, "note": {"x"}, "minutes": {"5"}, "part": {"x"}, "member": {other.name}, "sure": {"yes"}, "share": {"submit"},
					"held": {"no"}, "revision": {"1"}, "was": {"1"}, "mine": {"{}"}, "as": {"went away"}, "do": {"close"}})
			}
			assert.Contains(t, []int{http.StatusNotFound, http.StatusBadRequest}, p.status, row.Method+" "+path+" as "+other.name)
			p.lacks(t, "white van of mine")
		}
	}
	after, err := w.book.Sheet(t.Context(), casebook.Actor{Name: "quill", Role: casebook.Contributor}, sheets[0].ID)
	require.NoError(t, err)
	assert.Equal(t, sheets[0].Revision, after.Revision)
	assert.Equal(t, []string{"quill"}, after.Members)
	assert.Empty(t, after.Notes)
}
