package site

import (
	"bytes"

	"github.com/gin-gonic/gin"

	"boltward/internal/account"
	"boltward/internal/drive"
	"boltward/internal/workbook"
)

// peopleFile handles GET /drives/:drive/people/people.csv: the list as it is looked
// at, all of its rows, with contacts for those who may read them.
func (s *Site) peopleFile(c *gin.Context) error {
	list := s.listing(c, peopleSorts()...)
	query := s.peopleQuery(c, &list)
	query.Limit, query.Offset = 0, 0
	found, err := s.db.People(c.Request.Context(), s.driveID(c), query)
	if err != nil {
		return err
	}
	contacts := map[int64]drive.Contacts{}
	may := s.may(c, account.Contacts, account.Read)
	if may {
		if contacts, err = s.db.ContactsOf(c.Request.Context(), s.driveID(c)); err != nil {
			return err
		}
	}
	lines := make([]workbook.PersonLine, len(found.People))
	for i, p := range found.People {
		lines[i] = workbook.PersonLine{Person: p.Person, Contacts: contacts[p.Number], Kits: p.Kits, Cases: p.Cases, Done: p.Done, Minutes: p.Minutes}
	}
	var file bytes.Buffer
	if err := workbook.WritePeople(&file, lines, may); err != nil {
		return err
	}
	return s.file(c, s.driveID(c)+"-people.csv", "text/csv; charset=utf-8", file.Bytes())
}
