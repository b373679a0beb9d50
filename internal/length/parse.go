package length

import (
	"fmt"
	"math/big"
	"strings"
	"unicode/utf8"
)

// examples ends the messages that cannot say what the person meant.
const examples = "write it like 27 1/2 in, 1 yd 9 in, 2.5 m or 110 cm"

// Parse reads a length as people write it: 3 1/2 yd, 2.5m, 2,5 m, 27½", 44
// inches, 1-1/2 yd, 1 yd 9 in, 5'3". A number without a unit takes def; when def
// is empty such a number is refused. Zero is a length; less than zero, more
// than Max and what can be read in two ways are refused with an *Error.
//
// One comma followed by exactly three digits (1,200) could mean a thousand or a
// decimal and is refused; 2,5 and 0,125 are decimals, 1,200,000 and 1,200.5 are
// not in doubt. A single full stop is always a decimal point.
func Parse(s string, def Unit, r Rounding) (Length, error) {
	l, _, err := ParseWritten(s, def, r)
	return l, err
}

// ParseWritten is Parse, and also gives the unit that was written first, or def.
func ParseWritten(s string, def Unit, r Rounding) (Length, Unit, error) {
	q, err := read(s)
	if err != nil {
		return 0, "", refusal(s, err.Error())
	}
	l, u, err := q.length(def, r)
	if err != nil {
		return 0, "", refusal(s, err.Error())
	}
	return l, u, nil
}

// part is one number with its unit, empty where none was written.
type part struct {
	value *big.Rat
	unit  Unit
	text  string
}

// quantity is what was written, before a bare number gets its unit.
type quantity []part

// read parses the whole of s.
func read(s string) (quantity, error) {
	if utf8.RuneCountInString(s) > longest {
		return nil, fmt.Errorf("%q is too long to be a length; %s", shorten(s), examples)
	}
	p := parser{typed: shorten(s), toks: scan(normalise(s))}
	if len(p.toks) == 0 {
		return nil, fmt.Errorf("a length is missing; %s", examples)
	}
	if err := p.notACut(); err != nil {
		return nil, err
	}
	if p.peek(0).kind == '-' {
		return nil, fmt.Errorf("%q is less than nothing; write the length without a minus", p.typed)
	}
	var q quantity
	for len(p.toks) > 0 {
		if len(q) > 0 {
			p.skipJoin()
		}
		next, err := p.part()
		if err != nil {
			return nil, err
		}
		q = append(q, next)
	}
	return q, q.check()
}

// parser walks the tokens of one length.
type parser struct {
	typed string
	toks  []token
}

func (p *parser) peek(i int) token {
	if i < len(p.toks) {
		return p.toks[i]
	}
	return token{}
}

// kinds says whether the next tokens are of these kinds.
func (p *parser) kinds(kinds ...rune) bool {
	for i, k := range kinds {
		if p.peek(i).kind != k {
			return false
		}
	}
	return true
}

// notACut answers those who write the name of a shop cut for a length.
func (p *parser) notACut() error {
	for i, t := range p.toks {
		fat := t.text == "fat" && (strings.HasPrefix(p.peek(i+1).text, "q") || strings.HasPrefix(p.peek(i+1).text, "e"))
		if fat || t.text == "fq" || t.text == "fqs" {
			return fmt.Errorf("%q is no length, they come in several sizes; measure it and write both sides, like 18 x 22 in", p.typed)
		}
	}
	return nil
}

// skipJoin passes over what stands between yards and inches: a comma, and, &, +.
func (p *parser) skipJoin() {
	switch t := p.peek(0); {
	case t.kind == ',' || t.kind == '&' || t.kind == '+' || t.kind == 'w' && t.text == "and":
		p.toks = p.toks[1:]
	}
}

// part reads a number and its unit.
func (p *parser) part() (part, error) {
	before := p.toks
	v, err := p.number()
	if err != nil {
		return part{}, err
	}
	out := part{value: v}
	if t := p.peek(0); t.kind == 'w' && t.text != "and" {
		u, ok := unitNamed(t.text)
		if !ok {
			return part{}, p.unknown(t.text)
		}
		out.unit = u
		p.toks = p.toks[1:]
	}
	for _, t := range before[:len(before)-len(p.toks)] {
		out.text += t.text
	}
	return out, nil
}

// number reads 3, 2.5, 1/2, 3 1/2, 3-1/2 or 3 and 1/2.
func (p *parser) number() (*big.Rat, error) {
	if t := p.peek(0); t.kind != 'n' {
		if t.kind == 'w' {
			return nil, p.notANumber(t.text)
		}
		return nil, fmt.Errorf("%q is not a length; %s", p.typed, examples)
	}
	switch {
	case p.kinds('n', '/'):
		return p.fraction()
	case p.kinds('n', 'n', '/'):
		return p.mixed(1)
	case p.kinds('n', '-', 'n', '/'), p.kinds('n', 'w', 'n', '/') && p.peek(1).text == "and":
		return p.mixed(2)
	case p.kinds('n', '-', 'n'):
		return nil, fmt.Errorf("%q reads like from–to; write one length, the lesser to be safe", p.typed)
	case p.kinds('n', 'n'):
		return nil, fmt.Errorf("%q has two numbers side by side; put a unit after each, like 1 yd 9 in, or a fraction, like 3 1/2 yd", p.typed)
	}
	t := p.toks[0]
	p.toks = p.toks[1:]
	return decimal(t.text)
}

