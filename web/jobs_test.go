package web_test

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"
	"pgregory.net/rapid"

	"ruledout/internal/casebook"
	"ruledout/kb"
	"ruledout/web"
)

// job begins a job sheet from a look-up and gives its path.
func (v *visitor) job(words string) string {
	look := v.post("/", url.Values{"q": {words}})
	p := v.post("/jobs", look.fieldsOf("/"))
	require.Equal(v.t, http.StatusOK, p.status)
	path := firstNode(p.root, func(n *html.Node) bool { return attr(n, "id") == "job" })
	require.NotNil(v.t, path)
	return attr(path, "action")
}

const jobWords = "P1B77 on a Halden Brisk 3 2019, 81200 km. No cabin heat. Replaced the heater fuse, no change"

// sheetAt gives the sheet of a path as the book has it.
func (w *workshop) sheetAt(name, path string) casebook.Sheet {
	s, err := w.book.Sheet(w.t.Context(), casebook.Actor{Name: name, Role: casebook.Contributor}, strings.TrimPrefix(path, "/jobs/"))
	require.NoError(w.t, err)
	return s
}

// A look-up becomes a sheet; what is added to it re-ranks and is there when one comes back.
func TestAJobSheetFromALookUp(t *testing.T) {
	w := newWorkshop(t, web.Options{})
	quill := w.person("quill", casebook.Contributor)
	path := quill.job(jobWords)
	p := quill.get(path)
	p.holds(t, "Repairs on record")
	before := shareOf(t, p, "heater relay")
	f := p.fieldsOf(path)
	assert.Equal(t, "81200 km", f.Get("odometer"))
	f.Set("mark", "pass|coil resistance|heater relay")
	p = quill.post(path, f)
	require.Equal(t, http.StatusOK, p.status)
	assert.Less(t, shareOf(t, p, "heater relay"), before)
	s := w.sheetAt("quill", path)
	require.Len(t, s.Case.Tests, 1)
	assert.Equal(t, kb.Test{Step: s.Case.Tests[0].Step, Test: "coil resistance", Method: s.Case.Tests[0].Method, Component: "heater relay", Result: kb.Pass}, s.Case.Tests[0])
	assert.Greater(t, s.Case.Tests[0].Step, s.Case.Fixes[0].Step, "what is added comes after what was there")
	assert.Equal(t, int64(2), s.Revision)
	assert.Equal(t, http.StatusOK, quill.get("/jobs").status)
	quill.get("/jobs").holds(t, "Halden Brisk 3 2019, P1B77, 2024-03-01")

	f = p.fieldsOf(path)
	f.Set("q", "measured 12.4 V at the heater relay supply")
	f.Set("customer", "Orla Finch, the bakery")
	p = quill.post(path, f)
	require.Equal(t, http.StatusOK, p.status)
	assert.Equal(t, "Orla Finch, the bakery", w.sheetAt("quill", path).Customer)
	require.Len(t, w.sheetAt("quill", path).Case.Tests, 2, "words are read into facts")
}

