package main

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// What a page says of itself reaches those who hear it or work by keyboard: a form that
// came back has the focus where it says why, a scanner's field keeps it, figures and lists
// that change are spoken once, and no head of a grid lies over the cell that has the focus.
func TestPagesAreHeard(t *testing.T) {
	t.Parallel()
	needsBrowser(t)
	p, _ := withDemo(t)
	b := newTab(t, p.address)
	again(t, b)
	spoken := func() string {
		t.Helper()
		return eval[string](b, `(async () => {
	const aloud = document.querySelector("#aloud[role=status]");
	for (let n = 0; n < 100 && !aloud.textContent; n++) await new Promise(done => setTimeout(done, 50));
	return aloud.textContent;
})()`)
	}
	refuse(b)
	require.Equal(t, "Something has to be put right: Add what is asked for · Lantern Row pillowcase drive · Boltward", eval[string](b, "document.title"))
	require.True(t, eval[bool](b, `document.activeElement.matches(".tag.bad")`), "the focus is where it says why")
	require.Equal(t, []string{"f-recipient", "f-wanted"}, eval[[]string](b, `[...document.querySelectorAll(".tag.bad a")].map(a => a.hash.slice(1)).slice(0, 2)`), "in the order of the page")
	require.Contains(t, eval[string](b, `document.querySelector(".tag.bad").innerText`), "How many: ", "by the field's name")

	const fabric = "/drives/lantern-row/fabric"
	b.open(fabric + "/tag")
	b.fill("Pieces", "some")
	b.press("Tag it, then the next")
	require.Equal(t, "f-pieces", eval[string](b, "document.activeElement.id"), "a scanner types into a field")
	require.Contains(t, spoken(), "Nothing has been saved")

	b.open(fabric)
	b.fill("Search", "no such cloth")
	require.Contains(t, spoken(), "Nothing found")
	require.Equal(t, "list-q", eval[string](b, "document.activeElement.id"))

	b.open(fabric + "/47/measure")
	b.fill("Length", "2 yd")
	b.fill("Width", "44")
	require.Contains(t, spoken(), "Usable: ")

	b.open(fabric + "/grid")
	require.Equal(t, 0, eval[int](b, `(async () => {
	let hidden = 0;
	for (const cell of [...document.querySelectorAll(".grid input")].reverse()) {
		cell.focus();
		await new Promise(requestAnimationFrame);
		const at = cell.getBoundingClientRect();
		if (document.elementFromPoint(at.left + at.width / 2, at.top + at.height / 2) !== cell) hidden++;
	}
	return hidden;
})()`), "cells that have the focus and are not seen")
}
