package site

import (
	"net/http"
	"strconv"
	"time"

	"github.com/gin-gonic/gin"

	"boltward/internal/drive"
	"boltward/internal/postgres"
)

// differencesPage lists every count that differs and is not settled.
type differencesPage struct {
	Rows  []differsRow
	Short int
	More  int
}

func (differencesPage) template() string { return "differences.html" }
func (differencesPage) title() string    { return "Counts that differ" }

// differsRow is one count that differs.
type differsRow struct {
	drive.Difference
	Delivery int64
	Name     string // of the recipient
	SizeName string
	SentOn   *time.Time
	SaidOn   *time.Time
	SaidBy   string
}

// differences handles GET /drives/:drive/deliveries/differences.
func (s *Site) differences(c *gin.Context) error {
	ctx, driveID := c.Request.Context(), s.driveID(c)
	list, err := s.db.Deliveries(ctx, driveID, postgres.DeliveriesQuery{State: drive.DeliveryDiffers})
	if err != nil {
		return err
	}
	names, sizes, err := s.names(ctx, driveID)
	if err != nil {
		return err
	}
	p := differencesPage{}
	for _, d := range list {
		p.Rows = append(p.Rows, differsRows(d, names[d.Recipient], sizes)...)
		p.Short, p.More = p.Short+d.Open(), p.More+d.More()
	}
	return s.page(c, http.StatusOK, p)
}

func differsRows(d drive.Delivery, name string, sizes map[int64]string) []differsRow {
	var rows []differsRow
	for _, one := range d.Differences() {
		rows = append(rows, differsRow{one, d.Number, name, sizes[one.Size], d.SentOn, d.ConfirmedOn, d.ConfirmedBy})
	}
	return rows
}

// settlePage settles one count that differs.
type settlePage struct {
	differsRow
	Form     settleForm
	Problems map[string]string
	Ways     []option
}

func (settlePage) template() string { return "settle.html" }
func (settlePage) title() string    { return "Settle a count" }

// settleForm is as typed.
type settleForm struct {
	Way    string `form:"way"`
	N      string `form:"n"`
	Reason string `form:"reason"`
}

// settle handles GET /drives/:drive/deliveries/:delivery/settle/:box/:size.
func (s *Site) settle(c *gin.Context) error {
	p, err := s.settlePage(c)
	if err != nil {
		return err
	}
	p.Form.N = strconv.Itoa(max(p.Short, p.More))
	if p.Short == 0 && p.More == 0 {
		p.Form.N = strconv.Itoa(p.Missing)
	}
	return s.page(c, http.StatusOK, p)
}

// settleNow handles POST /drives/:drive/deliveries/:delivery/settle/:box/:size.
func (s *Site) settleNow(c *gin.Context) error {
	p, err := s.settlePage(c)
	if err != nil {
		return err
	}
	if err := s.read(c, &p.Form); err != nil {
		return err
	}
	how := drive.Settlement{Box: p.Box, Size: p.Size, Way: drive.SettleWay(p.Form.Way), Reason: p.Form.Reason}
	how.N = typedCount(p.Problems, "n", p.Form.N, 0)
	if len(p.Problems) == 0 {
		d, err := s.db.SettleDelivery(c.Request.Context(), s.act(c), p.Delivery, how)
		if err == nil {
			left := ""
			if d.Open+d.More > 0 {
				left = " " + counted(d.Open+d.More, "still differs.", "still differ.")
			}
			s.flash(c, "Settled: %s %s.%s", counted(how.N, "pillowcase", "pillowcases"), settledWords(how.Way), left)
			return s.seeOther(c, s.path(c, "deliveries", p.Delivery))
		}
		if !adopt(p.Problems, err) {
			return err
		}
	}
	return s.page(c, http.StatusUnprocessableEntity, p)
}

func (s *Site) settlePage(c *gin.Context) (settlePage, error) {
	p := settlePage{Problems: map[string]string{}}
	numbers := map[string]int64{}
	for _, name := range []string{"delivery", "box", "size"} {
		n, err := s.number(c, name)
		if err != nil {
			return p, err
		}
		numbers[name] = n
	}
	d, err := s.db.Delivery(c.Request.Context(), s.driveID(c), numbers["delivery"])
	if err != nil {
		return p, err
	}
	names, sizes, err := s.names(c.Request.Context(), s.driveID(c))
	if err != nil {
		return p, err
	}
	one, gone := d.Count(numbers["box"], numbers["size"])
	if !gone {
		return p, noSuchPage()
	}
	p.differsRow = differsRow{one, d.Number, names[d.Recipient], sizes[one.Size], d.SentOn, d.ConfirmedOn, d.ConfirmedBy}
	for _, way := range drive.SettleWays() {
		if d.MaySettle(one, way) > 0 {
			p.Ways = append(p.Ways, option{string(way), settleWords(way)})
		}
	}
	return p, nil
}

// settleWords says of a way what somebody chooses by it.
func settleWords(way drive.SettleWay) string {
	switch way {
	case drive.SettleFound:
		return "found after all: they are with the recipient"
	case drive.SettleMissing:
		return "not received: they are gone, and are asked for again"
	case drive.SettleBackGood:
		return "sent back, as good as they left: to be packed again"
	case drive.SettleBackCheck:
		return "sent back, to be checked again"
	case drive.SettleMore:
		return "more arrived than noted: they lay in the box uncounted"
	case drive.SettleAsNote:
		return "counted again: it is as the note says"
	}
	return string(way)
}

// settledWords says what became of them.
func settledWords(way drive.SettleWay) string {
	switch way {
	case drive.SettleFound:
		return "found after all"
	case drive.SettleMissing:
		return "not received"
	case drive.SettleBackGood:
		return "sent back, good"
	case drive.SettleBackCheck:
		return "sent back, to be checked"
	case drive.SettleMore:
		return "more than noted"
	case drive.SettleAsNote:
		return "counted again, as the note says"
	}
	return string(way)
}