// What cannot be read stays in its field with what is wrong, and the rest is saved; a form that may not be saved at all comes back whole.
func TestNothingTypedOnASheetIsLost(t *testing.T) {
	w := newWorkshop(t, web.Options{})
	quill := w.person("quill", casebook.Contributor)
	path := quill.job(jobWords)
	f := quill.get(path).fieldsOf(path)
	f["test"][0], f["result"][0], f["reading"][0] = "coil resistance of heater relay", "", "84 bananas"
	f["fix"][len(f["fix"])-1] = "frobnicate the relay"
	f.Set("variant", "long wheelbase")
	p := quill.post(path, f)
	assert.Equal(t, http.StatusUnprocessableEntity, p.status)
	p.holds(t, "is no unit that is known")
	got := p.fieldsOf(path)
	assert.Contains(t, got["reading"], "84 bananas")
	assert.Contains(t, got["fix"], "frobnicate the relay")
	assert.Equal(t, "long wheelbase", w.sheetAt("quill", path).Case.Machine.Variant, "the rest is saved")
	got["reading"][slices.Index(got["reading"], "84 bananas")] = "84 ohm limit 75 to 95 ohm"
	got["fix"][slices.Index(got["fix"], "frobnicate the relay")] = "clean heater relay"
	p = quill.post(path, got)
	assert.Equal(t, http.StatusOK, p.status)
	p.holds(t, "conforms: within 75 to 95 ohm")
	s := w.sheetAt("quill", path)
	assert.Len(t, s.Case.Tests, 1)
	assert.Len(t, s.Case.Fixes, 2)

	f = p.fieldsOf(path)
	f.Set("name", "")
	f.Set("customer", "somebody with <b>odd</b> letters")
	f.Set("year", "9")
	p = quill.post(path, f)
	assert.Equal(t, http.StatusBadRequest, p.status)
	p.holds(t, "nothing was saved")
	assert.Equal(t, "somebody with <b>odd</b> letters", p.fieldsOf(path).Get("customer"))
	assert.Equal(t, "9", p.fieldsOf(path).Get("year"))
	assert.Empty(t, w.sheetAt("quill", path).Customer)
}

// A form that is sent as it came changes nothing, whatever the case holds that the form does not show.
func TestASheetsFormLosesNothing(t *testing.T) {
	w := newWorkshop(t, web.Options{})
	quill := w.person("quill", casebook.Contributor)
	by := casebook.Actor{Name: "quill", Role: casebook.Contributor}
	rapid.Check(t, func(rt *rapid.T) {
		made, err := w.book.NewSheet(t.Context(), by, drawCase(rt), "a job")
		require.NoError(rt, err)
		path := "/jobs/" + made.ID
		p := quill.post(path, quill.get(path).fieldsOf(path))
		require.Equal(rt, http.StatusOK, p.status)
		after := w.sheetAt("quill", path)
		require.Equal(rt, made.Case, after.Case)
		require.Equal(rt, int64(1), after.Revision)
	})
}

func drawCase(t *rapid.T) kb.Case {
	c := kb.Case{V: kb.Version, Status: kb.Open, Machine: kb.Machine{Make: "Halden", Model: "Brisk 3", Kind: rapid.SampledFrom([]string{"", "van"}).Draw(t, "kind"),
		Year: rapid.SampledFrom([]int{0, 2019}).Draw(t, "year"), Variant: rapid.SampledFrom([]string{"", "long wheelbase"}).Draw(t, "variant")}}
	if rapid.Bool().Draw(t, "driven") {
		c.Machine.Odometer = &kb.Measure{Value: float64(rapid.IntRange(0, 400_000).Draw(t, "odometer")), Unit: rapid.SampledFrom([]string{"km", "mi"}).Draw(t, "unit")}
		c.Machine.Hours = new(rapid.Float64Range(0, 1e5).Draw(t, "hours"))
		c.Machine.VIN = &kb.VINFacts{Region: "Europe", ModelYear: 2019}
	}
	if rapid.Bool().Draw(t, "coded") {
		c.Codes = []kb.CodeEntry{{Code: "P1B77-13", Status: kb.Pending, SetAgain: new(true)}}
	}
	if rapid.Bool().Draw(t, "noticed") {
		c.Symptoms = []kb.Symptom{{Symptom: "no cabin heat", Absent: rapid.Bool().Draw(t, "absent"), Conditions: []string{"cold"}}}
	}
	for i := range rapid.IntRange(0, 3).Draw(t, "tests") {
		x := kb.Test{Step: rapid.IntRange(0, 9).Draw(t, fmt.Sprint("step", i)), Test: rapid.SampledFrom([]string{"coil resistance", "", "click = test"}).Draw(t, fmt.Sprint("test", i)),
			Component: "heater relay", Minutes: 7, Result: rapid.SampledFrom(kb.Results()).Draw(t, fmt.Sprint("result", i)), Where: rapid.SampledFrom([]kb.Where{"", kb.Bench, kb.InPlace}).Draw(t, fmt.Sprint("where", i))}
		if rapid.Bool().Draw(t, fmt.Sprint("read", i)) {
			x.Reading = &kb.Reading{Value: new(84.0), Unit: "ohm", Text: "84 R", Bound: kb.Equal, Accuracy: "1 %", Limit: &kb.Limit{Low: new(75.0), High: new(95.0), Unit: "ohm", Source: "the maker's sheet"}}
			if rapid.Bool().Draw(t, fmt.Sprint("unjudged", i)) {
				x.Result = ""
			}
		}
		c.Tests = append(c.Tests, x)
	}
	for i := range rapid.IntRange(0, 2).Draw(t, "fixes") {
		c.Fixes = append(c.Fixes, kb.Fix{Step: rapid.IntRange(0, 9).Draw(t, fmt.Sprint("at", i)), Action: kb.Replace, Component: "thing we call X", Minutes: 30,
			Outcome: rapid.SampledFrom(kb.Outcomes()).Draw(t, fmt.Sprint("outcome", i)), Part: &kb.Part{Number: "4711", Origin: kb.UsedPart}, PartsCost: &kb.Money{Amount: "12.50", Currency: "EUR"}})
	}
	return c
}

