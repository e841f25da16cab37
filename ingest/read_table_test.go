package ingest_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ruledout/ingest"
)

var jobColumns = map[string]string{"id": "Ident", "found": "problem", "done": "Action", "date": "Day", "author": "Who"}

func TestReadTable(t *testing.T) {
	tests := map[string]string{
		"comma":      "Ident,Day,Problem,Action,Who,Private\n17,2020-05-03,\"Runs dry, E6\",Replaced foot valve,quill_9,secret\n18,2020-05-10,Hums,\"Said \"\"stuck\"\"\nand freed it\",brassnut,secret\n",
		"semicolon":  "Ident;Day;Problem;Action;Who;Private\n17;2020-05-03;Runs dry, E6;Replaced foot valve;quill_9;secret\n18;2020-05-10;Hums;\"Said \"\"stuck\"\"\nand freed it\";brassnut;secret\n",
		"tab":        "Ident\tDay\tProblem\tAction\tWho\tPrivate\n17\t2020-05-03\tRuns dry, E6\tReplaced foot valve\tquill_9\tsecret\n18\t2020-05-10\tHums\t\"Said \"\"stuck\"\"\nand freed it\"\tbrassnut\tsecret\n",
		"with a BOM": "\ufeffIdent,Day,Problem,Action,Who,Private\r\n17,2020-05-03,\"Runs dry, E6\",Replaced foot valve,quill_9,secret\r\n18,2020-05-10,Hums,\"Said \"\"stuck\"\"\nand freed it\",brassnut,secret\r\n",
	}
	for name, data := range tests {
		t.Run(name, func(t *testing.T) {
			threads, err := ingest.Read(ingest.File{Name: "jobs/2020.csv", Data: []byte(data)}, ingest.Options{Columns: jobColumns, Licence: "CC0-1.0"})
			require.NoError(t, err)
			require.Len(t, threads, 2)
			checkThreads(t, threads)
			row := threads[0]
			assert.Equal(t, ingest.KindRow, row.Kind)
			assert.Equal(t, "CC0-1.0", row.Licence)
			assert.Regexp(t, `^row:2020:[0-9a-f]{16}/17$`, row.Key)
			require.Len(t, row.Posts, 1)
			post := row.Posts[0]
			assert.Equal(t, "17\n2020-05-03\nquill_9\nRuns dry, E6\nReplaced foot valve", post.Text)
			assert.Equal(t, "quill_9", post.Author)
			assert.Equal(t, time.Date(2020, 5, 3, 0, 0, 0, 0, time.UTC), post.Time)
			var fields []string
			for _, r := range post.Regions {
				assert.Equal(t, ingest.RegionField, r.Kind)
				fields = append(fields, r.Name+"="+post.Text[r.Start:r.End])
			}
			assert.Equal(t, []string{"id=17", "date=2020-05-03", "author=quill_9", "found=Runs dry, E6", "done=Replaced foot valve"}, fields)
			assert.Contains(t, threads[1].Posts[0].Text, `Said "stuck" and freed it`)
		})
	}
}

func TestReadTableInOurOwnWords(t *testing.T) {
	threads, err := ingest.Read(ingest.File{Name: "a.csv", Data: []byte("Found,Done,Other\nhums,freed it,x\n")}, ingest.Options{})
	require.NoError(t, err)
	assert.Equal(t, "hums\nfreed it", threads[0].Posts[0].Text)
}

func TestReadTableWithoutIDCountsRows(t *testing.T) {
	threads, err := ingest.Read(ingest.File{Name: "a.csv", Data: []byte("p,a\nx1,y1\n,\nx3,y3\n")}, ingest.Options{Columns: map[string]string{"found": "p", "done": "a"}})
	require.NoError(t, err)
	require.Len(t, threads, 2, "an empty row says nothing")
	assert.Regexp(t, `/1$`, threads[0].Key)
	assert.Regexp(t, `/3$`, threads[1].Key)
}

func TestReadTableKeysTellTablesApart(t *testing.T) {
	read := func(name, data string) string {
		threads, err := ingest.Read(ingest.File{Name: name, Data: []byte(data)}, ingest.Options{Columns: map[string]string{"id": "id", "found": "p"}})
		require.NoError(t, err)
		return threads[0].Key
	}
	key := read("x/a.csv", "id,p\n1,old text\n")
	assert.Equal(t, key, read("y/a.csv", "id,p\n1,new text\n"), "a row read again is the same write-up")
	assert.NotEqual(t, key, read("b.csv", "id,p\n1,old text\n"))
	assert.NotEqual(t, key, read("a.csv", "id,p,q\n1,old text,\n"))
}

func TestReadTableErrors(t *testing.T) {
	tests := []struct {
		name, data, want string
		columns          map[string]string
	}{
		{"missing column", "Ident,Problem\n1,x\n", `jobs.csv:1: done: no column "Action"; there are: Ident, Problem`, map[string]string{"done": "Action"}},
		{"no mapping", "Ident,Problem\n1,x\n", "jobs.csv:1: a table needs to be told which columns hold what; it has: Ident, Problem", nil},
		{"open quote", "p\nx\n\"y\n", "jobs.csv:3: broken table", map[string]string{"found": "p"}},
		{"short row", "p,q\nx,y\nz\n", "jobs.csv:3: the row has 1 columns, the header has 2", map[string]string{"found": "p"}},
		{"too many rows", "p\na\nb\nc\nd\n", "jobs.csv:5: too many rows: the limit is 3", map[string]string{"found": "p"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			_, err := ingest.Read(ingest.File{Name: "jobs.csv", Data: []byte(tt.data)}, ingest.Options{Columns: tt.columns, MaxPosts: 3})
			assert.ErrorContains(t, err, tt.want)
		})
	}
}

func FuzzReadTable(f *testing.F) {
	f.Add("p;a\n\"x\";y\n")
	f.Add("p\ta\nring Orla Pendlewick on 07700 900123\t1M8GDM9AXKP042788\n")
	f.Fuzz(func(t *testing.T, data string) {
		threads, err := ingest.Read(ingest.File{Name: "f.csv", Data: []byte(data)}, ingest.Options{Columns: map[string]string{"found": "p", "id": "a"}})
		if err == nil {
			checkThreads(t, threads)
		}
	})
}
