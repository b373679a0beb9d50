package site

import (
	"context"
	"fmt"
	"net/http"

	"github.com/gin-gonic/gin"

	"boltward/internal/drive"
	"boltward/internal/postgres"
)

// mostOffered is how many donors a form offers before anything is typed; with
// scripts the others are found as somebody types.
const mostOffered = 300

// donorsFound are donors that may be meant by what is typed, and what is to be
// said about the name as it stands.
type donorsFound struct {
	Names []string `json:"names"`
	Said  string   `json:"said"`
}

// findDonors handles GET /drives/:drive/fabric/donors.json?q=: donors as somebody types.
func (s *Site) findDonors(c *gin.Context) error {
	donors, err := s.db.KnownDonors(c.Request.Context(), s.driveID(c), 0)
	if err != nil {
		return err
	}
	c.Header("Cache-Control", "no-store")
	c.JSON(http.StatusOK, findDonors(donors, clean(c.Query("q"))))
	return nil
}

func findDonors(donors []postgres.KnownDonor, typed string) donorsFound {
	found := donorsFound{Names: drive.NamesLike(donorNames(donors), typed, 8)}
	if found.Names == nil {
		found.Names = []string{}
	}
	if typed == "" || drive.NoDonor(typed) {
		if typed != "" {
			found.Said = "Nobody known."
		}
		return found
	}
	for _, d := range donors {
		if drive.SameName(d.Name, typed) {
			found.Said = "Known: gave " + counted(d.Lots, "lot", "lots") + " before."
			return found
		}
	}
	found.Said = "New: a donor of this name is added."
	if len(found.Names) > 0 {
		found.Said = fmt.Sprintf("New, unless you mean %s.", found.Names[0])
	}
	return found
}

// offered gives the donors that a form offers, those who gave most first.
func (s *Site) offered(ctx context.Context, driveID string) ([]string, error) {
	donors, err := s.db.KnownDonors(ctx, driveID, mostOffered)
	return donorNames(donors), err
}

func donorNames(donors []postgres.KnownDonor) []string {
	names := make([]string, len(donors))
	for i, d := range donors {
		names[i] = d.Name
	}
	return names
}
