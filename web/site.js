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

  // <button type="button" data-print> prints the page.
  document.addEventListener("click", (event) => {
    if (event.target.closest("[data-print]")) print();
  });
})();