// Two people who change different things both get theirs in; where both changed one thing, both versions are shown and one chooses.
func TestTwoOnOneSheet(t *testing.T) {
	w := newWorkshop(t, web.Options{})
	quill, fern := w.person("quill", casebook.Contributor), w.person("fern", casebook.Contributor)
	path := quill.job(jobWords)
	assert.Equal(t, http.StatusNotFound, fern.get(path).status)
	p := quill.post(path+"/member", url.Values{"member": {"nobody"}})
	assert.Equal(t, http.StatusNotFound, p.status)
	assert.Equal(t, "nobody", p.fieldsOf(path+"/member").Get("member"))
	quill.post(path+"/member", url.Values{"member": {"fern"}})

	his, hers := quill.get(path).fieldsOf(path), fern.get(path).fieldsOf(path)
	his.Set("customer", "the bakery")
	hers.Set("variant", "long wheelbase")
	assert.Equal(t, http.StatusOK, quill.post(path, his).status)
	assert.Equal(t, http.StatusOK, fern.post(path, hers).status, "different fields are joined")
	s := w.sheetAt("quill", path)
	assert.Equal(t, "the bakery", s.Customer)
	assert.Equal(t, "long wheelbase", s.Case.Machine.Variant)

	his, hers = quill.get(path).fieldsOf(path), fern.get(path).fieldsOf(path)
	his.Set("mark", "pass|coil resistance|heater relay")
	his.Set("name", "the bakery's van")
	hers.Set("mark", "fail|continuity|heater wiring harness")
	hers.Set("name", "white van")
	assert.Equal(t, http.StatusOK, quill.post(path, his).status)
	p = fern.post(path, hers)
	require.Equal(t, http.StatusConflict, p.status)
	for _, want := range []string{"Changed by two at once", "white van", "the bakery&#39;s van", "coil resistance of heater relay", "continuity of heater wiring harness"} {
		p.holds(t, want)
	}
	settle := p.fieldsOf(path + "/settle")
	delete(settle, "take case.tests")
	p = fern.post(path+"/settle", settle)
	assert.Equal(t, http.StatusConflict, p.status, "nobody chose a name")
	p.holds(t, "both of you changed it")
	settle.Set("take name", "mine")
	settle.Set("take case.tests", "both")
	p = fern.post(path+"/settle", settle)
	require.Equal(t, http.StatusOK, p.status)
	s = w.sheetAt("quill", path)
	assert.Equal(t, "white van", s.Name)
	require.Len(t, s.Case.Tests, 2)
	assert.Equal(t, "the bakery", s.Customer)

	quill.post(path+"/note", url.Values{"note": {"ordered a relay"}}).holds(t, "ordered a relay")
	h := fern.get(path + "/history")
	h.holds(t, "Revision 4")
	h.holds(t, "Name of the job")
	quill.post(path+"/member/remove", url.Values{"name": {"fern"}})
	assert.Equal(t, http.StatusNotFound, fern.get(path).status)
}

