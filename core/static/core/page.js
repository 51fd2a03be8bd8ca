"use strict";
// A form is sent once: a second press while the first is on its way would only confuse its sender.
document.addEventListener("submit", (event) => {
  const form = event.target;
  if (event.defaultPrevented) return;
  if (form.dataset.sent) { event.preventDefault(); return; }
  form.dataset.sent = "yes";
});
// Coming back by the browser's back button finds the form usable again.
window.addEventListener("pageshow", () => {
  for (const form of document.forms) delete form.dataset.sent;
});
