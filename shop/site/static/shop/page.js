// The little that plain pages want: the eye goes to what was refused, a form goes off once, a filter answers a choice.
"use strict";

function lookAtRefusal(root) {
  const refused = root.querySelector("[data-focus]");
  if (refused) refused.focus();
}

document.addEventListener("DOMContentLoaded", () => lookAtRefusal(document));
document.addEventListener("htmx:afterSwap", (event) => lookAtRefusal(event.target));

// A second tap while the first is on its way sends nothing; the server would know it by its reference all the same.
document.addEventListener("submit", (event) => {
  const form = event.target;
  if (form.method !== "post") return;
  if (form.dataset.sent) { event.preventDefault(); return; }
  form.dataset.sent = "yes";
});
window.addEventListener("pageshow", () => {
  for (const form of document.querySelectorAll("form[data-sent]")) delete form.dataset.sent;
});
document.addEventListener("htmx:afterRequest", (event) => { delete event.target.dataset.sent; });

document.addEventListener("change", (event) => {
  const form = event.target.closest("form[data-at-once]");
  if (form) form.requestSubmit();
});