// mixed reads a whole number, and a fraction skip tokens later.
func (p *parser) mixed(skip int) (*big.Rat, error) {
	t := p.toks[0]
	whole, ok := wholeNumber(t.text)
	if !ok {
		return nil, fmt.Errorf("%q before a fraction is not a whole number; write it like 3 1/2", t.text)
	}
	p.toks = p.toks[skip:]
	f, err := p.fraction()
	if err != nil {
		return nil, err
	}
	if f.Cmp(big.NewRat(1, 1)) >= 0 {
		return nil, fmt.Errorf("%q has a fraction of one or more after a whole number; write it like 3 1/2", p.typed)
	}
	return f.Add(f, whole), nil
}

// fraction reads 1/2.
func (p *parser) fraction() (*big.Rat, error) {
	if !p.kinds('n', '/', 'n') {
		return nil, fmt.Errorf("%q has an unfinished fraction; write it like 3 1/2", p.typed)
	}
	above, okA := wholeNumber(p.toks[0].text)
	below, okB := wholeNumber(p.toks[2].text)
	if !okA || !okB {
		return nil, fmt.Errorf("%q has a fraction that is not of whole numbers; write it like 1/2", p.typed)
	}
	if below.Sign() == 0 {
		return nil, fmt.Errorf("%q divides by nothing; write the fraction like 1/2", p.typed)
	}
	p.toks = p.toks[3:]
	if p.peek(0).kind == '/' {
		return nil, fmt.Errorf("%q has a fraction in a fraction; write it like 3 1/2", p.typed)
	}
	return above.Quo(above, below), nil
}

// unknown says what is wrong with a word that follows a number.
func (p *parser) unknown(word string) error {
	if word == "x" || word == "×" || word == "*" || word == "by" {
		return fmt.Errorf("%q gives two sides where one length is wanted; write one, like 27 1/2 in", p.typed)
	}
	if farther[word] {
		return fmt.Errorf("%q is too long for cloth; check the number and its unit, and write it in yd or m", p.typed)
	}
	return fmt.Errorf("%q is not a unit known here; use in, ft, yd, mm, cm or m", word)
}

// farther are units that no cloth is measured in: what is wrong is the length, not
// that nobody knows them.
var farther = map[string]bool{
	"km": true, "kilometre": true, "kilometres": true, "kilometer": true, "kilometers": true, "mi": true, "mile": true, "miles": true,
}

// notANumber says what is wrong with a word that stands where a number belongs.
func (p *parser) notANumber(word string) error {
	if _, ok := unitNamed(word); ok {
		return fmt.Errorf("%q has a unit without a number before it; %s", p.typed, examples)
	}
	if word == p.typed {
		return fmt.Errorf("%q stands where a number belongs; %s", word, examples)
	}
	return fmt.Errorf("%q has %q where a number belongs; %s", p.typed, word, examples)
}

// check refuses parts that do not belong together.
func (q quantity) check() error {
	for i := 1; i < len(q); i++ {
		prev, this := q[i-1], &q[i]
		if prev.unit == Ft && this.unit == "" && i == len(q)-1 {
			this.unit = In // 5'3 is five feet three
		}
		switch {
		case prev.unit == "" || this.unit == "":
			bare := prev
			if prev.unit != "" {
				bare = *this
			}
			return fmt.Errorf("%s has no unit; write each number with its own, like 1 yd 9 in", bare.text)
		case prev.unit.Metric() != this.unit.Metric():
			return fmt.Errorf("%s and %s are of two systems; write the length in one of them", prev.text, this.text)
		case prev.unit.Size() <= this.unit.Size():
			return fmt.Errorf("%s comes after %s; write the larger unit first and each once, like 1 yd 9 in", this.text, prev.text)
		}
	}
	return nil
}

// length adds the parts up exactly and rounds once.
func (q quantity) length(def Unit, r Rounding) (Length, Unit, error) {
	sum := new(big.Rat)
	first := q[0].unit
	for _, p := range q {
		u := p.unit
		if u == "" {
			u = def
		}
		if u.Size() == 0 {
			return 0, "", fmt.Errorf("%s has no unit; write it like %s in or %s cm", p.text, p.text, p.text)
		}
		if first == "" {
			first = u
		}
		sum.Add(sum, new(big.Rat).Mul(p.value, new(big.Rat).SetInt64(int64(u.Size()))))
	}
	if sum.Cmp(new(big.Rat).SetInt64(int64(Max))) > 0 {
		return 0, "", fmt.Errorf("that is more than 10 km; check the number and its unit")
	}
	return roundRat(sum, r), first, nil
}

// roundRat rounds a fraction of at least 0 and at most Max.
func roundRat(v *big.Rat, r Rounding) Length {
	below, rest := new(big.Int).QuoRem(v.Num(), v.Denom(), new(big.Int))
	l := Length(below.Int64())
	if rest.Sign() == 0 {
		return l
	}
	if r == Up || r == Nearest && rest.Lsh(rest, 1).Cmp(v.Denom()) >= 0 {
		l++
	}
	return l
}
