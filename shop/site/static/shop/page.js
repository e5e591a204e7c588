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

// A face picked on a picture goes into the form that stands beside it, so that nothing typed there is lost.
document.addEventListener("click", (event) => {
  const link = event.target.closest("[data-picks] a");
  if (!link) return;
  const name = link.closest("[data-picks]").dataset.picks;
  const field = link.closest("form").elements[name];
  const value = new URLSearchParams((link.href.baseVal ?? link.href).split("#")[0].split("?")[1]).get(name);
  if (!field || value === null) return;
  event.preventDefault();
  field.value = value;
  for (const other of link.closest("[data-picks]").querySelectorAll("a")) other.classList.toggle("is-chosen", other === link);
  field.scrollIntoView({ block: "center" });
  field.focus({ preventScroll: true });
});