// The version that was chosen from is looked at again: who saves meanwhile is asked once more, and loses nothing.
func TestSettlingAMovedSheet(t *testing.T) {
	w := newWorkshop(t, web.Options{})
	quill := w.person("quill", casebook.Contributor)
	path := quill.job(jobWords)
	a, b := quill.get(path).fieldsOf(path), quill.get(path).fieldsOf(path)
	a.Set("name", "first")
	b.Set("name", "second")
	quill.post(path, a)
	p := quill.post(path, b)
	require.Equal(t, http.StatusConflict, p.status)
	settle := p.fieldsOf(path + "/settle")
	settle.Set("take name", "mine")
	third := quill.get(path).fieldsOf(path)
	third.Set("name", "third")
	quill.post(path, third)
	p = quill.post(path+"/settle", settle)
	require.Equal(t, http.StatusConflict, p.status)
	p.holds(t, "third")
	p.holds(t, "second")
	assert.Equal(t, "third", w.sheetAt("quill", path).Name)
}

func picture(t *testing.T) []byte {
	img := image.NewRGBA(image.Rect(0, 0, 40, 30))
	img.Set(3, 4, color.RGBA{200, 10, 10, 255})
	var b bytes.Buffer
	require.NoError(t, png.Encode(&b, img))
	return b.Bytes()
}

func TestPhotosOnASheet(t *testing.T) {
	w := newWorkshop(t, web.Options{})
	quill := w.person("quill", casebook.Contributor)
	path := quill.job(jobWords)
	p := quill.upload(path+"/photo", "photo", "relay.png", picture(t), map[string]string{"caption": "burnt <contact>"})
	require.Equal(t, http.StatusOK, p.status)
	p.holds(t, `alt="burnt &lt;contact&gt;"`)
	small := quill.get(path + "/photo/1/small")
	assert.Equal(t, "image/jpeg", small.header.Get("Content-Type"))
	assert.Contains(t, strings.Join(small.header.Values("Cache-Control"), ","), "no-store")
	assert.Equal(t, http.StatusOK, quill.get(path+"/photo/1").status)
	bad := quill.upload(path+"/photo", "photo", "x.png", []byte("no picture at all"), map[string]string{"caption": "my words"})
	assert.Equal(t, http.StatusBadRequest, bad.status)
	bad.holds(t, "is no JPEG or PNG picture")
	assert.Equal(t, "my words", bad.fieldsOf(path+"/photo").Get("caption"))
	none := quill.post(path+"/photo", url.Values{"caption": {"x"}})
	assert.Equal(t, http.StatusBadRequest, none.status)
	big := quill.upload(path+"/photo", "photo", "big.jpg", bytes.Repeat([]byte{0xff, 0xd8, 0xff}, 8<<20), nil)
	assert.Equal(t, http.StatusBadRequest, big.status)
	big.holds(t, "larger than")
	quill.post(path+"/photo/1/delete", nil).lacks(t, "burnt")
	assert.Equal(t, http.StatusNotFound, quill.get(path+"/photo/1").status)
}

