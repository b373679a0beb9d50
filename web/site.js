// Helps where scripts run; every page works without it.
(() => {
  "use strict";

  // What scripts do by themselves needs no button.
  document.documentElement.classList.add("scripted");

  // A page that opened by itself stands under the address that people open.
  const opened = new URL(location.href);
  if (opened.searchParams.has("itself")) {
    opened.searchParams.delete("itself");
    history.replaceState(history.state, "", opened);
  }

  // A form that has been sent says so and is not sent twice. The page may come
  // back from the browser's memory, so it is opened again then.
  addEventListener("submit", (event) => {
    const form = event.target;
    if (event.defaultPrevented || form.method !== "post") return;
    if (form.dataset.sent) {
      event.preventDefault();
      return;
    }
    form.dataset.sent = "yes";
    form.setAttribute("aria-busy", "true");
  });
  addEventListener("pageshow", () => {
    for (const form of document.querySelectorAll("form[data-sent]")) {
      delete form.dataset.sent;
      form.removeAttribute("aria-busy");
    }
  });

  // One box ticks all those of its form; it shows whether all are ticked.
  addEventListener("change", (event) => {
    const form = event.target.form;
    const all = form && form.querySelector("input[data-all]");
    if (!all) return;
    const boxes = [...form.querySelectorAll(`input[type=checkbox][name="${all.dataset.all}"]`)];
    if (event.target === all) boxes.forEach((box) => {
      box.checked = all.checked;
    });
    all.checked = boxes.every((box) => box.checked);
  });

  // The menu closes on Escape and when somebody turns elsewhere.
  const menu = document.querySelector("details.menu");
  if (menu) {
    addEventListener("keydown", (event) => {
      if (event.key !== "Escape" || !menu.open) return;
      menu.open = false;
      menu.querySelector("summary").focus();
    });
    document.addEventListener("click", (event) => {
      if (!menu.contains(event.target)) menu.open = false;
    });
  }

  // Where a time zone is asked for and none is typed, this machine's own is offered.
  const zone = document.querySelector('input[name="zone"]');
  if (zone && !zone.value) zone.value = Intl.DateTimeFormat().resolvedOptions().timeZone || "";

  // What the page says when it comes, and what a list holds once it was searched, is said by a
  // line that stays: a place that comes with its words is read aloud by nobody.
  const aloud = document.createElement("p");
  aloud.id = "aloud";
  aloud.className = "unseen";
  aloud.setAttribute("role", "status");
  document.body.append(aloud);
  let speaks;
  const speak = (place, after) => {
    if (!place) return;
    aloud.textContent = ""; // the same words are said again
    clearTimeout(speaks);
    speaks = setTimeout(() => {
      aloud.textContent = (place.getAttribute("aria-label") ?? place.innerText).replace(/\s+/g, " ").trim();
    }, after);
  };
  document.addEventListener("htmx:after:swap", (event) => {
    if (!event.target.closest?.("main")) return;
    speak(document.querySelector("#list [role=status], #list .empty, #look > p, #cuts > p, #cuts [aria-label]"), 100);
  });

  // Who types on although nobody is signed in any more is told so where figures would follow.
  document.addEventListener("htmx:after:request", ({ detail: { ctx } }) => {
    const place = document.querySelector("#look, #cuts");
    const late = ctx.response.status === 401 && ctx.text;
    let said = document.getElementById("over");
    if (!late || !place) {
      said?.remove();
      return;
    }
    if (!said) {
      said = document.createElement("p");
      said.id = "over";
      said.className = "tag bad";
      place.before(said);
    }
    said.textContent = ctx.text;
    speak(said, 100);
  });

  // What has to be put right is named by its fields, in their order on the page.
  const wrong = document.querySelector("main .tag.bad[tabindex]");
  if (wrong) {
    const named = [...wrong.querySelectorAll('li > a[href^="#"]')].flatMap((link) => {
      const field = document.getElementById(link.hash.slice(1));
      if (!field) return [];
      const name = field.labels?.[0] ?? field.closest("fieldset")?.querySelector("legend");
      const words = [...(name?.childNodes ?? [])].filter((part) => !part.classList?.contains("optional")).map((part) => part.textContent).join("").trim();
      if (words && !link.textContent.startsWith(words)) link.textContent = `${words}: ${link.textContent}`;
      return [{ item: link.parentElement, field }];
    });
    named.sort((a, b) => (a.field.compareDocumentPosition(b.field) & Node.DOCUMENT_POSITION_FOLLOWING ? -1 : 1));
    for (const { item } of named.reverse()) item.parentElement.prepend(item);
  }

  // Where a form begins has the focus before the page is drawn: a scanner or a quick hand would
  // lose its first letters otherwise. What stands there is marked, so that typing takes its place.
  // A form that came back begins at the first field to put right, or where that is told.
  const begins = document.querySelector("[autofocus]");
  const amiss = wrong && document.querySelector('main [aria-invalid="true"]');
  const first = wrong && begins ? amiss ?? begins : wrong ?? begins;
  if (first && !location.hash && (document.activeElement === document.body || document.activeElement === begins)) first.focus();
  if (first && first.value && first.matches("input:not([type=radio], [type=checkbox])")) first.select();
  if (document.activeElement !== wrong) speak(wrong?.querySelector("strong") ?? document.querySelector("main .tag[role]"), 500);

  // Names are found as somebody types, and it is said whether one is new. The
  // names stand beside the field: a tap takes one, or an arrow key and Enter.
  for (const field of document.querySelectorAll("input[data-lookup]")) {
    const said = field.closest(".field").querySelector(".found");
    const list = document.createElement("ul");
    const room = document.createElement("div");
    list.id = `${field.id}-found`;
    list.className = "offers";
    list.hidden = true;
    list.setAttribute("role", "listbox");
    list.setAttribute("aria-label", "Names that may be meant");
    room.className = "room-for-offers";
    room.append(list);
    said.parentElement.append(room);
    field.removeAttribute("list");
    for (const [name, value] of [["role", "combobox"], ["aria-autocomplete", "list"], ["aria-controls", list.id], ["aria-expanded", "false"]]) field.setAttribute(name, value);

    let waits, asked = 0, at = -1;
    const mark = (to) => {
      at = to;
      [...list.children].forEach((option, i) => option.setAttribute("aria-selected", String(i === at)));
      if (at < 0) field.removeAttribute("aria-activedescendant");
      else {
        field.setAttribute("aria-activedescendant", list.children[at].id);
        list.children[at].scrollIntoView({ block: "nearest", inline: "nearest" });
      }
    };
    const offer = (names) => {
      list.replaceChildren(...names.map((name, i) => {
        const option = document.createElement("li");
        option.id = `${list.id}-${i}`;
        option.setAttribute("role", "option");
        option.textContent = name;
        return option;
      }));
      list.hidden = names.length === 0;
      field.setAttribute("aria-expanded", String(!list.hidden));
      mark(-1);
    };
    const look = async (open) => {
      const mine = ++asked;
      try {
        const answer = await fetch(`${field.dataset.lookup}?q=${encodeURIComponent(field.value)}`);
        const found = answer.ok ? await answer.json() : null;
        if (!found || mine !== asked) return;
        const same = found.names.length === 1 && found.names[0] === field.value;
        offer(open && !same ? found.names : []);
        if (said.textContent !== found.said) said.textContent = found.said;
      } catch {
        // Without the network a name is typed whole.
      }
    };
    const take = (option) => {
      field.value = option.textContent;
      clearTimeout(waits);
      look(false);
    };
    field.addEventListener("input", () => {
      clearTimeout(waits);
      waits = setTimeout(look, 120, true);
    });
    field.addEventListener("keydown", (event) => {
      const n = list.hidden ? 0 : list.children.length;
      if (event.isComposing || n === 0) return;
      if (event.key === "ArrowDown") mark((at + 1) % n);
      else if (event.key === "ArrowUp") mark(at <= 0 ? n - 1 : at - 1);
      else if (event.key === "Enter" && at >= 0) take(list.children[at]);
      else if (event.key === "Escape") offer([]);
      else return;
      event.preventDefault();
    });
    list.addEventListener("click", (event) => {
      const option = event.target.closest("[role=option]");
      if (!option) return;
      take(option);
      field.focus();
    });
    // Whoever taps the field means another name: what stands is marked once.
    let fresh = document.activeElement === field;
    field.addEventListener("focus", () => {
      fresh = true;
    });
    field.addEventListener("click", () => {
      const stood = field.value;
      // The browser puts its own mark after this; nothing is marked once somebody types.
      if (fresh && stood) setTimeout(() => field.value === stood && field.select());
      fresh = false;
    });
    if (field.value) look(false);
  }

  // Boxes that stand in a row as taps are one stop of the Tab key; arrows go from one
  // to the next, as among choices.
  for (const taps of document.querySelectorAll(".taps")) {
    const boxes = [...taps.querySelectorAll("input[type=checkbox]")];
    const stop = (at) => boxes.forEach((box, i) => {
      box.tabIndex = i === at ? 0 : -1;
    });
    if (boxes.length > 1) stop(Math.max(0, boxes.findIndex((box) => box.checked)));
    taps.addEventListener("keydown", (event) => {
      const at = boxes.indexOf(event.target);
      const by = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1 }[event.key];
      if (at < 0 || !by) return;
      event.preventDefault();
      const to = (at + by + boxes.length) % boxes.length;
      stop(to);
      boxes[to].focus();
    });
  }

  // A width is typed or tapped, not both: the later takes the place of the other.
  const width = document.querySelector(".measure input[name=width]");
  if (width) {
    const usual = [...document.querySelectorAll(".measure input[name=usual]")];
    width.addEventListener("input", () => {
      usual[0].checked = true;
    });
    for (const tap of usual.slice(1)) {
      tap.addEventListener("change", () => {
        width.value = "";
      });
    }
  }

  // The grid of a tally: cells copied from a spreadsheet go in from where they are
  // pasted, and keys move as they do there.
  const table = document.querySelector("table[data-grid]");
  if (table) {
    const rows = [...table.tBodies[0].rows].map((row) => [...row.querySelectorAll("input")]);
    const place = (field) => {
      const y = rows.findIndex((row) => row.includes(field));
      return [y, y < 0 ? -1 : rows[y].indexOf(field)];
    };
    // What lies on the clipboard: a tab between cells, quotes round those that hold
    // a tab or a line's end.
    const parted = (text) => {
      const lines = [[]];
      const cell = /(?:"((?:[^"]|"")*)"(?=[\t\n]|$)|([^\t\n]*))([\t\n]|$)/gy;
      text = text.replace(/\r\n?/g, "\n").replace(/\n$/, "");
      for (let found; cell.lastIndex <= text.length && (found = cell.exec(text)); ) {
        lines.at(-1).push((found[1]?.replaceAll('""', '"') ?? found[2]).replace(/\s+/g, " ").trim());
        if (found[3] === "") break;
        if (found[3] === "\n") lines.push([]);
      }
      return lines;
    };
    const say = (words) => {
      document.getElementById("grid-said").textContent = words;
    };
    table.addEventListener("paste", (event) => {
      const text = event.clipboardData.getData("text/plain");
      const [y, x] = place(event.target);
      if (y < 0 || !/[\t\n]/.test(text.replace(/\n$/, ""))) return;
      event.preventDefault();
      const lines = parted(text);
      const wide = Math.max(...lines.map((line) => line.length));
      if (y + lines.length > rows.length || x + wide > rows[0].length) {
        const field = document.getElementById("f-paste");
        const many = `These ${lines.length} rows of ${wide} cells do not fit from there on.`;
        if (!field) { // a grid without a field for rows: they stay on the clipboard
          say(`${many} Nothing was put in: copy fewer, or begin further up or to the left.`);
          return;
        }
        field.closest("details").open = true;
        field.value = text;
        field.focus();
        say(`${many} They stand in the field for rows.`);
        return;
      }
      lines.forEach((line, down) => line.forEach((words, right) => {
        rows[y + down][x + right].value = words;
      }));
      say(`${lines.length} rows of ${wide} cells were put in.`);
    });
    table.addEventListener("keydown", (event) => {
      const [y, x] = place(event.target);
      if (y < 0 || event.isComposing) return;
      if (event.key === "Enter" && (event.ctrlKey || event.metaKey)) {
        event.preventDefault();
        event.target.form.requestSubmit();
        return;
      }
      const down = { Enter: event.shiftKey ? -1 : 1, ArrowDown: 1, ArrowUp: -1 }[event.key];
      if (!down) return;
      event.preventDefault();
      rows[y + down]?.[x].focus();
      rows[y + down]?.[x].select();
    });
  }

  // A photo is made smaller before it is sent: a hall's network is slow. Whatever
  // cannot be read here is sent as it is.
  for (const field of document.querySelectorAll("input[data-shrink]")) {
    const side = 1600;
    field.addEventListener("change", async () => {
      const file = field.files[0];
      if (!file || file.size < 300000) return;
      const form = field.form;
      form.setAttribute("aria-busy", "true");
      try {
        const picture = await createImageBitmap(file);
        const scale = Math.min(1, side / Math.max(picture.width, picture.height));
        const canvas = document.createElement("canvas");
        canvas.width = Math.max(1, Math.round(picture.width * scale));
        canvas.height = Math.max(1, Math.round(picture.height * scale));
        canvas.getContext("2d").drawImage(picture, 0, 0, canvas.width, canvas.height);
        picture.close();
        const small = await new Promise((done) => canvas.toBlob(done, "image/jpeg", 0.85));
        if (small && small.size < file.size && field.files[0] === file) {
          const put = new DataTransfer();
          put.items.add(new File([small], "photo.jpg", { type: "image/jpeg" }));
          field.files = put.files;
        }
      } catch {
        // The server reads it, or says why not.
      }
      if (!form.dataset.sent) form.removeAttribute("aria-busy");
    });
  }

  // A plan that is being worked out tells how far it has come, while somebody
  // looks: a browser opens only a few lines to one place, whatever its windows.
  const planning = document.querySelector("[data-watch]");
  if (planning) {
    const drawable = ["aria-label", "d", "width", "x"];
    const turn = () => location.replace(planning.dataset.then);
    const show = ({ texts, drawn }) => {
      for (const [name, text] of Object.entries(texts)) {
        const place = planning.querySelector(`[data-text="${name}"]`);
        // What is said aloud is said again whenever it is written.
        if (place && place.textContent !== text) place.textContent = text;
      }
      for (const [name, attributes] of Object.entries(drawn)) {
        const place = planning.querySelector(`[data-drawn="${name}"]`);
        for (const [attribute, value] of Object.entries(attributes)) {
          if (place && drawable.includes(attribute)) place.setAttribute(attribute, value);
        }
      }
    };
    let line, left;
    const close = () => {
      line?.close();
      clearTimeout(left);
    };
    const watch = () => {
      close();
      if (document.hidden) return;
      line = new EventSource(planning.dataset.watch);
      line.addEventListener("figures", (event) => show(JSON.parse(event.data)));
      line.addEventListener("over", () => {
        close();
        turn();
      });
      // What broke is opened again by the browser; what was refused never is.
      line.addEventListener("error", () => {
        if (line.readyState === EventSource.CLOSED) left = setTimeout(turn, 3000);
      });
    };
    document.addEventListener("visibilitychange", watch);
    addEventListener("pageshow", watch);
    addEventListener("pagehide", close);
    addEventListener("submit", close);
  }

  // <button type="button" data-print> prints the page.
  document.addEventListener("click", (event) => {
    if (event.target.closest("[data-print]")) print();
  });

  // A length shows the other unit on hover. Where there is none, a touch of it shows every one,
  // as the box at the foot of the page does for the keyboard.
  const both = document.getElementById("both-units");
  if (both) {
    document.addEventListener("click", (event) => {
      if (event.target.closest(".other[title]") && !event.target.closest("a, button, label, summary")) both.click();
    });
    // The next page shows them too: the wish is kept for a year, and goes with the tick.
    both.addEventListener("change", () => {
      const secure = location.protocol === "https:" ? "; secure" : "";
      document.cookie = "both-units=yes; path=/; samesite=lax; max-age=" + (both.checked ? 365 * 24 * 3600 : 0) + secure;
    });
  }

  // A scanner types fast and ends with Enter. Where nobody is in a field, what it
  // types opens the label's page, whatever page is open; a page that scans for
  // something of its own has the last form.
  const scan = [...document.querySelectorAll("form[data-scan]")].at(-1);
  if (scan) {
    let typed = "", last = 0;
    addEventListener("keydown", (event) => {
      if (event.ctrlKey || event.altKey || event.metaKey || event.isComposing) return;
      if (event.target.closest?.("input, textarea, select, [contenteditable]")) return;
      if (event.timeStamp - last > 80) typed = "";
      last = event.timeStamp;
      if (event.key.length === 1) typed += event.key;
      if (event.key !== "Enter" || typed.length < 4) return;
      event.preventDefault();
      location.assign(scan.action + "?code=" + encodeURIComponent(typed));
    });
  }
})();
