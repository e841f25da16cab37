package store

import "strconv"

// LimitPages makes the database full once it has so many pages, as a full disk would.
func (s *Store) LimitPages(n int) error {
	_, err := s.write.Exec(`PRAGMA max_page_count = ` + strconv.Itoa(n))
	return err
}