// Time and parts add up; entries can be put right; what cannot be read comes back.
func TestTheEstimate(t *testing.T) {
	w := newWorkshop(t, web.Options{})
	quill := w.person("quill", casebook.Contributor)
	path := quill.job(jobWords)
	quill.post(path+"/labour", url.Values{"minutes": {"1:30"}, "what": {"searching"}}).holds(t, "1.5 h so far")
	p := quill.post(path+"/part", url.Values{"part": {"heater relay"}, "price": {"12.50 EUR"}, "quantity": {"2"}, "origin": {"used"}})
	p.holds(t, "25.00 EUR")
	money := p.fieldsOf(path + "/money")
	assert.Equal(t, []string{"90"}, money["minutes"])
	money.Set("rate", "60 EUR/h")
	p = quill.post(path+"/money", money)
	require.Equal(t, http.StatusOK, p.status)
	p.holds(t, "115.00 EUR") // 1.5 h at 60 and two relays at 12.50
	money = p.fieldsOf(path + "/money")
	money["price"][0] = "twelve"
	bad := quill.post(path+"/money", money)
	assert.Equal(t, http.StatusBadRequest, bad.status)
	assert.Equal(t, "twelve", bad.fieldsOf(path+"/money").Get("price"))
	bad = quill.post(path+"/labour", url.Values{"minutes": {"an hour"}, "what": {"waiting"}})
	assert.Equal(t, http.StatusBadRequest, bad.status)
	assert.Equal(t, "waiting", bad.fieldsOf(path+"/labour").Get("what"))
	money["minutes"][0] = ""
	money["price"][0] = "12.50 EUR"
	quill.post(path+"/money", money).holds(t, "25.00 EUR")
	assert.Empty(t, w.sheetAt("quill", path).Labour)
	sheet := quill.get(path + "/print")
	for _, want := range []string{"Estimate for the customer", "2", "heater relay", "used", "To do, in this order", "☐ passed"} {
		sheet.holds(t, want)
	}
}

// What work costs here is kept with the job, and its steps come with their costs; what cannot be read of it stays as typed.
func TestCostsOnASheet(t *testing.T) {
	w := newWorkshop(t, web.Options{})
	quill := w.person("quill", casebook.Contributor)
	path := quill.job(jobWords)
	f := quill.get(path).fieldsOf(path)
	f.Set("plan-rate", "60 EUR/h")
	f.Set("plan-handover", "a lot")
	f["plan-have"] = []string{"heater relay"}
	p := quill.post(path, f)
	assert.Equal(t, http.StatusUnprocessableEntity, p.status)
	assert.Equal(t, "a lot", p.fieldsOf(path).Get("plan-handover"))
	assert.Contains(t, p.fieldsOf(path)["plan-have"], "heater relay")
	f = p.fieldsOf(path)
	f.Set("plan-handover", "250 EUR")
	p = quill.post(path, f)
	require.Equal(t, http.StatusOK, p.status)
	p.holds(t, "is the expected cost of the whole")
	s := w.sheetAt("quill", path)
	assert.Equal(t, &kb.Money{Amount: "60", Currency: "EUR"}, s.Rate)
	assert.Equal(t, []string{"heater relay"}, s.Plan.Have)
	quill.get(path).holds(t, "is the expected cost of the whole")
}

