package store

// sheets sees that the revisions of every job sheet are gapless and end with the current one, and that somebody can open it.
func (v *verifier) sheets() error {
	return each(v.q, func(row scanner) error {
		var id string
		var revision, count, last, members int64
		if err := row.Scan(&id, &revision, &count, &last, &members); err != nil {
			return err
		}
		if count != revision || last != revision {
			v.report("job sheet "+id, "is at revision %d, but there are %d, the last of them %d", revision, count, last)
		}
		if members == 0 {
			v.report("job sheet "+id, "has no member")
		}
		return nil
	}, `SELECT s.id, s.revision, (SELECT count(*) FROM sheet_revisions r WHERE r.sheet = s.id),
		(SELECT coalesce(max(r.revision), 0) FROM sheet_revisions r WHERE r.sheet = s.id),
		(SELECT count(*) FROM sheet_members m WHERE m.sheet = s.id) FROM sheets s ORDER BY s.id`)
}
