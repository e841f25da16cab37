package ingest_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ruledout/ingest"
)

// mailbox is a small mailing-list archive: the answer to the answer stands in front of what it answers, as happens where
// clocks are wrong.
const mailbox = `From quill@lantern.example Sun May 03 10:00:00 2020
From: "Quill N." <quill@lantern.example>
To: pumps@lists.lantern.example
Subject: [pumps] Runs dry
Date: Sun, 03 May 2020 10:00:00 +0100
Message-ID: <1@lantern.example>
List-Id: Pump people <pumps.lists.lantern.example>
Content-Type: text/plain; charset=utf-8

Hello all,

The pump runs dry after ten minutes and the display shows code E6, which
the book calls "no flow".

Quill

_______________________________________________
pumps mailing list
to leave the list write to leave-pumps@lists.lantern.example

From nut@lantern.example Sun May 03 09:00:00 2020
From: =?iso-8859-1?Q?Br=E4ss_Nut?= <nut@lantern.example>
Subject: Re: [pumps] Runs dry
Date: Sun, 03 May 2020 09:00:00 +0100
Message-ID: <2@lantern.example>
In-Reply-To: <1@lantern.example>
Content-Type: multipart/alternative; boundary="zz"

--zz
Content-Type: text/plain; charset=iso-8859-1
Content-Transfer-Encoding: quoted-printable

On Sun, 3 May 2020 at 10:00, Quill N. <quill@lantern.example>
wrote:
> The pump runs dry after ten minutes

Foot valve, f=FCr sure. It is
always the foot valve.
--=20
Nut
12 Mill Lane, Wexby
--zz
Content-Type: text/html

<p>Foot valve</p>
--zz--

From quill@lantern.example Sun May 10 10:00:00 2020
From: quill@lantern.example (Quill N.)
Subject: Re: [pumps] Runs dry
Date: Sun, 10 May 2020 10:00:00 +0100
Message-ID: <3@lantern.example>
References: <1@lantern.example> <2@lantern.example>
Content-Transfer-Encoding: base64
Content-Type: text/plain; charset=utf-8

QnLDpHNzIE51dCB3cm90ZToKPiBRdWlsbCBOLiB3cm90ZToKPj4gVGhlIHB1bXAgcnVucyBkcnkg
YWZ0ZXIgdGVuIG1pbnV0ZXMKPiBGb290IHZhbHZlLCBmw7xyIHN1cmUuCgpTdHVjayBpdCB3YXMu
CiAtIG5ldyB2YWx2ZQogLSBuZXcgc3RyYWluZXIK

From other@lantern.example Mon May 11 10:00:00 2020
From: Other
Subject: Gasket sizes
Date: Mon, 11 May 2020 10:00:00 +0100
Message-ID: <4@lantern.example>

>From the book: 12 mm.
`

func TestReadMailbox(t *testing.T) {
	threads, err := ingest.Read(ingest.File{Name: "pumps.mbox", Data: []byte(mailbox)}, ingest.Options{})
	require.NoError(t, err)
	require.Len(t, threads, 2)
	checkThreads(t, threads)
	talk := threads[0]
	assert.Equal(t, "Runs dry", talk.Title)
	assert.Equal(t, "Pump people", talk.Site)
	require.Len(t, talk.Posts, 3)
	assert.Equal(t, "Quill N.: Hello all, / The pump runs dry after ten minutes and the display shows code E6, which the book calls \"no flow\". / Quill", shown(talk)[0])
	second := talk.Posts[1]
	assert.Equal(t, "Bräss Nut", second.Author)
	assert.Equal(t, []string{"On Sun, 3 May 2020 at 10:00, Quill N. <" + ingest.Veil + "> wrote: / The pump runs dry after ten minutes"}, regionsOf(second, ingest.RegionQuote))
	assert.Equal(t, "Quill N.", second.Regions[0].Author)
	assert.Contains(t, second.Text, "Foot valve, für sure.")
	assert.Equal(t, []string{"Nut / " + ingest.Veil}, regionsOf(second, ingest.RegionSignature))
	third := talk.Posts[2]
	assert.Equal(t, []string{"- new valve", "- new strainer"}, regionsOf(third, ingest.RegionItem))
	require.Len(t, regionsOf(third, ingest.RegionQuote), 2)
	assert.Equal(t, []string{"Bräss Nut", "Quill N."}, []string{third.Regions[0].Author, third.Regions[1].Author})
	assert.Equal(t, "Quill N. wrote:\nThe pump runs dry after ten minutes", third.Text[third.Regions[1].Start:third.Regions[1].End])
	assert.Equal(t, "Gasket sizes", threads[1].Title)
}

func TestReadSingleMail(t *testing.T) {
	thread := readOne(t, "one.eml", "Received: from x\nFrom: nut@lantern.example\nSubject: Relay\nDate: Mon, 1 Mar 2021 08:00:00 +0000\nArchived-At: <https://Lists.lantern.example/m/9#x>\n\nRelay replaced, fixed.\n")
	assert.Equal(t, []string{"nut: Relay replaced, fixed."}, shown(thread))
	assert.Equal(t, "https://lists.lantern.example/m/9", thread.Key)
	assert.Equal(t, ingest.KindArticle, thread.Kind)
}

func TestReadMailErrors(t *testing.T) {
	_, err := ingest.Read(ingest.File{Name: "bad.mbox", Data: []byte("From a Mon\nFrom: a\n\nfine\n\nFrom b Mon\nFrom: b\nno header here\n\ntext\n")}, ingest.Options{})
	assert.ErrorContains(t, err, "bad.mbox:7: broken mail")
	_, err = ingest.Read(ingest.File{Name: "many.mbox", Data: []byte(strings.Repeat("From a Mon\nFrom: a\nSubject: x\n\nfine\n\n", 4))}, ingest.Options{MaxPosts: 3})
	assert.ErrorContains(t, err, "too many posts: 4, the limit is 3")
}

func FuzzReadMail(f *testing.F) {
	f.Add(mailbox)
	f.Add("From: a\nSubject: =?utf-8?B?w6Q=?=\nContent-Type: multipart/mixed; boundary=b\n\n--b\nContent-Type: text/html\n\n<p>x\n--b--\n")
	f.Add("From a\nFrom: a\nContent-Transfer-Encoding: quoted-printable\nContent-Type: text/plain; charset=utf-16\n\n=FF=FE>\n>> x wrote:\n")
	f.Fuzz(func(t *testing.T, data string) {
		threads, err := ingest.Read(ingest.File{Name: "f.mbox", Data: []byte(data)}, ingest.Options{})
		if err == nil {
			checkThreads(t, threads)
		}
	})
}
