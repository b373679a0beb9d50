package site

import (
	"io"

	"github.com/gin-gonic/gin"

	"boltward/internal/drive"
	"boltward/internal/postgres"
	"boltward/internal/workbook"
)

// askedFile handles GET /drives/:drive/asked/asked.csv: the lines as they are looked at.
func (s *Site) askedFile(c *gin.Context) error {
	list, show := s.askedLookedAt(c)
	ctx, driveID := c.Request.Context(), s.driveID(c)
	recipients, err := s.db.Recipients(ctx, driveID)
	if err != nil {
		return err
	}
	lines, err := s.db.AskedLines(ctx, driveID)
	if err != nil {
		return err
	}
	groups := groupAsked(recipients, lines, nil, list.Q, show, s.today(c))
	sortAsked(groups, list.Sort, list.Desc)
	var rows []drive.AskedLine
	for _, g := range groups {
		for _, row := range g.Lines {
			rows = append(rows, row.AskedLine)
		}
	}
	return s.written(c, driveID+"-asked.csv", asText, func(w io.Writer) error { return workbook.WriteAsked(w, rows) })
}

// deliveriesFile handles GET /drives/:drive/deliveries/deliveries.csv: all of them.
func (s *Site) deliveriesFile(c *gin.Context) error {
	ctx, driveID := c.Request.Context(), s.driveID(c)
	list, err := s.db.Deliveries(ctx, driveID, postgres.DeliveriesQuery{})
	if err != nil {
		return err
	}
	names, _, err := s.names(ctx, driveID)
	if err != nil {
		return err
	}
	rows := make([]workbook.DeliveryLine, len(list))
	for i, d := range list {
		rows[i] = workbook.DeliveryLine{Delivery: d, For: names[d.Recipient]}
	}
	return s.written(c, driveID+"-deliveries.csv", asText, func(w io.Writer) error { return workbook.WriteDeliveries(w, rows) })
}

// suppliesFile handles GET /drives/:drive/fabric/supplies/supplies.csv.
func (s *Site) suppliesFile(c *gin.Context) error {
	list, kits, err := s.db.Supplies(c.Request.Context(), s.driveID(c))
	if err != nil {
		return err
	}
	return s.written(c, s.driveID(c)+"-supplies.csv", asText, func(w io.Writer) error { return workbook.WriteSupplies(w, list, kits) })
}

// stocktakesFile handles GET /drives/:drive/fabric/stocktakes/stocktakes.csv.
func (s *Site) stocktakesFile(c *gin.Context) error {
	list, err := s.db.Stocktakes(c.Request.Context(), s.driveID(c))
	if err != nil {
		return err
	}
	rows := make([]workbook.StocktakeLine, len(list))
	for i, t := range list {
		rows[i] = workbook.StocktakeLine{Stocktake: t.Stocktake, By: t.ByName, Lots: t.Lots, Differ: t.Differ}
	}
	return s.written(c, s.driveID(c)+"-stocktakes.csv", asText, func(w io.Writer) error { return workbook.WriteStocktakes(w, s.drive(c), rows) })
}

// sheetsFile handles GET /drives/:drive/cutting/sheets.csv: the list as it is looked at,
// all of its rows.
func (s *Site) sheetsFile(c *gin.Context) error {
	_, query := s.sheetsLookedAt(c)
	query.Limit, query.Offset = 0, 0
	found, err := s.db.Sheets(c.Request.Context(), s.driveID(c), query)
	if err != nil {
		return err
	}
	rows := make([]workbook.SheetLine, len(found.Sheets))
	for i, l := range found.Sheets {
		rows[i] = workbook.SheetLine{Sheet: l.Sheet, Shelf: l.Shelf, Cloth: l.SheetLot.Looks(), Panels: l.Panels, Kits: l.Kits}
	}
	return s.written(c, s.driveID(c)+"-sheets.csv", asText, func(w io.Writer) error { return workbook.WriteSheets(w, s.drive(c), rows) })
}