// A job is closed with what fixed it and how that was proved; nothing of it counts before it is submitted and accepted; later it has held.
func TestFromTheSheetToTheCase(t *testing.T) {
	w := newWorkshop(t, web.Options{})
	quill, fern := w.person("quill", casebook.Contributor), w.person("fern", casebook.Moderator)
	path := quill.job(jobWords)
	f := quill.get(path).fieldsOf(path)
	f.Set("customer", "Orla Finch")
	quill.post(path, f)
	asked := url.Values{"q": {"P1B77 on a Halden Brisk 3 2019. No cabin heat."}}
	before := w.stranger().post("/", asked).body

	closing := quill.get(path + "/close").fieldsOf(path + "/close")
	assert.Equal(t, "30", closing.Get("days"))
	p := quill.post(path+"/close", closing)
	assert.Equal(t, http.StatusBadRequest, p.status)
	p.holds(t, "say what fixed it")
	closing.Set("cure", "gibberish")
	closing["proof"][0], closing["result"][0] = "road test of heater", "pass"
	p = quill.post(path+"/close", closing)
	assert.Equal(t, http.StatusUnprocessableEntity, p.status)
	closing = p.fieldsOf(path + "/close")
	assert.Equal(t, "gibberish", closing.Get("cure"))
	assert.Contains(t, closing["proof"], "road test of heater")
	closing.Set("cure", "repair heater wiring harness")
	closing.Set("origin", "own")
	closing.Set("number", "H-77 4411")
	closing.Set("cost", "3.20 EUR")
	closing.Set("share", "submit")
	closing.Set("km", "1000")
	closing.Set("do", "look")
	p = quill.post(path+"/close", closing)
	p.holds(t, "This is what others would see")
	p.lacks(t, "Orla Finch")
	assert.Nil(t, w.sheetAt("quill", path).Closed, "looking closes nothing")
	closing.Set("do", "close")
	p = quill.post(path+"/close", closing)
	require.Equal(t, http.StatusOK, p.status)
	p.holds(t, "Submitted as case")
	s := w.sheetAt("quill", path)
	assert.Equal(t, kb.Verified, s.Case.Confirmation)
	assert.Equal(t, "2024-03-31", s.Reminder.Date)
	assert.InDelta(t, 82200, s.Reminder.Odometer.Value, 0)
	assert.Equal(t, before, w.stranger().post("/", asked).body, "a draft counts for nobody")
	assert.Equal(t, http.StatusNotFound, w.stranger().get("/case/"+string(s.CaseID)).status)

	_, err := w.book.Accept(t.Context(), casebook.Actor{Name: "fern", Role: casebook.Moderator}, s.CaseID, "")
	require.NoError(t, err)
	assert.NotEqual(t, before, w.stranger().post("/", asked).body)
	c := fern.get("/case/" + string(s.CaseID))
	c.holds(t, "H-77 4411")
	c.lacks(t, "Orla Finch")

	early := quill.post(path+"/held", url.Values{"held": {"yes"}, "note": {"all warm"}})
	assert.Equal(t, http.StatusConflict, early.status)
	assert.Equal(t, "all warm", early.fieldsOf(path+"/held").Get("note"))
	w.now = w.now.AddDate(0, 1, 1)
	quill.get("/jobs").holds(t, "to be asked now")
	quill.post(path+"/held", url.Values{"held": {"yes"}, "odometer": {"83000 km"}}).holds(t, "the repair has held")
	fern.get("/case/"+string(s.CaseID)).holds(t, "2024-04-02 held")
	fern.post("/case/"+string(s.CaseID)+"/held", url.Values{"held": {"no"}, "note": {"back after a month, jo.smith@example.org"}}).holds(t, "returned")
	c = w.stranger().get("/case/" + string(s.CaseID))
	c.lacks(t, "jo.smith")
	c.holds(t, "Does not count as evidence")
	c.lacks(t, "It has held</button>")
}

// The sheet with much on it stays light, script and style included.
func TestSheetWeight(t *testing.T) {
	w := newWorkshop(t, web.Options{})
	quill := w.person("quill", casebook.Contributor)
	w.account("fern", casebook.Contributor)
	path := fullSheet(t, quill)
	f := quill.get(path).fieldsOf(path)
	f.Set("plan-rate", "60 EUR/h")
	p := quill.post(path, f)
	shared := len(quill.get("/static/style.css").body) + len(quill.get("/static/again.js").body)
	for _, x := range []page{p, quill.get(path + "/close"), quill.get(path + "/print"), quill.get(path + "/history")} {
		assert.Less(t, len(x.body)+shared, 60_000)
	}
	t.Logf("job sheet %d bytes, style and script %d", len(p.body), shared)
}

