package planning

import (
	"encoding/json"
	"fmt"
	"math/big"
	"strconv"
	"strings"
)

// mostDecimals is the finest a length or weight may be given: nine places are a
// thousandth of the sizing unit of 1/1600 mm.
const mostDecimals = 9

// Decimal is an exact decimal number: a length in the problem's unit, or a weight. The
// zero value is 0; values compare with ==.
type Decimal struct {
	coef   int64
	places uint8 // value = coef / 10^places, the fewest places that hold it
}

// Whole gives n as a Decimal.
func Whole(n int64) Decimal { return Decimal{coef: n} }

// MM gives a length of n units of 1/1600 mm in millimetres, which is exact.
func MM(n int64) Decimal { return scaled(n*625, 6) }

// ParseDecimal reads a plain or exponent decimal exactly: "41.5", "1e3". It fails on anything
// else, on more than nine decimals and on numbers that int64 cannot hold.
func ParseDecimal(s string) (Decimal, error) {
	text := s
	exp := 0
	if i := strings.IndexAny(text, "eE"); i >= 0 {
		n, err := strconv.Atoi(text[i+1:])
		if err != nil || n > 30 || n < -400 {
			return Decimal{}, fmt.Errorf("%q is not a number of this size", short(s))
		}
		exp, text = n, text[:i]
	}
	digits := strings.TrimPrefix(strings.TrimPrefix(text, "-"), "+")
	if whole, frac, dot := strings.Cut(digits, "."); dot {
		frac = strings.TrimRight(frac, "0")
		exp -= len(frac)
		digits = whole + frac
	}
	if len(s) > 600 {
		return Decimal{}, fmt.Errorf("%q has more than 600 digits", short(s))
	}
	if digits == "" || strings.Trim(digits, "0123456789") != "" {
		return Decimal{}, fmt.Errorf("%q is not a decimal number", short(s))
	}
	n, _ := new(big.Int).SetString(digits, 10)
	if n.Sign() == 0 {
		return Decimal{}, nil
	}
	ten := big.NewInt(10)
	for ; exp > 0; exp-- {
		n.Mul(n, ten)
	}
	rest := new(big.Int)
	for exp < 0 {
		q, r := new(big.Int).QuoRem(n, ten, rest)
		if r.Sign() != 0 {
			break
		}
		n, exp = q, exp+1
	}
	if -exp > mostDecimals {
		return Decimal{}, fmt.Errorf("%q has more than %d decimals", short(s), mostDecimals)
	}
	if !n.IsInt64() {
		return Decimal{}, fmt.Errorf("%q is too large", short(s))
	}
	v := n.Int64()
	if strings.HasPrefix(text, "-") {
		v = -v
	}
	return Decimal{v, uint8(-exp)}, nil
}

// scaled gives coef / 10^places in its shortest form.
func scaled(coef int64, places int) Decimal {
	for places > 0 && coef%10 == 0 {
		coef /= 10
		places--
	}
	return Decimal{coef, uint8(places)}
}

// Sign gives −1, 0 or 1.
func (d Decimal) Sign() int {
	switch {
	case d.coef < 0:
		return -1
	case d.coef > 0:
		return 1
	}
	return 0
}

// units gives d · 10^places; ok is false where that is not whole or does not fit.
func (d Decimal) units(places int) (n int64, ok bool) {
	n = d.coef
	for p := int(d.places); p < places; p++ {
		if n > (1<<63-1)/10 || n < -(1<<63-1)/10 {
			return 0, false
		}
		n *= 10
	}
	return n, int(d.places) <= places
}

// Cmp compares: −1, 0 or 1.
func (d Decimal) Cmp(e Decimal) int { return d.Rat().Cmp(e.Rat()) }

// Rat gives the value as a fraction.
func (d Decimal) Rat() *big.Rat {
	den := new(big.Int).Exp(big.NewInt(10), big.NewInt(int64(d.places)), nil)
	return new(big.Rat).SetFrac(big.NewInt(d.coef), den)
}

// Float gives the nearest float64, for drawing and display only.
func (d Decimal) Float() float64 {
	f, _ := d.Rat().Float64()
	return f
}

// String prints the plain decimal.
func (d Decimal) String() string {
	s := strconv.FormatInt(d.coef, 10)
	if d.places == 0 {
		return s
	}
	sign := ""
	if s[0] == '-' {
		sign, s = "-", s[1:]
	}
	for len(s) <= int(d.places) {
		s = "0" + s
	}
	at := len(s) - int(d.places)
	return sign + s[:at] + "." + s[at:]
}

// MarshalJSON writes a JSON number.
func (d Decimal) MarshalJSON() ([]byte, error) { return []byte(d.String()), nil }

// UnmarshalJSON reads a JSON number, or a string that holds one.
func (d *Decimal) UnmarshalJSON(data []byte) error {
	var n json.Number
	if err := json.Unmarshal(data, &n); err != nil {
		return err
	}
	v, err := ParseDecimal(n.String())
	if err != nil {
		return err
	}
	*d = v
	return nil
}
