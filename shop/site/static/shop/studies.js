// The grid of a study by keyboard: arrows go from field to field, Enter goes down; without this Tab goes down as well.
"use strict";

document.addEventListener("keydown", (event) => {
  const field = event.target;
  if (!(field instanceof HTMLInputElement) || !field.closest("[data-grid]")) return;
  if (event.ctrlKey || event.metaKey || event.altKey || event.isComposing) return;
  const columns = [...field.closest("[data-grid]").querySelectorAll(".study-column:not([aria-hidden])")];
  const column = columns.findIndex((one) => one.contains(field));
  const row = [...columns[column].querySelectorAll("input")].indexOf(field);
  const atStart = field.selectionStart === 0 && field.selectionEnd === 0;
  const atEnd = field.selectionStart === field.value.length;
  const moves = { ArrowDown: [0, 1], Enter: [0, 1], ArrowUp: [0, -1] };
  if (atStart) moves.ArrowLeft = [-1, 0];
  if (atEnd) moves.ArrowRight = [1, 0];
  const move = moves[event.key];
  if (!move) return;
  event.preventDefault();
  const next = columns[column + move[0]]?.querySelectorAll("input")[row + move[1]];
  if (next) { next.focus(); next.select(); }
});
