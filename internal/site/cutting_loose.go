package site

import (
	"net/http"

	"github.com/gin-gonic/gin"

	"boltward/internal/account"
	"boltward/internal/apperr"
	"boltward/internal/drive"
	"boltward/internal/postgres"
)

// loosePage lists the panels that lie cut and that no kit has any more.
type loosePage struct {
	Kits []looseKit
	N    int
	Plan int64 // the accepted plan whose change would sew from them, 0 where none stands
	May  bool
}

func (loosePage) template() string { return "cutting-loose.html" }
func (loosePage) title() string    { return "Loose panels" }

// looseKit is what is left of one kit.
type looseKit struct {
	Number int64
	Size   string
	Panels []postgres.LoosePanels
}

// loosePanels handles GET /drives/:drive/cutting/loose.
func (s *Site) loosePanels(c *gin.Context) error {
	list, err := s.db.LoosePanels(c.Request.Context(), s.driveID(c))
	if err != nil {
		return err
	}
	page := loosePage{May: s.may(c, account.Cutting, account.Write)}
	for _, p := range list {
		if n := len(page.Kits); n == 0 || page.Kits[n-1].Number != p.Kit {
			page.Kits = append(page.Kits, looseKit{Number: p.Kit, Size: p.Size})
		}
		k := &page.Kits[len(page.Kits)-1]
		k.Panels = append(k.Panels, p)
		page.N += p.N
	}
	if page.Plan, err = s.db.PlanToCut(c.Request.Context(), s.driveID(c), 0); err != nil && !apperr.Is(err, apperr.KindConflict) {
		return err
	}
	return s.page(c, http.StatusOK, page)
}

// loosePanelsGone handles POST …/cutting/loose/:kit/gone: they cannot be used.
func (s *Site) loosePanelsGone(c *gin.Context) error {
	ref, err := kitInPath(c)
	if err != nil {
		return err
	}
	if ref.Part != 1 {
		return apperr.NotFound("No panels of kit %s lie loose.", ref)
	}
	if _, err := s.db.LoosePanelsGone(c.Request.Context(), s.act(c), ref.Number); err != nil {
		return err
	}
	s.flash(c, "The panels of kit %s are left out from now on.", drive.KitName(ref.Number, 1))
	return s.seeOther(c, s.path(c, "cutting", "loose"))
}
