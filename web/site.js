// Helps where scripts run; every page works without it.
(() => {
  "use strict";

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
})();
