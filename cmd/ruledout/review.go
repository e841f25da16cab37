package main

import (
	"fmt"
	"io"
	"strings"

	"github.com/jedib0t/go-pretty/v6/table"
	"github.com/jedib0t/go-pretty/v6/text"
	"github.com/spf13/cobra"

	"ruledout/internal/casebook"
)

func (a *app) reviewCommand() *cobra.Command {
	var size, from int
	c := &cobra.Command{
		Use: "review", Short: "list the drafts that wait for review, most doubtful first", Args: args(cobra.NoArgs),
		Long: `Lists the drafts, and later readings of published cases, that wait for a moderator. Those with most open questions come first,
then those with the least certain fact (the lowest confidence of any). "show" tells the questions, "accept" publishes,
"sendback" returns a draft with a reason.`,
		RunE: func(c *cobra.Command, _ []string) error {
			return a.withBook(c.Context(), true, func(b *casebook.Book) error {
				q, err := b.Queue(c.Context(), size, from)
				if err != nil {
					return err
				}
				if a.json {
					return a.printJSON(q)
				}
				printQueue(a.stdout, q)
				return nil
			})
		},
	}
	c.Flags().IntVar(&size, "size", 20, "how many (0: all)")
	c.Flags().IntVar(&from, "from", 0, "how many to pass over")
	a.jsonFlag(c, "print the list as JSON")
	return c
}

func printQueue(w io.Writer, q casebook.Queue) {
	if q.Total == 0 {
		fmt.Fprintln(w, "nothing waits for review")
		return
	}
	t := table.NewWriter()
	t.SetStyle(plainStyle())
	t.AppendHeader(table.Row{"case", "doubts", "least sure", ""})
	for _, x := range q.Waiting {
		sure, what := "", headline(x.Case)
		if x.Lowest > 0 {
			sure = fmt.Sprintf("%.2f", x.Lowest)
		}
		if x.Later {
			what = "later reading: " + what
		}
		t.AppendRow(table.Row{x.ID, x.Doubts, sure, what})
	}
	t.SetColumnConfigs([]table.ColumnConfig{{Number: 2, Align: text.AlignRight}, {Number: 3, Align: text.AlignRight, AlignHeader: text.AlignRight}, {Number: 4, WidthMax: 80}})
	for line := range strings.Lines(t.Render()) {
		fmt.Fprintln(w, strings.TrimRight(line, " \n"))
	}
	fmt.Fprintf(w, "%s of %d waiting; %s in all\n", count(len(q.Waiting), "case"), q.Total, count(q.Doubts, "doubt"))
}
