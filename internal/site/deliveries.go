package site

import (
	"context"
	"fmt"
	"net/http"
	"strings"

	"github.com/gin-gonic/gin"

	"boltward/internal/drive"
)

// deliveriesPage is what can be packed, what waits in boxes and what was sent,
// by recipient.
type deliveriesPage struct {
	Problems   map[string]string
	Packing    []packFor
	Sending    []sendTo
	Deliveries []deliveryLine
	Older      string // the address of those before the last
	Good       int
	Boxed      int
	Differ     int // deliveries whose counts differ
}

func (deliveriesPage) template() string { return "deliveries.html" }
func (deliveriesPage) title() string    { return "Deliveries" }

// deliveries handles GET /drives/:drive/deliveries.
func (s *Site) deliveries(c *gin.Context) error {
	return s.deliveriesWith(c, http.StatusOK, sendTo{})
}

// deliveriesWith shows the page; a form that was refused stands as it was typed.
func (s *Site) deliveriesWith(c *gin.Context, status int, sent sendTo) error {
	ctx, driveID := c.Request.Context(), s.driveID(c)
	p := deliveriesPage{Problems: map[string]string{}}
	err := s.db.Together(ctx,
		func(ctx context.Context) (err error) { p.Packing, err = s.packing(ctx, driveID); return err },
		func(ctx context.Context) error { return s.fillSending(ctx, c, &p, sent) },
		func(ctx context.Context) error { return s.fillSent(ctx, c, &p) })
	if err != nil {
		return err
	}
	for _, pack := range p.Packing {
		p.Good += pack.Good()
	}
	return s.page(c, status, p)
}

// names gives the names of recipients and of sizes by their numbers.
func (s *Site) names(ctx context.Context, driveID string) (recipients, sizes map[int64]string, err error) {
	var who []drive.Recipient
	var what []drive.Size
	err = s.db.Together(ctx,
		func(ctx context.Context) (err error) { who, err = s.db.Recipients(ctx, driveID); return err },
		func(ctx context.Context) (err error) { what, err = s.db.Sizes(ctx, driveID); return err })
	if err != nil {
		return nil, nil, err
	}
	recipients, sizes = map[int64]string{}, map[int64]string{}
	for _, r := range who {
		recipients[r.Number] = r.Name
	}
	for _, z := range what {
		sizes[z.Number] = z.Name
	}
	return recipients, sizes, nil
}

// holds says in words what lies in a box: 6 standard, 2 queen.
func holds(b drive.Box, sizes map[int64]string) string {
	var words []string
	for _, z := range b.BySize() {
		words = append(words, fmt.Sprintf("%d %s", z.N, sizes[z.Size]))
	}
	return strings.Join(words, ", ")
}