// Closing asks again when somebody changed the sheet meanwhile, with all that was typed.
func TestClosingAChangedSheet(t *testing.T) {
	w := newWorkshop(t, web.Options{})
	quill := w.person("quill", casebook.Contributor)
	path := quill.job(jobWords)
	closing := quill.get(path + "/close").fieldsOf(path + "/close")
	f := quill.get(path).fieldsOf(path)
	f.Set("variant", "long wheelbase")
	quill.post(path, f)
	closing.Set("done", "0")
	closing.Set("origin", "used")
	closing.Set("number", "F-15")
	closing.Set("coding", "no")
	p := quill.post(path+"/close", closing)
	require.Equal(t, http.StatusConflict, p.status)
	p.holds(t, "changed this sheet meanwhile (Machine)")
	closing.Set("revision", p.fieldsOf(path+"/close").Get("revision"))
	quill.post(path+"/close", closing).holds(t, "What fixed it")
	s := w.sheetAt("quill", path)
	assert.Equal(t, kb.Fixed, s.Case.Fixes[0].Outcome, "a repair of the sheet was it")
	assert.Len(t, s.Case.Fixes, 1)
	assert.Equal(t, &kb.Part{Number: "F-15", Origin: kb.UsedPart, NeedsCoding: new(false)}, s.Case.Fixes[0].Part)
	assert.Equal(t, kb.Reported, s.Case.Confirmation)
	quill.post(path+"/share", url.Values{"share": {"publish"}}).holds(t, "may not publish at once")
	quill.post(path+"/share", url.Values{"share": {"submit"}}).holds(t, "It was submitted as case")
}

func TestDeletingASheet(t *testing.T) {
	w := newWorkshop(t, web.Options{})
	quill, ash := w.person("quill", casebook.Contributor), w.person("ash", casebook.Administrator)
	path := quill.job(jobWords)
	assert.Equal(t, http.StatusBadRequest, quill.post(path+"/delete", nil).status)
	quill.post(path+"/delete", url.Values{"sure": {"yes"}})
	assert.Equal(t, http.StatusNotFound, quill.get(path).status)
	path = quill.job(jobWords)
	id := strings.TrimPrefix(path, "/jobs/")
	people := ash.get("/people")
	people.holds(t, id)
	people.lacks(t, "Brisk")
	assert.Equal(t, http.StatusBadRequest, ash.post("/people/erase/"+id, nil).status)
	ash.post("/people/erase/"+id, url.Values{"sure": {"yes"}})
	assert.Equal(t, http.StatusNotFound, quill.get(path).status)
}

// Hostile and odd input in every field of a sheet is shown as text and breaks nothing.
func TestHostileInputOnASheet(t *testing.T) {
	w := newWorkshop(t, web.Options{})
	quill := w.person("quill", casebook.Contributor)
	path := quill.job(jobWords)
	for _, evil := range []string{`<script>alert(1)</script>`, `"><img src=x onerror=alert(1)>`, "\x00\xff\xfe", strings.Repeat("x ", 9000), "{{.}}", "-1", "1e999", "NaN"} {
		for _, to := range []string{"", "/settle", "/note", "/labour", "/part", "/money", "/member", "/close", "/share", "/held"} {
			f := url.Values{}
			for _, name := range []string{"revision", "name", "customer", "q", "kind", "make", "model", "year", "variant", "odometer", "hours", "code", "code-status", "symptom", "there", "test", "test-was",
				"test-step", "where", "result", "reading", "fix", "fix-was", "fix-step", "outcome", "mark", "note", "minutes", "what", "date", "who", "part", "number", "quantity", "price", "origin",
				"coding", "rate", "member", "as", "cure", "cost", "proof", "days", "km", "share", "done", "held", "mine", "was", "do"} {
				f.Set(name, evil)
			}
			if to == "" {
				f.Set("revision", "1")
			}
			p := quill.post(path+to, f)
			assert.Less(t, p.status, 500, "%s %.20q", to, evil)
			p.lacks(t, "<script>alert")
			p.lacks(t, "<img src=x")
		}
	}
}
